"""When somebody is there, as people write it."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from curewatch.errors import ConfigError
from curewatch.ways.hours import DaySpell, Hours, parse_week, spells

BERLIN = ZoneInfo("Europe/Berlin")
SATURDAY = datetime(2026, 10, 24, 10, 0, tzinfo=BERLIN).astimezone(UTC)


def test_a_week_is_read_as_people_write_it() -> None:
    week = parse_week("Mon-Fri 18:00-22:30, Sat 9 am - 6 pm, sunday 10-12, Sun 13-16")
    assert week[0] == week[4] == (DaySpell(time(18), time(22, 30)),)
    assert week[5] == (DaySpell(time(9), time(18)),)
    assert [spell.start.hour for spell in week[6]] == [10, 13]
    assert parse_week("Fri-Mon 9-12")[5] == parse_week("daily 9-12")[2]
    assert parse_week("Sat 18-midnight")[5] == (DaySpell(time(18), time()),)


@pytest.mark.parametrize(
    "text", ["whenever", "", "Mon", "Foo 9-12", "Mon 22-18", "Mon 9-25", "Mon-Xyz 9-12", "9-12"]
)
def test_what_is_no_week_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(ConfigError):
        parse_week(text)


def test_spells_follow_the_wall_clock_through_the_night_it_is_put_back() -> None:
    hours = Hours(parse_week("daily 18-22"), loud_until=time(20))
    spells_there = spells(hours, SATURDAY, SATURDAY + timedelta(days=2), BERLIN)
    assert [spell.start.astimezone(BERLIN).hour for spell in spells_there] == [18, 18]
    assert spells_there[1].start - spells_there[0].start == timedelta(hours=25)
    assert spells_there[0].loud_end - spells_there[0].start == timedelta(hours=2)


def test_now_cuts_what_is_over_and_an_exception_stands_for_its_day() -> None:
    hours = Hours(
        parse_week("Sat 9-18, Sun 9-18"),
        exceptions={date(2026, 10, 25): (DaySpell(time(9), time(11)),)},
    )
    today, tomorrow = spells(hours, SATURDAY, SATURDAY + timedelta(days=2), BERLIN)
    assert today.start == SATURDAY
    assert tomorrow.end - tomorrow.start == timedelta(hours=2)
    nobody = Hours(parse_week("Sat 9-18"), exceptions={date(2026, 10, 24): ()})
    assert spells(nobody, SATURDAY, SATURDAY + timedelta(days=1), BERLIN) == []
