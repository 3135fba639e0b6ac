"""Times of day as a reader sees them where the wall's clock is set back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from curewatch.formats import ReaderFormat
from curewatch.logbook.paper import FieldFormatter
from curewatch.walltime import next_time

BERLIN = ZoneInfo("Europe/Berlin")
# On 25 October 2026 summer time ends at 01:00 UTC (Directive 2000/84/EC, article 3).
FIRST = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("hours_on", "shown"), [(-1, "01:30"), (0, "02:30 CEST"), (1, "02:30 CET"), (2, "03:30")]
)
def test_the_zone_stands_with_a_time_that_comes_twice(hours_on: int, shown: str) -> None:
    at = FIRST + timedelta(hours=hours_on)
    assert ReaderFormat(BERLIN).clock(at) == shown
    assert ReaderFormat(BERLIN).moment(at, FIRST) == shown
    assert FieldFormatter(BERLIN, ReaderFormat(BERLIN)).stamp(at) == f"2026-10-25 {shown}"


def test_in_spring_and_in_utc_no_time_comes_twice() -> None:
    spring = datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert ReaderFormat(BERLIN).clock(spring) == "03:30"
    assert ReaderFormat(ZoneInfo("UTC")).clock(FIRST) == "00:30"


def test_the_zone_stands_behind_am_and_pm() -> None:
    assert ReaderFormat(BERLIN, hours=12).clock(FIRST) == "2:30 am CEST"


@pytest.mark.parametrize("hours", [24, 12])
def test_a_time_in_a_form_can_be_sent_back_as_it_stands(hours: int) -> None:
    shown = ReaderFormat(BERLIN, hours=hours).time_of_day(FIRST)
    assert next_time(shown, FIRST - timedelta(minutes=1), BERLIN) == FIRST
