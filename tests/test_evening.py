"""An evening: its stopping time, and the one question at its end, asked once."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from freezegun import freeze_time
from hypothesis import given
from hypothesis import strategies as st

from curewatch import cans, evening, parts
from curewatch.bench import Bench, Details
from curewatch.cans import Told
from curewatch.errors import ConfigError, StepError
from curewatch.evening import Worked, asks_now, evening_of, set_stop, stop_of
from curewatch.evening_desk import answer, indoors, question
from curewatch.reading import make_reading
from curewatch.store import Store
from curewatch.view import Desk
from curewatch.wall import last_time

VIENNA = ZoneInfo("Europe/Vienna")
NOON = datetime(2026, 11, 25, 11, 0, tzinfo=UTC)
DONE, SETTLED, NOTHING = Worked(True, False), Worked(True, True), Worked(False, False)


def local(hour: int, minute: int = 0, day: int = 25) -> datetime:
    """A time on the wall of that November."""
    return datetime(2026, 11, day, hour, minute, tzinfo=VIENNA)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    store = Store(tmp_path / "curewatch.sqlite")
    yield Bench(store, Desk(store))
    store.close()


def test_an_evening_lasts_past_midnight_until_four() -> None:
    with freeze_time("2026-10-25 01:30:00"):
        assert evening_of(datetime.now(UTC), VIENNA) == date(2026, 10, 24)
    assert evening_of(local(3, 59, 26), VIENNA) == date(2026, 11, 25)
    assert evening_of(local(4, 0, 26), VIENNA) == date(2026, 11, 26)


def test_the_stopping_time_holds_for_its_evening_and_the_last_told_counts(bench: Bench) -> None:
    assert stop_of(bench.store, local(18), VIENNA) is None
    set_stop(bench.store, local(22), now=local(18), zone=VIENNA)
    set_stop(bench.store, local(23, 30), now=local(20), zone=VIENNA)
    assert stop_of(bench.store, local(1, 0, 26), VIENNA) == local(23, 30)
    assert stop_of(bench.store, local(18, 0, 26), VIENNA) is None
    assert len(bench.store.entries(evening.SUBJECT)) == 2


@pytest.mark.parametrize("stop", [local(17), local(18, 0, 27)])
def test_a_stopping_time_that_cannot_be_is_refused(bench: Bench, stop: datetime) -> None:
    with pytest.raises(StepError, match="within a day"):
        set_stop(bench.store, stop, now=local(18), zone=VIENNA)


@pytest.mark.parametrize(
    ("found", "now", "stop", "asks"),
    [
        (NOTHING, local(22), None, False),
        (NOTHING, local(22), local(22, 10), False),
        (DONE, local(20), None, False),
        (DONE, local(21), None, True),
        (DONE, local(1, 30, 26), None, True),
        (SETTLED, local(19), None, True),
        (SETTLED, local(10), None, False),
        (DONE, local(19, 29), local(20), False),
        (DONE, local(19, 31), local(20), True),
    ],
)
def test_when_it_asks(found: Worked, now: datetime, stop: datetime | None, asks: bool) -> None:
    assert asks_now(found, now, VIENNA, stop) is asks


def test_it_asks_after_the_last_mix_is_used_up_and_not_again_that_evening(bench: Bench) -> None:
    begun = local(18)
    bench.start("fibre-polyester-filler", now=begun, details=Details(part="rib"))
    assert not question(bench, begun, VIENNA).asks
    later = begun + timedelta(hours=2)
    assert question(bench, later, VIENNA).asks
    answer(bench, "as listed", now=later, zone=VIENNA)
    assert not question(bench, local(23), VIENNA).asks
    assert not question(bench, local(23, 0, 26), VIENNA).asks


def test_it_asks_again_the_next_evening_that_something_is_done(bench: Bench) -> None:
    parts.bared(bench.store, "rib", "", now=local(18))
    assert question(bench, local(21, 30), VIENNA).asks
    answer(bench, "as listed", now=local(21, 30), zone=VIENNA)
    parts.mark(bench.store, "rib", "", "body", now=local(19, 0, 26))
    found = question(bench, local(21, 30, 26), VIENNA)
    assert found.asks
    assert [each.name for each in found.bare] == ["rib"]


def test_none_bare_stops_every_clock(bench: Bench) -> None:
    parts.bared(bench.store, "rib", "corner", now=local(18))
    parts.bared(bench.store, "sill", "corner", now=local(19))
    answer(bench, "none", now=local(21), zone=VIENNA)
    assert question(bench, local(22), VIENNA).bare == ()


def test_an_answer_that_is_none_is_refused(bench: Bench) -> None:
    with pytest.raises(StepError, match="use none or as listed"):
        answer(bench, "perhaps", now=local(21), zone=VIENNA)


@pytest.mark.parametrize(
    ("text", "now", "found"),
    [
        ("18:00", local(20), local(18)),
        ("18:00", local(1, 0, 26), local(18)),
        ("18:00", local(18), local(18)),
        ("2026-11-25T18:00:00+01:00", local(20), local(18)),
    ],
)
def test_since_is_the_last_time_the_wall_showed_it(
    text: str, now: datetime, found: datetime
) -> None:
    assert last_time(text, now, VIENNA) == found


@pytest.mark.parametrize("text", ["", "soon", "25:00", "18:00+01:00", "2026-11-25T18:00:00"])
def test_a_text_that_is_no_time_is_refused(text: str) -> None:
    with pytest.raises(ConfigError):
        last_time(text, NOON, VIENNA)


@given(st.integers(0, 300 * 1440), st.times())
def test_the_last_time_is_past_and_within_two_days(minute: int, clock: object) -> None:
    now = datetime(2026, 2, 1, tzinfo=UTC) + timedelta(minutes=minute)
    found = last_time(f"{clock:%H:%M}", now, VIENNA)
    assert timedelta(0) <= now - found <= timedelta(hours=26)


def test_in_the_evening_cans_are_brought_indoors_before_a_cold_night(bench: Bench) -> None:
    told = [
        make_reading("shelf", "air_temperature", 6.0, local(17) - timedelta(hours=back), "probe")
        for back in range(60)
    ]
    bench.store.add_readings(told)
    cans.add(bench.store, "epoxy-primer", Told(stored="shelf"), now=local(12))
    assert indoors(bench, local(16, 59), VIENNA) == []
    (found,) = indoors(bench, local(17), VIENNA)
    assert found.can.id == 1
