"""A product's times against the temperature: by the model, by its label, and as found here."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from curewatch.climate.summary import summary
from curewatch.cure.estimate import at_temperatures
from curewatch.cure.forecast import Forecast, Milestone
from curewatch.cure.thermal_history import minimum_c
from curewatch.frozen import frozen
from curewatch.garage.step import DamagedStep, Step
from curewatch.garage.steps import looked_at
from curewatch.vocabulary import MILESTONES, is_not_yet

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench
    from curewatch.products.sheet import Sheet

POINTS, USUAL_MOST_C, LEAST_SPAN_C = 12, 35.0, 8.0
MOST_BATCHES = 24
A_DAY = timedelta(hours=24)


@frozen
class TimedBatch:
    """A step on which a test found the milestone reached: the mean of its surface till then [C],
    when the test found it, and the last test before that found it not yet, from mixing [min]."""

    step: int
    part: str
    mixed_at: datetime
    surface_c: float
    reached_min: float
    not_yet_min: float | None


@frozen
class ByTemperature:
    """One milestone of a product against the temperature.

    temperatures_c [C] with the milestone at each; batches: as found here; forecast_c: coolest and
    warmest that the surface is likely to get in the coming day [C], surface_c now [C] and the
    milestone there, None where nothing is measured; least_c: below it the product may not cure
    properly [C].
    """

    sheet: Sheet
    milestone: str
    temperatures_c: tuple[float, ...]
    times: tuple[Milestone, ...]
    batches: tuple[TimedBatch, ...]
    forecast_c: tuple[float, float] | None
    surface_c: float | None
    time_now: Milestone | None
    least_c: float


def milestones_of(sheet: Sheet) -> tuple[str, ...]:
    """The milestones that the label times, in the order in which they come."""
    return tuple(name for name in MILESTONES if name in sheet.reference.minutes)


def temperatures(sheet: Sheet) -> tuple[float, ...]:
    """Those that are looked at: between the product's limits, and its label's rows. [C]"""
    least, limits = minimum_c(sheet), sheet.limits.temperature_c
    rows = [row.temperature_c for row in sheet.times]
    most = max(*rows, limits[1] if limits else USUAL_MOST_C, least + LEAST_SPAN_C)
    return tuple(float(value_c) for value_c in np.linspace(least, min(most, 40.0), POINTS))


def _times(bench: Bench, sheet: Sheet) -> tuple[Forecast, ...]:
    others = tuple(bench.reader.observed_steps(sheet))
    return bench.reader.remembered(
        ("by temperature", sheet.id),
        (sheet.text, others),
        lambda: at_temperatures(sheet, temperatures(sheet), others),
    )


def _now(bench: Bench, sheet: Sheet, surface_c: float) -> Forecast:
    return at_temperatures(sheet, (surface_c,), bench.reader.observed_steps(sheet))[0]


def _batch(bench: Bench, step: Step, milestone: str) -> TimedBatch | None:
    reached = step.reached.get(milestone)
    if reached is None or reached.at <= step.mixed_at:
        return None
    spans = summary(bench.reader.conditions_of(step, reached.at), step.mixed_at, reached.at)
    span = spans.get("surface_temperature")
    if span is None or span.source is None:
        return None
    earlier = [answer.at for answer in step.answers[milestone] if is_not_yet(answer.result)]
    before = [at for at in earlier if at < reached.at]
    not_yet = step.after_min(max(before)) if before else None
    found_min = step.after_min(reached.at)
    return TimedBatch(step.id, step.part, step.mixed_at, span.mean, found_min, not_yet)


def _batches(bench: Bench, sheet: Sheet, milestone: str) -> list[TimedBatch]:
    batches = list[TimedBatch]()
    for step in looked_at(bench.store, sheet.id):
        if len(batches) == MOST_BATCHES:
            break
        with suppress(DamagedStep), bench.reader.failures.of(step):
            if batch := _batch(bench, step, milestone):
                batches.append(batch)
    return batches


def _ahead(bench: Bench, now: datetime) -> tuple[tuple[float, float] | None, float | None]:
    """The coolest and warmest of the coming day's likely path, and the surface now. [C]"""
    track = bench.view(now).track
    if track is None or not track.surface_c or not track.likely_c:
        return None, None
    day = [
        likely
        for at, likely in zip(track.ahead_times, track.likely_c, strict=True)
        if at <= now + A_DAY
    ]
    return (min(day), max(day)), track.likely_c[0]


def by_temperature(bench: Bench, sheet: Sheet, milestone: str, now: datetime) -> ByTemperature:
    """One of the product's milestones against the temperature, as known now."""
    forecasts = _times(bench, sheet)
    forecast_c, surface_c = _ahead(bench, now)
    return ByTemperature(
        sheet,
        milestone,
        temperatures(sheet),
        tuple(forecast.by_name[milestone] for forecast in forecasts),
        tuple(_batches(bench, sheet, milestone)),
        forecast_c,
        surface_c,
        None if surface_c is None else _now(bench, sheet, surface_c).by_name[milestone],
        minimum_c(sheet),
    )
