"""What the model took for a stretch of a step: least, mean and most, from which source, how old."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

import numpy as np

from curewatch.climate import psychrometrics
from curewatch.climate.conditions import Conditions
from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import Source
from curewatch.climate.sources import Share, near_to
from curewatch.frozen import frozen

DIGITS = 6


@frozen
class Span:
    """Least, mean over time and most of a quantity as the model took it, in its unit [C, % or K].

    source: the one it is mostly from, None of what is worked out from several; away_min: the
    furthest that any moment of it lies from a reading of that source [min]; gap: whether that is
    further than a reading of its place is good for.
    """

    minimum: float
    mean: float
    maximum: float
    source: Source | None = None
    away_min: float = 0.0
    gap: bool = False


def _mean(values: FloatArray) -> float:
    """Over time, by the trapezium. [unit of values]"""
    return float(values[0] if values.size == 1 else np.trapezoid(values) / (values.size - 1))


def _rounded(values: FloatArray, source: Source | None, away_min: float, gap: bool) -> Span:
    """To a millionth, so that the last bits of a sum turn no half later."""
    values_now = (float(values.min()), _mean(values), float(values.max()))
    least, mean, most = (round(figure, DIGITS) for figure in values_now)
    return Span(least, mean, most, source, away_min, gap)


def _span(
    values: FloatArray,
    shares: Sequence[Share],
    part: slice,
    seconds: FloatArray,
    old_after_min: Callable[[str], float],
) -> Span:
    leading = max(shares, key=lambda share: float(share.share[part].mean()))
    part_values = values[part]
    away = float(near_to(seconds[part], leading.read_s).max()) / 60
    gap = away > old_after_min(leading.source.place)
    return _rounded(part_values, leading.source, away, gap)


def _usual(_place: str) -> float:
    """How long a reading is good for where nothing else is said. [min]"""
    return 30.0


def summary(
    conditions: Conditions,
    start: datetime,
    end: datetime,
    old_after_min: Callable[[str], float] = _usual,
) -> dict[str, Span]:
    """What the model took between two instants: least, mean and most of each quantity.

    Parameters
    ----------
    conditions : Conditions
        Of the step.
    start, end : datetime
        The stretch; cut to the conditions.
    old_after_min : callable
        How long a reading of a place is good for. [min]

    Returns
    -------
    dict
        A Span for each of surface_temperature, air_temperature [C], relative_humidity [%] and
        dew_point_spread [K]; what no reading stands for is absent.
    """
    first, last = (
        round((at - conditions.start).total_seconds() / conditions.step_s) for at in (start, end)
    )
    size = conditions.surface_c.size
    part = slice(min(max(first, 0), size - 1), min(max(last, 0), size - 1) + 1)
    seconds: FloatArray = conditions.step_s * np.arange(size, dtype=np.float64)
    series = {
        "surface_temperature": (conditions.surface_c, conditions.surface_by),
        "air_temperature": (conditions.air_c, conditions.air_by),
        "relative_humidity": (conditions.humidity_pct, conditions.humidity_by),
    }
    spans = {
        name: _span(values, shares, part, seconds, old_after_min)
        for name, (values, shares) in series.items()
        if shares
    }
    if spans.get("air_temperature") and not _read(conditions.air_by, "air_temperature"):
        del spans["air_temperature"]
    if {"air_temperature", "relative_humidity"} <= set(spans):
        spread = psychrometrics.dew_point_spread_c(
            conditions.surface_c, conditions.air_c, conditions.humidity_pct
        )[part]
        away = max(span.away_min for span in spans.values())
        gap = any(span.gap for span in spans.values())
        spans["dew_point_spread"] = _rounded(spread, None, away, gap)
    return spans


def _read(shares: Sequence[Share], quantity: str) -> bool:
    return any(share.source.quantity == quantity for share in shares)
