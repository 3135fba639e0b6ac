"""What the model took for a stretch of a step: least, mean and most, from which source, how old."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from curewatch.climate import psychrometrics
from curewatch.climate.conditions import Conditions
from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import Source
from curewatch.climate.sources import Share, near_to

DIGITS = 6


@dataclass(frozen=True)
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
    found = (float(values.min()), _mean(values), float(values.max()))
    least, mean, most = (round(each, DIGITS) for each in found)
    return Span(least, mean, most, source, away_min, gap)


def _span(
    values: FloatArray,
    shares: Sequence[Share],
    part: slice,
    seconds: FloatArray,
    old_after_min: Callable[[str], float],
) -> Span:
    led = max(shares, key=lambda each: float(each.share[part].mean()))
    kept = values[part]
    away = float(near_to(seconds[part], led.read_s).max()) / 60
    gap = away > old_after_min(led.source.place)
    return _rounded(kept, led.source, away, gap)


def _usual(_place: str) -> float:
    """How long a reading is good for where nothing else is said. [min]"""
    return 30.0


def summary(
    felt: Conditions,
    start: datetime,
    end: datetime,
    old_after_min: Callable[[str], float] = _usual,
) -> dict[str, Span]:
    """What the model took between two instants; what no reading stands for is absent.

    old_after_min: how long a reading of a place is good for [min].
    Keys: surface_temperature, air_temperature [C], relative_humidity [%], dew_point_spread [K].
    """
    first, last = (round((at - felt.start).total_seconds() / felt.step_s) for at in (start, end))
    size = felt.surface_c.size
    part = slice(min(max(first, 0), size - 1), min(max(last, 0), size - 1) + 1)
    seconds: FloatArray = felt.step_s * np.arange(size, dtype=np.float64)
    series = {
        "surface_temperature": (felt.surface_c, felt.surface_by),
        "air_temperature": (felt.air_c, felt.air_by),
        "relative_humidity": (felt.humidity_pct, felt.humidity_by),
    }
    spans = {
        name: _span(values, shares, part, seconds, old_after_min)
        for name, (values, shares) in series.items()
        if shares
    }
    if spans.get("air_temperature") and not _read(felt.air_by, "air_temperature"):
        del spans["air_temperature"]
    if {"air_temperature", "relative_humidity"} <= set(spans):
        spread = psychrometrics.dew_point_spread_c(felt.surface_c, felt.air_c, felt.humidity_pct)[
            part
        ]
        away = max(each.away_min for each in spans.values())
        gap = any(each.gap for each in spans.values())
        spans["dew_point_spread"] = _rounded(spread, None, away, gap)
    return spans


def _read(shares: Sequence[Share], quantity: str) -> bool:
    return any(each.source.quantity == quantity for each in shares)
