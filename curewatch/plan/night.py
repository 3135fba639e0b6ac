"""What the night did to one step: how far it got, where it stood still, how cold, how near dew."""

from __future__ import annotations

from datetime import datetime, timedelta
from math import prod

import numpy as np

from curewatch.climate import psychrometrics
from curewatch.climate.conditions import Conditions
from curewatch.climate.series import Interval, spells
from curewatch.cure.forecast import Forecast, Milestone
from curewatch.frozen import frozen
from curewatch.notice import Notice

WEATHER = ("temperature", "humidity")


@frozen
class Night:
    """What a place felt: coldest_c of the surface [C] and when, spells under a least temperature,
    spells nearer than 3 K to the dew point, lowest_k: the least distance to it [K], None where no
    humidity was measured."""

    start: datetime
    end: datetime
    coldest_c: float
    coldest_at: datetime
    stalled: tuple[Interval, ...]
    damp: tuple[Interval, ...]
    lowest_k: float | None


@frozen
class Progress:
    """How far a step got towards a milestone: age_min by now, gained_min since the evening, out of
    needed_min, all in minutes at the label's temperature [min]; late_min: when to test, from
    mixing [min], None where no time can be given."""

    milestone: str
    age_min: float
    gained_min: float
    needed_min: float
    label_min: float
    early_min: float | None
    late_min: float | None
    warnings: tuple[Notice, ...]


def night(
    conditions: Conditions, start: datetime, end: datetime, least_c: float, *, damp_known: bool
) -> Night:
    """The part of these conditions between two instants. least_c: the product's minimum [C];
    damp_known: whether a humidity was measured."""
    first = max(0, round((start - conditions.start).total_seconds() / conditions.step_s))
    last = max(first + 1, round((end - conditions.start).total_seconds() / conditions.step_s) + 1)
    window = slice(min(first, conditions.surface_c.size - 1), last)
    surface = conditions.surface_c[window]
    begin = conditions.start + timedelta(seconds=conditions.step_s * window.start)
    coldest = int(np.argmin(surface))
    spread = psychrometrics.dew_point_spread_c(
        surface, conditions.air_c[window], conditions.humidity_pct[window]
    )
    near = (spread < psychrometrics.NEAR_DEW_K).astype(np.float64) * damp_known
    return Night(
        begin,
        end,
        float(surface[coldest]),
        begin + timedelta(seconds=conditions.step_s * coldest),
        spells(begin, conditions.step_s, (surface < least_c).astype(np.float64)),
        spells(begin, conditions.step_s, near),
        float(np.min(spread)) if damp_known else None,
    )


def _other_factors(forecast: Forecast, milestone: Milestone) -> float:
    """What besides the weather makes this milestone longer than the label's. [-]

    Known where the forecast's reason is about this very milestone; else 1.
    """
    likely = milestone.likely_min
    if likely is None or abs(forecast.ratio - likely / milestone.label_min) > 1e-6 * forecast.ratio:
        return 1.0
    return prod(factor.times for factor in forecast.factors if factor.name not in WEATHER)


def progress(now: Forecast, evening_age_min: float, milestone: Milestone) -> Progress:
    """How far a step got; evening_age_min: its age when the night began [min]"""
    return Progress(
        milestone.name,
        now.age_min,
        max(0.0, now.age_min - evening_age_min),
        milestone.label_min * _other_factors(now, milestone),
        milestone.label_min,
        milestone.early_min,
        milestone.late_min,
        milestone.warnings,
    )
