"""Times of day as people type them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from curewatch.errors import ConfigError, CurewatchError
from curewatch.formats import ReaderFormat
from curewatch.walltime import last_time, near_time, next_time

NOW = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")


@pytest.mark.parametrize(
    "text",
    [
        "22:30",
        "10:30 PM",
        "10:30pm",
        "10:30 p.m.",
        " 10:30 pm ",
        "22.30",
        "2230",
        "22h30",
        "10.30 pm",
        "22:30 h",
        "22:30:00",
    ],
)
def test_a_time_of_day_is_taken_by_either_clock(text: str) -> None:
    assert next_time(text, NOW, BERLIN) == datetime(2026, 11, 14, 21, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "hour"),
    [
        ("9 pm", 20),
        ("9pm", 20),
        ("12 am", 23),
        ("11 PM", 22),
        ("21", 20),
        ("21 h", 20),
        ("midnight", 23),
        ("24:00", 23),
    ],
)
def test_a_full_hour_needs_no_minutes(text: str, hour: int) -> None:
    assert next_time(text, NOW, BERLIN) == datetime(2026, 11, 14, hour, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    "text", ["13 pm", "9 p", "0 am", "10:75 pm", "late", "22.75", "22,30", "2260", "25:00"]
)
def test_what_is_no_time_of_day_is_refused(text: str) -> None:
    with pytest.raises(ConfigError, match="not a time of day"):
        next_time(text, NOW, BERLIN)


@pytest.mark.parametrize(
    "text",
    ["3 Nov 2026 22:30", "2026-11-03T22:30", "3.11.2026, 10:30 pm", "11/3/2026 22:30",
     "2026-11-03 22:30:00", "2026-11-03T21:30:00Z"],
)  # fmt: skip
def test_a_date_with_a_time_is_taken_on_the_wall_clock(text: str) -> None:
    at = datetime(2026, 11, 3, 21, 30, tzinfo=UTC)
    for read in (next_time, last_time, near_time):
        assert read(text, NOW, BERLIN, "mdy") == at


@pytest.mark.parametrize("text", ["11/3/2026 22:30", "31.11.2026 22:30", "3 Nov 2026 25:00"])
def test_a_date_with_a_time_that_may_be_two_or_none_is_refused(text: str) -> None:
    with pytest.raises(CurewatchError, match="write it like"):
        last_time(text, NOW, BERLIN)


def test_a_time_of_the_hour_that_comes_twice_needs_its_offset() -> None:
    with pytest.raises(ConfigError, match="comes twice"):
        last_time("25 Oct 2026 02:30", NOW, BERLIN)
    moment = last_time("2026-10-25T02:30:00+01:00", NOW, BERLIN)
    assert moment == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


def test_a_time_of_the_hour_that_comes_twice_is_told_by_its_zone_as_it_is_said() -> None:
    first = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    for at in (first, first + timedelta(hours=1)):
        text = ReaderFormat(BERLIN).clock(at)
        assert last_time(text, first + timedelta(hours=9), BERLIN) == at
        assert next_time(text, first - timedelta(hours=9), BERLIN) == at
    with pytest.raises(ConfigError, match="does not show"):
        next_time("02:30 PST", first, BERLIN)


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("tomorrow 9 am", datetime(2026, 11, 15, 8, 0, tzinfo=UTC)),
        ("tonight at 10:30 pm", datetime(2026, 11, 14, 21, 30, tzinfo=UTC)),
        ("Sun 12:00", datetime(2026, 11, 15, 11, 0, tzinfo=UTC)),
        ("friday noon", datetime(2026, 11, 20, 11, 0, tzinfo=UTC)),
        ("Sat 10:00", datetime(2026, 11, 21, 9, 0, tzinfo=UTC)),
    ],
)
def test_a_day_may_be_named_before_the_time(text: str, at: datetime) -> None:
    assert next_time(text, datetime(2026, 11, 14, 17, 0, tzinfo=UTC), BERLIN) == at


@pytest.mark.parametrize("text", ["tomorrow", "someday 10:00", "today 06:00", "sat late"])
def test_a_named_day_without_a_time_to_come_is_refused(text: str) -> None:
    with pytest.raises(ConfigError):
        next_time(text, datetime(2026, 11, 14, 17, 0, tzinfo=UTC), BERLIN)


@pytest.mark.parametrize(
    "text", ["24 Nov 12:00", "Tue 24 Nov 12:00", "24.11. 12:00", "24 November, 12.00"]
)
def test_a_day_without_its_year_is_read_as_pages_write_it(text: str) -> None:
    now = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
    assert next_time(text, now, BERLIN) == datetime(2026, 11, 24, 11, 0, tzinfo=UTC)
    assert next_time("3 Jan 9:00", now, BERLIN) == datetime(2027, 1, 3, 8, 0, tzinfo=UTC)


@pytest.mark.parametrize("text", ["14 Nov 12:00", "31 Nov 12:00", "1 Oct 12:00", "24 Foo 12:00"])
def test_a_day_without_its_year_that_is_past_or_none_is_refused(text: str) -> None:
    with pytest.raises(ConfigError, match="does not show"):
        next_time(text, datetime(2026, 11, 14, 17, 0, tzinfo=UTC), BERLIN)
