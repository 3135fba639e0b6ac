"""How cans keep: days left, how cold they stood, and what to bring indoors tonight."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import make_reading
from curewatch.formats import ReaderFormat
from curewatch.garage import cans, storage
from curewatch.garage.cans import CanDetails
from curewatch.garage.shelf import add_sheet
from curewatch.garage.storage import StoredCan
from curewatch.products.sheet import generic_sheets
from curewatch.store.store import Store

VIENNA = ZoneInfo("Europe/Vienna")
NOW = datetime(2026, 11, 25, 19, 0, tzinfo=UTC)
PRIMER = "epoxy-primer"
SAY = ReaderFormat(VIENNA)
STORED = '[storage]\ntemperature = ["5 C", "30 C"]\nshelf_life = "12 months"\n'


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    store = Store(tmp_path / "curewatch.sqlite")
    yield Bench(store)
    store.close()


def shelf_was(bench: Bench, celsius: dict[float, float]) -> None:
    """The shelf's temperature [C] so many hours ago [h]."""
    readings = [
        make_reading("shelf", "air_temperature", value, NOW - timedelta(hours=ago), "probe")
        for ago, value in celsius.items()
    ]
    bench.store.add_readings(readings)


def own_primer(bench: Bench) -> None:
    """The primer with how it keeps written on its sheet."""
    add_sheet(bench.store, PRIMER, generic_sheets()[PRIMER].text + STORED, NOW)


def only(bench: Bench, now: datetime = NOW) -> StoredCan:
    """How the only can keeps."""
    (can,) = storage.stored_cans(bench.reader, now, VIENNA)
    return can


@pytest.mark.parametrize(
    ("expiry", "words"),
    [
        (date(2026, 11, 24), "past its last day, 24 Nov 2026"),
        (date(2026, 11, 25), "today is its last day"),
        (date(2026, 12, 1), "until 1 Dec 2026 (printed on it): 6 days left"),
        (date(2027, 11, 30), "until 30 Nov 2027 (printed on it)"),
    ],
)
def test_the_last_day_in_words(bench: Bench, expiry: date, words: str) -> None:
    cans.add(bench.store, PRIMER, CanDetails(expiry=expiry), now=NOW)
    assert storage.use_by_words(only(bench)).startswith(words)


def test_days_turn_at_the_wall_s_midnight(bench: Bench) -> None:
    cans.add(bench.store, PRIMER, CanDetails(expiry=date(2026, 11, 25)), now=NOW)
    before = datetime(2026, 11, 25, 22, 59, tzinfo=UTC)
    assert [only(bench, before).days, only(bench, before + timedelta(minutes=2)).days] == [0, -1]


def test_how_cold_and_hot_it_stood_since_it_stands_there(bench: Bench) -> None:
    shelf_was(bench, {100.0: -8.0, 50.0: 1.0, 30.0: 12.0, 10.0: 4.0})
    own_primer(bench)
    cans.add(bench.store, PRIMER, CanDetails(stored="shelf"), now=NOW - timedelta(hours=70))
    can = only(bench)
    assert can.stored is not None
    assert (can.stored.low_c, can.stored.high_c) == (1.0, 12.0)
    assert can.too_cold
    words = storage.stored_words(can, NOW, SAY)
    assert words.startswith("shelf: coldest 1 °C (23 Nov 18:00), warmest 12 °C")
    assert "its label says 5 °C to 30 °C" in words


def test_bought_before_it_was_told_of_it_stood_there_since(bench: Bench) -> None:
    shelf_was(bench, {100.0: -8.0, 10.0: 4.0})
    cans.add(bench.store, PRIMER, CanDetails(stored="shelf", bought=date(2026, 11, 1)), now=NOW)
    can = only(bench)
    assert can.stored is not None
    assert can.stored.low_c == -8.0


def test_moved_it_is_only_followed_at_its_new_place(bench: Bench) -> None:
    shelf_was(bench, {100.0: -8.0, 10.0: 4.0})
    start = NOW - timedelta(hours=150)
    cans.add(bench.store, PRIMER, CanDetails(stored="kitchen", bought=date(2026, 1, 1)), now=start)
    cans.amend(bench.store, 1, CanDetails(stored="shelf"), now=NOW - timedelta(hours=20))
    can = only(bench)
    assert can.stored is not None
    assert can.stored.low_c == 4.0


def test_a_place_without_a_sensor_says_nothing(bench: Bench) -> None:
    cans.add(bench.store, PRIMER, CanDetails(stored="kitchen cupboard"), now=NOW)
    can = only(bench)
    assert (can.stored, can.tonight) == (None, None)
    assert storage.stored_words(can, NOW, SAY) == ""


def cooling(bench: Bench, to_c: float) -> None:
    """Three days on the shelf, cold every night. [C]"""
    readings = []
    for back in range(0, 72 * 2):
        at = NOW - timedelta(minutes=30 * back)
        night = at.hour < 8 or at.hour > 21
        readings.append(
            make_reading("shelf", "air_temperature", to_c if night else 12.0, at, "probe")
        )
    bench.store.add_readings(readings)


def test_a_night_colder_than_the_sheet_keeps_it_says_bring_it_indoors(bench: Bench) -> None:
    cooling(bench, 1.0)
    own_primer(bench)
    cans.add(bench.store, PRIMER, CanDetails(stored="shelf"), now=NOW)
    can = only(bench)
    assert can.tonight is not None
    assert (can.tonight.whose, can.tonight.likely, can.tonight.least_c) == (
        "storage", True, 5.0,
    )  # fmt: skip
    words = storage.tonight_words(can, NOW, SAY)
    assert words.startswith(
        "bring it indoors tonight: shelf falls below the 5 °C it needs for storage"
    )


def test_without_a_storage_the_least_to_apply_it_counts(bench: Bench) -> None:
    cooling(bench, 8.0)
    cans.add(bench.store, PRIMER, CanDetails(stored="shelf"), now=NOW)
    can = only(bench)
    assert can.tonight is not None
    assert (can.tonight.whose, can.tonight.least_c) == ("application", 10.0)


def test_a_mild_night_leaves_it_where_it_is(bench: Bench) -> None:
    cooling(bench, 12.0)
    cans.add(bench.store, PRIMER, CanDetails(stored="shelf"), now=NOW)
    assert only(bench).tonight is None


def test_used_up_it_is_not_carried_anywhere(bench: Bench) -> None:
    cooling(bench, 1.0)
    cans.add(bench.store, PRIMER, CanDetails(stored="shelf"), now=NOW)
    cans.used_up(bench.store, 1, now=NOW)
    assert only(bench).tonight is None


def test_what_runs_out_first_comes_first_and_used_up_last(bench: Bench) -> None:
    for expiry in (date(2027, 5, 1), date(2026, 12, 1), date(2026, 1, 1)):
        cans.add(bench.store, PRIMER, CanDetails(expiry=expiry), now=NOW)
    cans.used_up(bench.store, 3, now=NOW)
    assert [can.can.id for can in storage.stored_cans(bench.reader, NOW, VIENNA)] == [2, 1, 3]


def test_a_mix_takes_the_batch_of_the_can_in_use_unless_told(bench: Bench) -> None:
    cans.add(bench.store, PRIMER, CanDetails("P-7", "H-2", expiry=date(2027, 3, 31)), now=NOW)
    taken = bench.step(bench.start(PRIMER, now=NOW))
    from_can = {"batch": "P-7", "hardener_batch": "H-2", "expiry": "2027-03-31"}
    assert taken.recorded == from_can
    step = bench.step(bench.start(PRIMER, now=NOW, details=Details(batch="other")))
    assert step.recorded == {"batch": "other"}
    assert cans.find_can(bench.store, 1).last_used == NOW


def test_the_can_in_use_is_marked(bench: Bench) -> None:
    cans.add(bench.store, PRIMER, CanDetails("A", opened=date(2026, 9, 1)), now=NOW)
    cans.add(bench.store, PRIMER, CanDetails("B"), now=NOW)
    cans.add(bench.store, "seam-sealer", CanDetails("S"), now=NOW)
    marked = [can.can.batch for can in storage.stored_cans(bench.reader, NOW, VIENNA) if can.in_use]
    assert sorted(marked) == ["A", "S"]
