"""Wall-clock times as people type them, to instants: across midnight and summer time."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from curewatch.errors import ConfigError

FIX = "write it like '22:00' or '2026-11-25T22:00:00+01:00'"
LOOKED_BACK = timedelta(hours=18)


def next_time(text: str, now: datetime, zone: ZoneInfo) -> datetime:
    """The next instant at which the wall clock shows 22:00, or the instant of an RFC 3339 text."""
    try:
        wall = time.fromisoformat(text.strip())
    except ValueError:
        return _instant(text)
    if wall.tzinfo is not None:
        raise ConfigError(f"{text[:40]!r} has a zone but no day", fix=FIX)
    today = now.astimezone(zone).date()
    return next(at for day in (0, 1, 2) if (at := _wall(today, day, wall, zone)) > now)


def last_time(text: str, now: datetime, zone: ZoneInfo) -> datetime:
    """The last instant at which the wall clock showed 18:00, or the instant of an RFC 3339 text."""
    try:
        wall = time.fromisoformat(text.strip())
    except ValueError:
        return _instant(text)
    if wall.tzinfo is not None:
        raise ConfigError(f"{text[:40]!r} has a zone but no day", fix=FIX)
    today = now.astimezone(zone).date()
    return next(at for day in (0, -1, -2) if (at := _wall(today, day, wall, zone)) <= now)


def near_time(text: str, now: datetime, zone: ZoneInfo) -> datetime:
    """When the wall clock shows 19:00, from 18 h ago to 6 h ahead, or the instant of RFC 3339.

    What is told in the morning was last night; what is told in the afternoon is tonight.
    """
    return next_time(text, now - LOOKED_BACK, zone)


def _instant(text: str) -> datetime:
    try:
        found = datetime.fromisoformat(text.strip())
    except ValueError:
        raise ConfigError(f"{text[:40]!r} is no time of day", fix=FIX) from None
    if found.tzinfo is None:
        raise ConfigError(f"{text[:40]!r} has no zone", fix=FIX)
    try:
        return found.astimezone(UTC)
    except OverflowError:
        raise ConfigError(f"{text[:40]!r} is out of all time", fix=FIX) from None


def _wall(today: date, days: int, wall: time, zone: ZoneInfo) -> datetime:
    day = today + timedelta(days=days)
    return datetime.combine(day, wall, tzinfo=zone).astimezone(UTC)
