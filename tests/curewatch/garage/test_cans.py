"""Cans: what was entered of them comes back, days are the wall calendar's, nothing is lost."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.bench import Bench, Details
from curewatch.errors import QuantityError, SheetError, StepError
from curewatch.garage import cans
from curewatch.garage.cans import CanDetails
from curewatch.products.sheet import Sheet, generic_sheets, parse_sheet
from curewatch.products.shelf_life import Life, days_left, local_day, parse_life
from curewatch.store.store import Store

NOW = datetime(2026, 11, 25, 18, 30, tzinfo=UTC)
VIENNA = ZoneInfo("Europe/Vienna")
PRIMER = "epoxy-primer"
STORED = """
[storage]
temperature = ["5 C", "30 C"]
shelf_life = "12 months"
opened_life = "6 months"
"""


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    store = Store(tmp_path / "curewatch.sqlite")
    yield store
    store.close()


def sheet(extra: str = STORED) -> Sheet:
    """The generic primer with more written under it."""
    return parse_sheet(generic_sheets()[PRIMER].text + extra, PRIMER)


def test_a_can_is_what_was_told_of_it(store: Store) -> None:
    can_details = CanDetails("A-14", "H-3", date(2026, 9, 1), None, date(2027, 3, 31), "shelf")
    can = cans.add(store, PRIMER, can_details, now=NOW, who="me")
    assert (can.id, can.batches, can.stored) == (1, "A-14, hardener H-3", "shelf")
    cans.opened(store, 1, date(2026, 10, 3), now=NOW)
    cans.amend(store, 1, CanDetails(batch="A-15"), now=NOW, why="misread")
    own_can = cans.find_can(store, 1)
    assert (own_can.batch, own_can.hardener_batch, own_can.opened) == (
        "A-15",
        "H-3",
        date(2026, 10, 3),
    )
    assert cans.used_up(store, 1, now=NOW).used_up
    assert not cans.used_up(store, 1, now=NOW, back=True).used_up
    kinds = [entry.kind for entry in store.entries(cans.SUBJECT)]
    assert kinds == ["added", "opened", "amended", "used up", "used up"]
    assert store.entries(cans.SUBJECT)[0].body["batch"] == "A-14"


def test_cans_of_one_product_keep_the_numbers_they_have_among_all(store: Store) -> None:
    cans.add(store, PRIMER, CanDetails(), now=NOW)
    cans.add(store, "seam-sealer", CanDetails(batch="S-1"), now=NOW)
    assert [can.id for can in cans.cans(store, "seam-sealer")] == [2]
    assert [can.id for can in cans.cans(store)] == [1, 2]


@pytest.mark.parametrize(
    ("details", "words"),
    [
        (CanDetails(bought=date(2026, 9, 2), opened=date(2026, 9, 1)), "before bought"),
        (CanDetails(bought=date(2026, 9, 2), expiry=date(2026, 9, 1)), "before bought"),
        (CanDetails(bought=date(2026, 11, 27)), "in the future"),
        (CanDetails(opened=date(2027, 1, 1)), "in the future"),
    ],
)
def test_days_that_cannot_be_are_refused(store: Store, details: CanDetails, words: str) -> None:
    with pytest.raises(StepError, match=words):
        cans.add(store, PRIMER, details, now=NOW)
    assert cans.cans(store) == []


def test_what_cannot_be_is_said_with_its_fix(store: Store) -> None:
    with pytest.raises(StepError, match="no can 7; list them with"):
        cans.opened(store, 7, date(2026, 10, 3), now=NOW)
    with pytest.raises(StepError, match="no product 'nonsense'"):
        cans.add(store, "nonsense", CanDetails(), now=NOW)
    cans.add(store, PRIMER, CanDetails(), now=NOW)
    with pytest.raises(StepError, match="nothing was entered"):
        cans.amend(store, 1, CanDetails(), now=NOW)


def test_last_used_is_the_last_step_of_its_batch_or_number(store: Store) -> None:
    bench = Bench(store)
    cans.add(store, PRIMER, CanDetails(batch="A-14"), now=NOW)
    cans.add(store, PRIMER, CanDetails(batch="B-2"), now=NOW)
    earlier = NOW - timedelta(days=2)
    number = bench.start(PRIMER, now=earlier, details=Details(batch="a-14"))
    assert [can.last_used for can in cans.cans(store)] == [earlier, None]
    bench.amend(number, Details(batch="B-2"), now=NOW)
    assert [can.last_used for can in cans.cans(store)] == [None, earlier]


def test_the_can_in_use_is_the_one_opened_last_or_the_only_one(store: Store) -> None:
    assert cans.in_use(store, PRIMER) is None
    cans.add(store, PRIMER, CanDetails(batch="A"), now=NOW)
    only = cans.in_use(store, PRIMER)
    assert only is not None
    assert only.batch == "A"
    cans.add(store, PRIMER, CanDetails(batch="B"), now=NOW)
    assert cans.in_use(store, PRIMER) is None
    cans.opened(store, 1, date(2026, 11, 1), now=NOW)
    cans.opened(store, 2, date(2026, 11, 20), now=NOW)
    used = cans.in_use(store, PRIMER)
    assert used is not None
    assert used.batch == "B"
    cans.used_up(store, 2, now=NOW)
    left = cans.in_use(store, PRIMER)
    assert left is not None
    assert left.batch == "A"


@pytest.mark.parametrize(
    ("details", "day", "why"),
    [
        (CanDetails(bought=date(2026, 1, 31)), date(2027, 1, 31), "bought"),
        (
            CanDetails(bought=date(2026, 1, 31), expiry=date(2026, 9, 30)),
            date(2026, 9, 30),
            "printed",
        ),
        (CanDetails(bought=date(2026, 1, 31), opened=date(2026, 2, 1)), date(2026, 8, 1), "opened"),
        (CanDetails(opened=date(2026, 8, 31)), date(2027, 2, 28), "opened"),
    ],
)
def test_the_last_day_is_the_earliest_of_what_is_known(
    store: Store, details: CanDetails, day: date, why: str
) -> None:
    use_by = cans.use_by(cans.add(store, PRIMER, details, now=NOW), sheet())
    assert use_by is not None
    assert (use_by.day, use_by.why) == (day, why)


def test_where_nobody_tells_a_day_none_is_invented(store: Store) -> None:
    can = cans.add(store, PRIMER, CanDetails(bought=date(2020, 1, 1)), now=NOW)
    assert cans.use_by(can, sheet("")) is None


@pytest.mark.parametrize(
    ("at", "expired"),
    [
        (datetime(2026, 10, 24, 21, 59, tzinfo=UTC), False),
        (datetime(2026, 10, 24, 22, 1, tzinfo=UTC), False),
        (datetime(2026, 10, 25, 22, 30, tzinfo=UTC), False),
        (datetime(2026, 10, 25, 23, 1, tzinfo=UTC), True),
    ],
)
def test_the_last_day_ends_at_the_wall_s_midnight_also_when_summer_time_ends(
    store: Store, at: datetime, expired: bool
) -> None:
    last = cans.use_by(
        cans.add(store, PRIMER, CanDetails(expiry=date(2026, 10, 25)), now=NOW), sheet()
    )
    assert last is not None
    assert (days_left(last.day, local_day(at, VIENNA)) < 0) is expired


@given(st.dates(date(2000, 1, 1), date(2099, 1, 1)), st.integers(1, 240))
def test_months_lead_to_the_same_day_or_to_the_month_s_last(day: date, months: int) -> None:
    last_day = Life(months=months).after(day)
    assert (last_day.year * 12 + last_day.month) - (day.year * 12 + day.month) == months
    assert last_day.day == day.day or (last_day + timedelta(days=1)).day == 1
    assert days_left(last_day, day) >= 28 * months


@pytest.mark.parametrize("text", ["", "12", "months", "0 months", "-1 month", "9999 years", "1 h"])
def test_a_length_of_keeping_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_life(text)


def test_lengths_of_keeping_are_said_as_they_were_written() -> None:
    assert [str(parse_life(text)) for text in ("12 months", "1 year", "2 weeks", "1 day")] == [
        "12 months", "12 months", "14 days", "1 day",
    ]  # fmt: skip


def test_a_sheet_says_how_it_keeps_and_how_long_metal_may_stand_bare() -> None:
    text = generic_sheets()[PRIMER].text.replace("[hazards]", 'bare_max = "4 h"\n\n[hazards]')
    primer = parse_sheet(text + STORED, PRIMER)
    assert primer.storage.temperature_c == (5.0, 30.0)
    assert (primer.storage.shelf_life, primer.storage.opened_life) == (Life(12), Life(6))
    assert primer.limits.bare_max_min == 240
    assert sheet("").limits.bare_max_min is None


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        ('[storage]\nwarmth = "5 C"\n', "storage.warmth is not a key curewatch knows"),
        ('[storage]\ntemperature = ["30 C", "5 C"]\n', "storage.temperature is not rising"),
        ('[storage]\nshelf_life = "a while"\n', "storage.shelf_life is wrong"),
        ("[storage]\nopened_life = 6\n", "storage.opened_life = 6 has no unit"),
    ],
)
def test_a_wrong_storage_is_named_with_its_key(extra: str, words: str) -> None:
    with pytest.raises(SheetError, match=words):
        sheet(extra)
