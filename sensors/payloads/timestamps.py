"""The time a sensor sends with its value: RFC 3339 or Unix, checked against the arrival."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime, timedelta
from typing import Any

from curewatch.climate.reading import AHEAD
from curewatch.errors import ReadingError

HALF_HOUR = timedelta(minutes=30)
_EARLIEST = datetime(2000, 1, 1, tzinfo=UTC)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_SECONDS = re.compile(r"\d+([.,]\d*)?", re.ASCII)
_RFC3339 = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d", re.ASCII)
_MILLISECONDS_FROM = 1e11


def instant(value: Any, arrived: datetime) -> datetime:
    """The time a sensor sent, RFC 3339 or Unix [s or ms], in UTC.

    Raises ReadingError where it is no time, has no zone, or lies ahead of the arrival.
    """
    if isinstance(value, str) and _SECONDS.fullmatch(value.strip()):
        return unix(float(value.strip().replace(",", ".")), arrived)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return unix(value, arrived)
    return _checked(_rfc3339(value), arrived)


def unix(number: float, arrived: datetime) -> datetime:
    """A Unix time [s, or ms where it is that large] in UTC, checked against the arrival."""
    try:
        seconds = float(number)
        if abs(seconds) >= _MILLISECONDS_FROM:
            seconds /= 1000
        at = _EPOCH + timedelta(seconds=seconds)
    except (OverflowError, ValueError):
        raise ReadingError(
            f"{str(number)[:40]} is not a Unix time", fix="check what the sensor sends"
        ) from None
    return _checked(at, arrived)


def relative(seconds: float, arrived: datetime) -> datetime:
    """A time so many seconds [s] after the arrival, or before it where negative."""
    if not math.isfinite(seconds) or abs(seconds) > 1e9:
        raise ReadingError(
            f"{seconds:g} s from now is not a time", fix="check what the sensor sends"
        )
    return _checked(arrived + timedelta(seconds=seconds), arrived)


def _checked(at: datetime, arrived: datetime) -> datetime:
    if at > arrived + AHEAD:
        raise ReadingError(
            f"the sensor's time {at:%Y-%m-%d %H:%M:%S} UTC is ahead of its arrival",
            fix=_mend(at - arrived),
        )
    if at < _EARLIEST:
        raise ReadingError(
            f"the sensor's time {at:%Y-%m-%d %H:%M:%S} UTC is before the year 2000",
            fix="set the sensor's clock",
        )
    return at


def _mend(ahead: timedelta) -> str:
    """What to do about a clock that is ahead: whole half hours are the mistake of a zone."""
    halves = round(ahead / HALF_HOUR)
    if abs(ahead - halves * HALF_HOUR) > timedelta(seconds=90) or not 1 < halves <= 28:
        return "set the sensor's clock"
    return f"set the sensor's time zone: it is {halves / 2:g} h ahead"


def _rfc3339(value: Any) -> datetime:
    text = repr(value)[:60] if isinstance(value, str) else f"of type {type(value).__name__}"
    try:
        if not isinstance(value, str) or not _RFC3339.match(value.strip()):
            raise ValueError
        at = datetime.fromisoformat(value.strip().upper())
        if at.tzinfo is not None:
            return at.astimezone(UTC)
    except (ValueError, OverflowError):
        raise ReadingError(
            f"the value {text} is not a time", fix="send RFC 3339 or Unix seconds"
        ) from None
    raise ReadingError(
        f"the sensor's time {text} has no zone",
        fix="let it send Z, an offset like +01:00, or Unix seconds",
    )
