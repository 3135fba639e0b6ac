"""What a page of the log shows, as plain data: its steps, how warm each was, their job."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import datetime, timedelta

from curewatch.climate.summary import Span, summary
from curewatch.cure.thermal_history import minimum_c
from curewatch.frozen import frozen
from curewatch.garage.damaged import Damaged, of_events
from curewatch.garage.step import DamagedStep, Step, folded
from curewatch.store.search import Range
from curewatch.store.store import StepSummary, Store
from dashboard.context.page_context import PageContext
from dashboard.pages.log.address import LogAddress

MOST = 40
_FINE, _POINTS = timedelta(hours=5), 24
Line = tuple[tuple[float, float], ...]


@frozen
class LogRow:
    """A step of the log. ranges: least and most measured by quantity [C or %]; line: its surface
    (share of its time [-], [C]); minimum_c: its product's [C]."""

    step: Step
    ranges: Mapping[str, Range | Span]
    line: Line
    minimum_c: float


@frozen
class LogPage:
    """A page of the log: total: how many steps are sought."""

    address: LogAddress
    rows: Sequence[LogRow]
    total: int
    damaged: Sequence[Damaged]

    @property
    def pages(self) -> int:
        """How many pages there are, at least one."""
        return max(1, -(-self.total // MOST))


def _end(step: Step, now: datetime) -> datetime:
    return max(step.mixed_at, step.closed_at or now)


def ranges(context: PageContext, step: Step, now: datetime) -> Mapping[str, Range | Span]:
    """What was measured during a step at its place, the air elsewhere where it has none; where
    nothing was, what the model took."""
    end = _end(step, now)
    by_quantity: dict[str, Range] = {}
    for measured in context.store.ranges(step.mixed_at, end):
        home = measured.place == step.place
        if home or (measured.place == "air" and measured.quantity not in by_quantity):
            by_quantity[measured.quantity] = measured
    with suppress(DamagedStep):
        return by_quantity or dict(
            summary(context.bench.reader.conditions_of(step, end), step.mixed_at, end)
        )
    return by_quantity


def _measured(
    store: Store, place: str, start: datetime, end: datetime
) -> list[tuple[datetime, float]]:
    """The surface at a place: fine for hours, by the roll-ups for days. [C]"""
    length = end - start
    if length <= _FINE:
        bucket_s = max(60.0, length.total_seconds() / _POINTS)
        readings = store.readings(start, end, bucket_s=bucket_s, place=place)
        return [
            (reading.at, reading.value)
            for reading in readings
            if reading.quantity == "surface_temperature"
        ]
    hours = max(1, math.ceil(length / timedelta(hours=1) / _POINTS))
    hours = hours if hours < 24 else 24 * math.ceil(hours / 24)
    return [
        (max(span.start, start), span.mean)
        for span in store.measured_spans(start, end, hours=hours, place=place)
        if span.quantity == "surface_temperature"
    ]


def line(store: Store, step: Step, now: datetime) -> Line:
    """How warm the surface was from mixing to the end (share of that time [-], [C])."""
    end = _end(step, now)
    length = max((end - step.mixed_at).total_seconds(), 1.0)
    measured = _measured(store, step.place, step.mixed_at, end)
    return tuple(
        (min(max((at - step.mixed_at).total_seconds() / length, 0.0), 1.0), value)
        for at, value in measured
    )


def log_page(context: PageContext, address: LogAddress, now: datetime) -> LogPage:
    """One page of the steps sought."""
    query, skip = address.query, (address.page - 1) * MOST
    numbers = context.store.find(
        query, most=MOST, order=address.order, rising=address.rising, skip=skip
    )
    events = context.store.events(numbers)
    rows = [
        LogRow(
            step, ranges(context, step, now), line(context.store, step, now), minimum_c(step.sheet)
        )
        for step in folded(events[number] for number in numbers)
    ]
    damaged = [event for number in numbers for event in of_events(events[number])]
    return LogPage(address, rows, context.store.count(query), damaged)


def job_steps(context: PageContext, job: str) -> list[StepSummary]:
    """The steps of a job with their parts, in order of number."""
    return [step for step in context.store.step_summaries() if step.job == job]
