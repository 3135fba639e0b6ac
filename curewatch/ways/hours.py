"""When somebody is there and when it may be loud: a week as people write it, to spells of time."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from curewatch.errors import ConfigError
from curewatch.frozen import frozen
from curewatch.walltime import clock_time, instant_of

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
FIX = "write it like 'Mon-Fri 18:00-22:30, Sat 9-18'"
MIDNIGHT = timedelta(days=1)
_ITEM = re.compile(
    r"(?P<first>[a-z]+)(?:\s*-\s*(?P<last>[a-z]+))?\s+(?P<start>[^-–]+?)\s*[-–]\s*(?P<end>[^-–]+)",
    re.IGNORECASE,
)


@frozen
class DaySpell:
    """From when to when on a day; an end of midnight is the day's end."""

    start: time
    end: time


@frozen
class Hours:
    """The spells of each weekday, Monday first; loud_until: until when it may be loud, None where
    always; exceptions: days that are otherwise, empty where nobody is there."""

    week: tuple[tuple[DaySpell, ...], ...]
    loud_until: time | None = None
    exceptions: Mapping[date, tuple[DaySpell, ...]] = field(default_factory=dict)


@frozen
class Spell:
    """Somebody is there from start to end; loud_end: until when it may be loud."""

    start: datetime
    end: datetime
    loud_end: datetime


def _day(text: str, whole: str) -> int:
    name = text.casefold()[:3]
    if name not in DAYS:
        raise ConfigError(f"{text[:20]!r} in {whole[:60]!r} is not a day", fix=FIX)
    return DAYS.index(name)


def day_spell(start: str, end: str) -> DaySpell:
    """From when to when, as typed. Raises ConfigError."""
    first, last = clock_time(start), clock_time(end)
    if last != time() and last <= first:
        raise ConfigError(f"{start.strip()} to {end.strip()} ends before it begins", fix=FIX)
    return DaySpell(first, last)


def _item(text: str) -> tuple[list[int], DaySpell]:
    match = _ITEM.fullmatch(text.strip())
    if match is None:
        raise ConfigError(f"{text.strip()[:60]!r} names no day with hours", fix=FIX)
    spell = day_spell(match["start"], match["end"])
    if match["first"].casefold() == "daily":
        return list(range(7)), spell
    first = _day(match["first"], text)
    last = first if match["last"] is None else _day(match["last"], text)
    return [(first + more) % 7 for more in range((last - first) % 7 + 1)], spell


def parse_week(text: str) -> tuple[tuple[DaySpell, ...], ...]:
    """The spells of each weekday, Monday first, from a text like 'Mon-Fri 18:00-22:30, Sat 9-18'.

    Raises ConfigError.

    >>> [len(day) for day in parse_week("Mon-Fri 18-22, Sat 9-12, Sat 13-18")]
    [1, 1, 1, 1, 1, 2, 0]
    """
    days: list[list[DaySpell]] = [[] for _ in DAYS]
    for item in text.split(","):
        for day in (named := _item(item))[0]:
            days[day].append(named[1])
    return tuple(tuple(sorted(day, key=lambda spell: spell.start)) for day in days)


def _instant(day: date, clock: time, zone: ZoneInfo, *, ends: bool) -> datetime:
    later = MIDNIGHT if ends and clock == time() else timedelta()
    return instant_of(day + later, clock, zone)


def spells(hours: Hours, now: datetime, until: datetime, zone: ZoneInfo) -> list[Spell]:
    """When somebody is there from now until an instant, in order."""
    return [spell for spell in _spells(hours, now, until, zone) if spell.start < spell.end]


def _spells(hours: Hours, now: datetime, until: datetime, zone: ZoneInfo) -> Iterator[Spell]:
    day, last = now.astimezone(zone).date(), until.astimezone(zone).date()
    while day <= last:
        usual: Sequence[DaySpell] = hours.week[day.weekday()]
        for spell in hours.exceptions.get(day, tuple(usual)):
            start = max(now, _instant(day, spell.start, zone, ends=False))
            end = min(until, _instant(day, spell.end, zone, ends=True))
            loud = hours.loud_until
            quiet = end if loud is None else _instant(day, loud, zone, ends=True)
            yield Spell(start, end, min(end, quiet))
        day += timedelta(days=1)
