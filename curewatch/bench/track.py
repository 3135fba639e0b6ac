"""The surface under the bench's ribbons: as measured, then as it may go on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np

from curewatch.bench.views import StepView, Track
from curewatch.climate import psychrometrics
from curewatch.climate.conditions import resampled
from curewatch.climate.outlook import Outlook
from curewatch.climate.reading import TYPED_SD_C, PlaceSettings, Reading
from curewatch.climate.series import spells
from curewatch.cure.thermal_history import minimum_c

MOST_POINTS = 400
AHEAD_STEP_S = 300.0
UNKNOWN_C = 20.0


def assumed_c(views: Sequence[StepView]) -> float:
    """What stands where nothing was measured: the label's of the first step. [C]"""
    return views[0].sheet.reference.temperature_c if views else UNKNOWN_C


def track(
    readings: Sequence[Reading],
    ahead: Outlook,
    start: datetime,
    place: str,
    how: PlaceSettings,
    views: Sequence[StepView],
) -> Track:
    """The surface of a place: as measured since an hour before `start`, then as it may go on."""
    past = resampled(
        readings,
        start - timedelta(hours=1),
        ahead.start,
        place=place,
        assumed_c=assumed_c(views),
        lag_min=how.lag_min,
        old_after_min=how.old_after_min,
        sensor_sd_c=how.sensor_error_c,
        typed_sd_c=TYPED_SD_C,
    )
    keep = max(1, len(past.surface_c) // MOST_POINTS)
    skip = max(1, round(AHEAD_STEP_S / ahead.step_s))
    values = past.surface_c[::keep] if past.source != "assumed" else past.surface_c[:0]
    return Track(
        place=place,
        times=_marks(past.start, past.step_s * keep, len(values)),
        surface_c=tuple(float(value) for value in values),
        ahead_times=_marks(ahead.start, ahead.step_s * skip, len(ahead.likely_c[::skip])),
        likely_c=tuple(float(value) for value in ahead.likely_c[::skip]),
        cool_c=tuple(float(value) for value in ahead.cool_c[::skip]),
        warm_c=tuple(float(value) for value in ahead.warm_c[::skip]),
        minimums=minimums(views),
        dew=dew_spells(ahead, skip) if humid(readings, ahead.start) else (),
        basis=ahead.basis,
        led=past.leading_source,
    )


def _marks(start: datetime, step_s: float, count: int) -> tuple[datetime, ...]:
    return tuple(start + timedelta(seconds=step_s * index) for index in range(count))


def minimums(views: Sequence[StepView]) -> tuple[tuple[str, float], ...]:
    """The least temperature [C] of each product on the bench, by name."""
    return tuple({view.sheet.name: minimum_c(view.sheet) for view in views}.items())


def humid(readings: Sequence[Reading], now: datetime) -> bool:
    """Whether a humidity was heard in the last hours."""
    return any(
        reading.quantity == "relative_humidity" and now - reading.at < timedelta(hours=3)
        for reading in readings
    )


def dew_spells(ahead: Outlook, skip: int) -> tuple[tuple[datetime, datetime], ...]:
    """Spells in which the likely surface may come within 3 K of the dew point."""
    near = (ahead.dew_gap_k[::skip] < psychrometrics.NEAR_DEW_K).astype(np.float64)
    return tuple(
        (spell.start, spell.end) for spell in spells(ahead.start, ahead.step_s * skip, near)
    )
