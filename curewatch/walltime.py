"""Wall-clock times as people type them, to instants and back: across midnight and summer time,
in the zone whose clock the user reads; and instants as whole milliseconds, as the file holds them.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from curewatch.days import Order, parse_day, usual_order
from curewatch.errors import ConfigError, StepError


def to_ms(at: datetime) -> int:
    """An aware instant as whole milliseconds since 1970. [ms]"""
    return round(at.timestamp() * 1000)


def from_ms(ms: int) -> datetime:
    """The UTC instant of milliseconds since 1970 [ms]."""
    return datetime.fromtimestamp(ms / 1000, UTC)


FUTURE_GRACE = timedelta(minutes=1)
OLDEST = timedelta(days=7)

WITH_ZONE = "2026-11-25T22:00:00+01:00"
FIX = "write it like '22:00' or '25 Nov 2026 22:00'"
LOOKED_BACK = timedelta(hours=18)
_HALF_DAY = re.compile(r"(1[0-2]|0?[1-9])(?::([0-5]\d))?\s*([ap])m")
_DATED = re.compile(
    r"(.*?\d)(?:, ?| |T)(\d{1,2}(?::\d\d)?(?: ?[ap]\.?m\.?)?)", re.ASCII | re.IGNORECASE
)
NIGHT_ENDS = timedelta(hours=4)


def instant_of(day: date, clock: time, zone: ZoneInfo) -> datetime:
    """The instant at which the clock on the wall shows that time on that day."""
    return datetime.combine(day, clock, tzinfo=zone).astimezone(UTC)


def evening_of(at: datetime, zone: ZoneInfo) -> date:
    """The evening an instant belongs to: until four it is still the day before's."""
    local = at.astimezone(zone).replace(tzinfo=None)
    return (local - NIGHT_ENDS).date()


def day_start(day: date, zone: ZoneInfo, later: int = 0) -> datetime:
    """When a day begins, or the one so many days later. [days]"""
    return instant_of(day + timedelta(days=later), time(), zone)


def next_time(text: str, now: datetime, zone: ZoneInfo, order: Order | None = None) -> datetime:
    """The next instant at which the wall clock shows 22:00, or that of a date with a time.

    order: which comes first in a date like 03/04/2026, day or month; None where not known.
    """
    clock = _clock(text)
    if clock is None:
        return _instant(text, zone, order)
    return min(at for at in _shown(clock, now, zone) if at > now)


def last_time(text: str, now: datetime, zone: ZoneInfo, order: Order | None = None) -> datetime:
    """The last instant at which the wall clock showed 18:00, or that of a date with a time.

    order: as in `next_time`.
    """
    clock = _clock(text)
    if clock is None:
        return _instant(text, zone, order)
    return max(at for at in _shown(clock, now, zone) if at <= now)


def near_time(text: str, now: datetime, zone: ZoneInfo, order: Order | None = None) -> datetime:
    """When the wall clock shows 19:00, from 18 h ago to 6 h ahead, or a date with a time.

    What is told in the morning was last night; what is told in the afternoon is tonight.
    order: as in `next_time`.
    """
    return next_time(text, now - LOOKED_BACK, zone, order)


def is_clock(text: str) -> bool:
    """Whether a text is a time of day, not an instant."""
    return _clock(text) is not None


def _instant(text: str, zone: ZoneInfo, order: Order | None) -> datetime:
    """The instant of a date with a time, on the wall clock where it names no zone."""
    shown = text[:40]
    try:
        found = datetime.fromisoformat(text.strip())
    except ValueError:
        found = _dated(text, order)
    if found.tzinfo is None and comes_twice(found.replace(tzinfo=zone)):
        raise ConfigError(f"{shown!r} comes twice that night", fix=f"name its offset: {WITH_ZONE}")
    try:
        return found.replace(tzinfo=found.tzinfo or zone).astimezone(UTC)
    except OverflowError:
        raise ConfigError(f"{shown!r} is out of all time", fix=FIX) from None


def _dated(text: str, order: Order | None) -> datetime:
    """The date and time of the wall clock in a text like '24.12.2025 22:00'."""
    match = _DATED.fullmatch(text.strip())
    clock = _clock(match[2]) if match else None
    if match is None or clock is None:
        raise ConfigError(f"{text[:40]!r} is no time of day", fix=FIX)
    return datetime.combine(parse_day(match[1], order), clock)


def _clock(text: str) -> time | None:
    """The time of day that a text names; None where it may be an instant."""
    if half := _HALF_DAY.fullmatch(text.strip().lower().replace(".", "")):
        return time(int(half[1]) % 12 + (12 if half[3] == "p" else 0), int(half[2] or 0))
    try:
        clock = time.fromisoformat(text.strip().rjust(5, "0") if ":" in text else text.strip())
    except ValueError:
        return None
    if clock.tzinfo is not None:
        raise ConfigError(f"{text[:40]!r} has a zone but no day", fix=FIX)
    return clock


def _shown(clock: time, now: datetime, zone: ZoneInfo) -> Iterator[datetime]:
    """When the wall clock shows a time on the days around: twice where it is put back over it."""
    today = now.astimezone(zone).date()
    for days in range(-2, 3):
        day = today + timedelta(days=days)
        first, again = (instant_of(day, clock.replace(fold=fold), zone) for fold in (0, 1))
        yield first
        if again > first:
            yield again


def comes_twice(local: datetime) -> bool:
    """Whether a wall-clock time comes twice that day, as in the hour after summer time ends.

    >>> from zoneinfo import ZoneInfo
    >>> comes_twice(datetime(2026, 10, 25, 2, 30, tzinfo=ZoneInfo("Europe/Berlin")))
    True
    """
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def date_and_time(at: datetime, zone: ZoneInfo) -> str:
    """An instant on the wall with its date, and in an hour that comes twice with its zone.

    >>> from zoneinfo import ZoneInfo
    >>> date_and_time(datetime(2026, 10, 25, 1, 30, tzinfo=UTC), ZoneInfo("Europe/Berlin"))
    '2026-10-25 02:30 CET'
    """
    local = at.astimezone(zone)
    return f"{local:%Y-%m-%d %H:%M}{f' {local:%Z}' if comes_twice(local) else ''}"


def stamp(at: datetime | None) -> str | None:
    """An instant as RFC 3339 in UTC, to the second."""
    return None if at is None else at.strftime("%Y-%m-%dT%H:%M:%SZ")


def check_time(at: datetime, now: datetime, what: str) -> datetime:
    """An instant neither in the future nor more than a week ago."""
    if at > now + FUTURE_GRACE:
        raise StepError(f"{what} lies in the future", fix="say how long ago it was, like '3 min'")
    if at < now - OLDEST:
        raise StepError(f"{what} was more than a week ago", fix="check how long ago it was")
    return min(at, now)


_LINK = Path("/etc/localtime")


def local_zone(named: str | None) -> ZoneInfo:
    """The named zone, else the machine's own, else UTC."""
    for name in (named, os.environ.get("TZ", "").lstrip(":"), _linked()):
        if not name:
            continue
        try:
            return ZoneInfo(name)
        except (ZoneInfoNotFoundError, ValueError):
            continue
    return ZoneInfo("UTC")


def local_order() -> Order | None:
    """Which comes first in a date, day or month, by the locale of this process; None: not known."""
    names = (os.environ.get(name) for name in ("LC_ALL", "LC_TIME", "LANG"))
    return usual_order(next(filter(None, names), ""))


def _linked() -> str:
    """The zone's name in the target of /etc/localtime, as Debian, Fedora and macOS keep it."""
    try:
        target = str(_LINK.resolve())
    except OSError:
        return ""
    return target.partition("/zoneinfo/")[2]
