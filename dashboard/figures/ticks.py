"""Where a time axis of hours to years is marked, on the reader's wall clock."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any

from curewatch.formats import ReaderFormat
from curewatch.walltime import to_ms
from dashboard.figures.palette import Figure, Screen, axis

_HOURS = (1 / 12, 1 / 6, 0.25, 0.5, 1, 2, 3, 6, 12)
_DAYS = (1, 2, 7, 14)
_MONTHS = (1, 2, 3, 6, 12, 24, 60)
_MONTH_H = 730.0
Tick = tuple[int, str]


def time_ticks(start: datetime, end: datetime, most: int, manner: ReaderFormat) -> list[Tick]:
    """At most about so many marks between two instants: milliseconds since 1970 [ms], label."""
    length_h = (end - start).total_seconds() / 3600
    for hours in _HOURS:
        if length_h / hours <= most:
            return list(_by_hours(start, end, hours, manner))
    for days in _DAYS:
        if length_h / 24 / days <= most:
            return list(_by_days(start, end, days, manner))
    fitting = (number for number in _MONTHS if length_h / _MONTH_H / number <= most)
    return list(_by_months(start, end, next(fitting, _MONTHS[-1]), manner))


def time_axis(
    screen: Screen, start: datetime, end: datetime, marks: Sequence[Tick], **more: Any
) -> Figure:
    """An axis from one instant to another, with marks on it."""
    return axis(
        screen,
        type="linear",
        range=[to_ms(start), to_ms(end)],
        tickmode="array",
        tickvals=[at_ms for at_ms, _ in marks],
        ticktext=[text for _, text in marks],
        **more,
    )


def _midnight(at: datetime, manner: ReaderFormat) -> datetime:
    return manner.local(at).replace(hour=0, minute=0, second=0, microsecond=0)


def _inside(at: datetime, start: datetime, end: datetime) -> bool:
    return start <= at <= end


def _by_hours(start: datetime, end: datetime, hours: float, manner: ReaderFormat) -> Iterator[Tick]:
    """Marks at even hours of the wall clock, midnight with its day instead."""
    day = _midnight(start, manner)
    while day <= end:
        for number in range(round(24 / hours)):
            at = day + timedelta(hours=hours * number)  # wall time: one zone adds by the clock
            if _inside(at, start, end):
                yield to_ms(at), manner.hour(at) if number else f"{at:%a} {at.day}"
        day += timedelta(days=1)


def _by_days(start: datetime, end: datetime, days: int, manner: ReaderFormat) -> Iterator[Tick]:
    day = _midnight(start, manner)
    if days % 7 == 0:
        day -= timedelta(days=day.weekday())
    while day <= end:
        if _inside(day, start, end):
            yield to_ms(day), f"{day:%a} {day.day}" if days == 1 else manner.day(day)
        day += timedelta(days=days)


def _by_months(start: datetime, end: datetime, months: int, manner: ReaderFormat) -> Iterator[Tick]:
    first = _midnight(start, manner).replace(day=1)
    number = (first.year * 12 + first.month - 1) // months * months
    while (at := first.replace(year=number // 12, month=number % 12 + 1)) <= end:
        if _inside(at, start, end):
            short = at.month == 1 or months >= 12
            yield to_ms(at), f"{at.year}" if short else f"{at:%b}"
        number += months
