"""Wall-clock times as people type them, to instants and back: across midnight and summer time,
in the zone whose clock the user reads; and instants as whole milliseconds, as the file holds them.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from curewatch.errors import ConfigError, QuantityError, StepError

if TYPE_CHECKING:
    from curewatch.days import Order


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
LOOKED_BACK, HALF_A_YEAR = timedelta(hours=18), timedelta(days=183)
_CLOCK = re.compile(
    r"(?P<hour>\d{1,2})(?:[:.h](?P<minute>[0-5]\d)(?::(?P<second>[0-5]\d))?)?"
    r"(?:\s*(?P<half>[aApP])\.?[mM]\.?|\s*h)?(?:\s+(?P<zone>[A-Z]{2,5}|[+-]\d{2,4}))?",
    re.ASCII,
)
_FOUR_DIGITS = re.compile(r"(\d\d)(\d\d)", re.ASCII)
_NAMED = {"noon": "12:00", "midday": "12:00", "midnight": "00:00", "24:00": "00:00"}
_DATED = re.compile(
    r"(.*?\d)(?:, ?| |T)(\d{1,2}(?::\d\d)?(?: ?[ap]\.?m\.?)?)", re.ASCII | re.IGNORECASE
)
_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_DAYS_ON = {"today": 0, "tonight": 0, "tomorrow": 1}
_DAY_NAMED = re.compile(
    r"(?P<day>today|tonight|tomorrow|mon(day)?|tue(s|sday)?|wed(nesday)?|thu(rs|rsday)?|fri(day)?"
    r"|sat(urday)?|sun(day)?),? (at )?(?P<clock>.+)",
    re.ASCII | re.IGNORECASE,
)
_NO_YEAR = re.compile(
    r"(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*,? )?"
    r"(?P<day>\d{1,2}\.? ?[a-z]{3,9}|\d{1,2}\.\d{1,2}\.),? (?:at )?(?P<clock>.+)",
    re.ASCII | re.IGNORECASE,
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
    """The next instant at which the wall clock shows 22:00, also of a named day, like 'tomorrow
    9 am' or 'Sat 12:00', or of a date without its year; or that of a date with a time.

    order: which comes first in a date like 03/04/2026, day or month; None where not known.
    """
    dated = _NO_YEAR.fullmatch(text.strip())
    if dated is not None and (there := _clock(dated["clock"])) is not None:
        ahead = _shown(there, _days_dated(dated["day"], now.astimezone(zone)), zone)
        return _first((at for at in ahead if now < at < now + HALF_A_YEAR), text)
    return _next_time(text, now, zone, order)


def _next_time(text: str, now: datetime, zone: ZoneInfo, order: Order | None) -> datetime:
    """The next instant of a time of day or a named day; or that of a date with its year."""
    clock, named = _clock(text), _DAY_NAMED.fullmatch(text.strip())
    if named is not None and (there := _clock(named["clock"])) is not None:
        days = _days_named(named["day"].lower(), now, zone)
        return _first((at for at in _shown(there, days, zone) if at > now), text)
    if clock is None:
        return _instant(text, zone, order)
    return _first((at for at in _shown(clock, _days_around(now, zone), zone) if at > now), text)


def last_time(text: str, now: datetime, zone: ZoneInfo, order: Order | None = None) -> datetime:
    """The last instant at which the wall clock showed 18:00, or that of a date with a time.

    order: as in `next_time`.
    """
    clock = _clock(text)
    if clock is None:
        return _instant(text, zone, order)
    instants = reversed(list(_shown(clock, _days_around(now, zone), zone)))
    return _first((at for at in instants if at <= now), text)


def near_time(text: str, now: datetime, zone: ZoneInfo, order: Order | None = None) -> datetime:
    """When the wall clock shows 19:00, from 18 h ago to 6 h ahead, or a date with a time.

    A time entered in the morning was last night; one entered in the afternoon is tonight.
    order: as in `next_time`.
    """
    return _next_time(text, now - LOOKED_BACK, zone, order)


def _first(instants: Iterator[datetime], text: str) -> datetime:
    instant = next(instants, None)
    if instant is None:
        raise ConfigError(f"the clock does not show {text[:40]!r} these days", fix=FIX)
    return instant


def clock_time(text: str) -> time:
    """The time of day that a text names. Raises ConfigError."""
    clock = _clock(text)
    if clock is None:
        raise ConfigError(f"{text[:40]!r} is not a time of day", fix="write it like '22:00'")
    return clock.time


def is_clock(text: str) -> bool:
    """Whether a text is a time of day, not an instant."""
    return _clock(text) is not None


def _instant(text: str, zone: ZoneInfo, order: Order | None) -> datetime:
    """The instant of a date with a time, on the wall clock where it names no zone."""
    excerpt = text[:40]
    try:
        instant = datetime.fromisoformat(text.strip())
    except ValueError:
        instant = _dated(text, order)
    if instant.tzinfo is None and comes_twice(instant.replace(tzinfo=zone)):
        raise ConfigError(
            f"{excerpt!r} comes twice that night", fix=f"name its offset: {WITH_ZONE}"
        )
    try:
        return instant.replace(tzinfo=instant.tzinfo or zone).astimezone(UTC)
    except OverflowError:
        raise ConfigError(f"{excerpt!r} is out of all time", fix=FIX) from None


def _dated(text: str, order: Order | None) -> datetime:
    """The date and time of the wall clock in a text like '24.12.2025 22:00'."""
    match = _DATED.fullmatch(text.strip())
    clock = _clock(match[2]) if match else None
    if match is None or clock is None:
        raise ConfigError(f"{text[:40]!r} is not a time of day", fix=FIX)
    from curewatch.days import parse_day

    return datetime.combine(parse_day(match[1], order), clock.time)


class Clock(NamedTuple):
    """A time of day as typed, with the zone's name that may stand behind it in autumn."""

    time: time
    zone: str = ""


def _clock(text: str) -> Clock | None:
    """The time of day that a text names; None where it may be an instant.

    >>> _clock("22.30"), _clock("10:30 p.m."), _clock("2230"), _clock("02:30 CET")[1]
    (Clock(time=datetime.time(22, 30), zone=''), Clock(time=datetime.time(22, 30), zone=''), \
Clock(time=datetime.time(22, 30), zone=''), 'CET')
    """
    plain = text.strip()
    plain = _NAMED.get(
        plain.lower(), _FOUR_DIGITS.sub(r"\1:\2", plain) if len(plain) == 4 else plain
    )
    match = _CLOCK.fullmatch(plain)
    if match is None:
        return None
    hour, half = int(match["hour"]), (match["half"] or "").lower()
    if half and not 1 <= hour <= 12:
        return None
    hour = hour % 12 + (12 if half == "p" else 0) if half else hour
    if hour > 23:
        return None
    wall = time(hour, int(match["minute"] or 0), int(match["second"] or 0))
    return Clock(wall, match["zone"] or "")


def _days_around(now: datetime, zone: ZoneInfo) -> list[date]:
    today = now.astimezone(zone).date()
    return [today + timedelta(days=days) for days in range(-2, 3)]


def _days_dated(text: str, now: datetime) -> Iterator[date]:
    """A day and its month in this year and the next."""
    from curewatch.days import parse_day

    for year in (now.year, now.year + 1):
        with suppress(QuantityError):
            yield parse_day(f"{text} {year}")


def _days_named(name: str, now: datetime, zone: ZoneInfo) -> list[date]:
    """The days that a name may mean from now on: one, or a weekday's next two."""
    today = now.astimezone(zone).date()
    if name in _DAYS_ON:
        return [today + timedelta(days=_DAYS_ON[name])]
    first = (_WEEKDAYS.index(name[:3]) - today.weekday()) % 7
    return [today + timedelta(days=first + more) for more in (0, 7)]


def _shown(clock: Clock, days: Iterable[date], zone: ZoneInfo) -> Iterator[datetime]:
    """When the wall clock shows a time on some days, in order: twice where it is put back over it,
    unless the zone that is named tells which."""
    for day in days:
        first, again = (instant_of(day, clock.time.replace(fold=fold), zone) for fold in (0, 1))
        for at in (first, again) if again > first else (first,):
            if clock.zone in ("", at.astimezone(zone).tzname()):
                yield at


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
        raise StepError(f"{what} is in the future", fix="write how long ago it was, like '3 min'")
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
    from curewatch.days import usual_order

    names = (os.environ.get(name) for name in ("LC_ALL", "LC_TIME", "LANG"))
    return usual_order(next(filter(None, names), ""))


def _linked() -> str:
    """The zone's name in the target of /etc/localtime, as Debian, Fedora and macOS keep it."""
    try:
        target = str(_LINK.resolve())
    except OSError:
        return ""
    return target.partition("/zoneinfo/")[2]
