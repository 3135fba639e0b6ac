"""How lengths of time are said: the one place that turns minutes into words.

`dashboard/assets/curewatch.js` counts by the same rules in the browser.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Literal

from curewatch.vocabulary import EARLY_SHOWN

Rounding = Literal["up", "down", "near"]
_TURN: dict[Rounding, Callable[[float], int]] = {
    "up": math.ceil,
    "down": math.floor,
    "near": lambda number: math.floor(number + 0.5),
}
NOW_MIN, HOUR_MIN, DAY_MIN = 1, 60, 1440
DAYS_FROM_H, WHOLE_DAYS_FROM_H = 48, 168


def rounding(milestone: str) -> Rounding:
    """Down for a bound that must not be missed, up for one that must be waited for.

    >>> rounding("working_time"), rounding("clamp_time")
    ('down', 'up')
    """
    return "down" if milestone in EARLY_SHOWN else "up"


def parts(minutes: float, how: Rounding = "near") -> tuple[tuple[str, str], ...]:
    """A length [min] in figures and units: (("3", "h"), ("20", "")).

    Under a minute in seconds, from 48 h in days and hours, from a week in days; what is left under
    the last unit said is rounded.
    """
    turn, exact = _TURN[how], max(minutes, 0.0)
    seconds = turn(round(exact * 60, 6))
    if seconds < 60:
        return ((str(seconds), "s"),)
    whole = turn(round(exact, 6))
    if whole < HOUR_MIN:
        return ((str(whole), "min"),)
    if whole < DAYS_FROM_H * HOUR_MIN:
        hours, left = divmod(whole, HOUR_MIN)
        return ((str(hours), "h"), (f"{left:02d}", "")) if left else ((str(hours), "h"),)
    hours = turn(round(exact / HOUR_MIN, 6))
    days, left = divmod(hours, 24)
    if hours >= WHOLE_DAYS_FROM_H:
        days, left = turn(round(exact / DAY_MIN, 6)), 0
    return ((str(days), "days"), (str(left), "h")) if left else ((str(days), "days"),)


def duration(minutes: float, how: Rounding = "near") -> str:
    """A length [min] as people say it.

    >>> duration(14.4), duration(200), duration(0.5), duration(2.85 * 1440, "up")
    ('14 min', '3 h 20', '30 s', '2 days 21 h')
    """
    return " ".join(f"{figure} {unit}".strip() for figure, unit in parts(minutes, how))


def between(first_min: float, last_min: float, how: Rounding = "near") -> str:
    """A range of lengths, a common unit said once. first_min, last_min [min]

    >>> between(26, 40), between(50, 66)
    ('26 to 40 min', '50 min to 1 h 06')
    """
    (figure, unit), *smaller = parts(first_min, how)
    (_, last_unit), *last_smaller = parts(last_min, how)
    whole = not smaller and not last_smaller
    same = whole and unit == last_unit and unit in ("s", "min", "days")
    return f"{figure if same else duration(first_min, how)} to {duration(last_min, how)}"


def ago(minutes: float) -> str:
    """How long ago [min], in words; what a clock that is ahead stamped lies before us."""
    if minutes <= -NOW_MIN:
        return f"{duration(-minutes, 'down')} ahead of this clock"
    if minutes < 0:
        return "just now"
    return f"{duration(minutes, 'down')} ago"


def on_wall(start: datetime, after_min: float, milestone: str) -> datetime:
    """When a milestone comes, so many minutes after a start. [min]

    A clock's minute is cut off when it is said, so what must be waited for comes at a full one.
    """
    at = start + timedelta(minutes=after_min)
    return full_minute(at) if rounding(milestone) == "up" else at


def full_minute(at: datetime) -> datetime:
    """The next full minute, or this one."""
    cut = at.replace(second=0, microsecond=0)
    return cut if cut == at else cut + timedelta(minutes=1)
