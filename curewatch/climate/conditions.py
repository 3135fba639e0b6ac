"""Readings to the even series of one step's surface, air and humidity, with its uncertainty.

Notes
-----
The metal is the readings of the place's surface, with the air through the metal's lag standing in
as they age; the air is that at the place, with the garage's standing in, and the surface where no
air was read of late; see `sources.py` for how one gives way to the other. The walk w was computed
from a year of open hourly weather through a garage that lags 6 h (persistence is off by 1.48 K on
average after 6 h); for humidity it is assumed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import Reading
from curewatch.climate.series import indexed, lagged
from curewatch.climate.sources import AIR_FOR_SURFACE_SD_C as AIR_FOR_SURFACE_SD_C
from curewatch.climate.sources import (
    ELSEWHERE_SD_C,
    ELSEWHERE_SD_PCT,
    LeadingSource,
    SampledReadings,
    Share,
    UncertainSeries,
    Uncertainties,
    blended,
    bridge_hours,
    for_surface,
    leading_source,
)
from curewatch.climate.sources import WALK_C as WALK_C
from curewatch.climate.sources import WALK_PCT as WALK_PCT
from curewatch.notice import Count, Duration, Measure, Notice, Term, notice

ASSUMED_SD_C, LARGEST_SD_C = 5.0, 8.0
ASSUMED_PCT, ASSUMED_SD_PCT, LARGEST_SD_PCT, SENSOR_SD_PCT = 50.0, 15.0, 25.0, 3.0
MOST_SAMPLES = 2881

Source = Literal["surface", "air", "assumed"]


@dataclass(frozen=True, eq=False)
class Conditions:
    """What one step was exposed to: sample i is at start + i*step_s.

    step_s [s]; surface_c, surface_sd_c, air_c [C], humidity_pct, humidity_sd_pct [%],
    each of shape (n,). source: where the surface's temperature comes from at the end. notes: what
    people should know of it. surface_by, air_by, humidity_by: how much each source counts, empty
    where none does.
    """

    start: datetime
    step_s: float
    surface_c: FloatArray
    surface_sd_c: FloatArray
    air_c: FloatArray
    humidity_pct: FloatArray
    humidity_sd_pct: FloatArray
    source: Source
    notes: tuple[Notice, ...] = ()
    surface_by: tuple[Share, ...] = ()
    air_by: tuple[Share, ...] = ()
    humidity_by: tuple[Share, ...] = ()

    @property
    def leading_source(self) -> LeadingSource | None:
        """Which source the surface's temperature is from at the end."""
        return leading_source(self.surface_by, -1, self.length_s)

    @property
    def length_s(self) -> float:
        """From the first sample to the last. [s]"""
        return (self.surface_c.size - 1) * self.step_s


def bridge_sd(seconds: FloatArray, read_s: FloatArray, sensor_sd: float, walk: float) -> FloatArray:
    """Standard uncertainty at instants between and beyond readings. [unit of sensor_sd]

    Parameters
    ----------
    seconds : array, shape (n,)
        The instants. [s]
    read_s : array, shape (k,)
        Times of the readings, rising. [s]
    sensor_sd : float
        Standard uncertainty of one reading.
    walk : float
        Of the random walk between readings. [unit of sensor_sd per square root of an hour]

    Returns
    -------
    array, shape (n,)
        Standard uncertainty. [unit of sensor_sd]
    """
    uncertainty: FloatArray = np.sqrt(sensor_sd**2 + walk**2 * bridge_hours(seconds, read_s))
    return uncertainty


def _step_s(length_s: float) -> float:
    return 60.0 * max(1, math.ceil(length_s / 60 / (MOST_SAMPLES - 1)))


def _read_s(shares: Sequence[Share], quantity: str) -> FloatArray:
    """When a quantity was read, by whatever source. [s], rising"""
    instants = [share.read_s for share in shares if share.source.quantity == quantity]
    return np.sort(np.concatenate(instants)) if instants else np.empty(0)


def _gap_notes(
    read_s: FloatArray, last_s: float, old_after_min: float, of: str, *, air_instead: bool = False
) -> list[Notice]:
    """What was not read for longer than it may be; air_instead: the air stands in for it."""
    ending = "-air-instead" if air_instead else ""
    edges = np.clip(np.concatenate(([0.0], read_s, [last_s])), 0.0, last_s)
    gaps = np.diff(np.sort(edges)) / 60
    notes = []
    if read_s[-1] < last_s - 60 * old_after_min:
        age = (last_s - read_s[-1]) / 60
        notes.append(notice(f"reading-old{ending}", of=Term(of), age=Duration(age, "down")))
        gaps = gaps[:-1]
    wide = gaps[gaps > old_after_min]
    if wide.size:
        gap, times = Duration(float(wide.max())), Count(int(wide.size), "times")
        notes.append(notice(f"not-read{ending}", of=Term(of), gap=gap, times=times))
    return notes


def _surface_notes(
    shares: Sequence[Share], last_s: float, old_after_min: float, assumed_c: float
) -> list[Notice]:
    surface_read_s, air_read_s = (
        _read_s(shares, f"{name}_temperature") for name in ("surface", "air")
    )
    if surface_read_s.size:
        instead = bool(air_read_s.size and air_read_s[-1] > surface_read_s[-1])
        return _gap_notes(surface_read_s, last_s, old_after_min, "panel", air_instead=instead)
    if not air_read_s.size:
        return [notice("temperature-assumed", assumed=Measure(assumed_c, "C"))]
    gaps = _gap_notes(air_read_s, last_s, old_after_min, "air")
    return [notice("panel-from-air"), *gaps]


def _humidity_notes(shares: Sequence[Share], last_s: float, old_after_min: float) -> list[Notice]:
    if not shares:
        return [notice("humidity-assumed", assumed=Measure(ASSUMED_PCT, "%"))]
    read_s = _read_s(shares, "relative_humidity")
    return _gap_notes(read_s, last_s, old_after_min, "humidity")


def _assumed(grid: FloatArray, value: float, sd: float) -> UncertainSeries:
    even = np.ones(grid.size)
    return UncertainSeries(even * value, 0 * even, even * sd**2, 0 * even, ())


def _behind(
    air: UncertainSeries | None, grid: FloatArray, lag_min: float
) -> UncertainSeries | None:
    """The air through the metal's lag, as it stands in for the metal. lag_min [min]"""
    metal = for_surface(air)
    return metal and replace(metal, value=lagged(grid, metal.value, lag_min))


def resampled(
    readings: Sequence[Reading],
    start: datetime,
    end: datetime,
    *,
    place: str = "panel",
    assumed_c: float,
    lag_min: float = 3.0,
    old_after_min: float = 30.0,
    sensor_sd_c: float = 0.3,
    humidity_sd_pct: float = SENSOR_SD_PCT,
    typed_sd_c: float = 0.0,
    typed_sd_pct: float = 0.0,
) -> Conditions:
    """Readings as an even series from start to end, with its uncertainty and what was bridged.

    Parameters
    ----------
    readings : sequence of Reading
        Of all places; flagged ones are left out.
    start, end : datetime
        The first instant, and the one that the last sample does not pass.
    place : str
        Where the metal is.
    assumed_c : float
        Temperature of the surface where nothing was measured. [C]
    lag_min : float
        Of the metal behind the air. [min]
    old_after_min : float
        A longer gap is named in the notes. [min]
    sensor_sd_c, humidity_sd_pct : float
        Standard uncertainty of one reading by a sensor. [C], [%]
    typed_sd_c, typed_sd_pct : float
        The least of a typed one. [C], [%]

    Returns
    -------
    Conditions
        Samples a minute apart, further apart where that would be more than MOST_SAMPLES.
    """
    length_s = max(0.0, (end - start).total_seconds())
    step_s = _step_s(length_s)
    grid = step_s * np.arange(math.floor(length_s / step_s) + 1, dtype=np.float64)
    sampled = SampledReadings(indexed(readings), start, grid)
    temperature_uncertainty = Uncertainties(sensor_sd_c, typed_sd_c, WALK_C, ELSEWHERE_SD_C)
    humidity_uncertainty = Uncertainties(humidity_sd_pct, typed_sd_pct, WALK_PCT, ELSEWHERE_SD_PCT)
    surface = sampled.at("surface_temperature", place, temperature_uncertainty)
    air = sampled.around("air_temperature", place, temperature_uncertainty)
    metal = blended(_behind(air, grid, lag_min), surface)
    metal = metal or _assumed(grid, assumed_c, ASSUMED_SD_C)
    ambient = blended(for_surface(surface), air) or metal
    humidity = sampled.around("relative_humidity", place, humidity_uncertainty)
    notes = _surface_notes(
        (*(surface.shares if surface else ()), *(air.shares if air else ())),
        grid[-1], old_after_min, assumed_c,
    )  # fmt: skip
    notes += _humidity_notes(humidity.shares if humidity else (), grid[-1], old_after_min)
    humidity = humidity or _assumed(grid, ASSUMED_PCT, ASSUMED_SD_PCT)
    conditions = Conditions(
        start,
        step_s,
        metal.value,
        np.minimum(metal.sd, LARGEST_SD_C),
        ambient.value,
        humidity.value,
        np.minimum(humidity.sd, LARGEST_SD_PCT),
        "assumed",
        tuple(notes),
        metal.shares,
        ambient.shares,
        humidity.shares,
    )
    return replace(conditions, source=_source(conditions.leading_source))


def _source(leading: LeadingSource | None) -> Source:
    if leading is None:
        return "assumed"
    return "surface" if leading.source.quantity == "surface_temperature" else "air"


def constant(
    start: datetime,
    minutes: float,
    *,
    surface_c: float,
    humidity_pct: float,
    surface_sd_c: float = 0.0,
    humidity_sd_pct: float = 0.0,
) -> Conditions:
    """Conditions that do not change, for estimates.

    Parameters
    ----------
    start : datetime
        The first instant.
    minutes : float
        How long they last. [min]
    surface_c, humidity_pct : float
        Temperature of surface and air, humidity of the air. [C], [%]
    surface_sd_c, humidity_sd_pct : float
        Their standard uncertainties. [C], [%]

    Returns
    -------
    Conditions
        Samples a minute apart.
    """
    n = max(1, math.floor(minutes) + 1)
    even = np.ones(n)
    return Conditions(
        start,
        60.0,
        even * surface_c,
        even * surface_sd_c,
        even * surface_c,
        even * humidity_pct,
        even * humidity_sd_pct,
        "surface",
    )


def ends(conditions: Conditions) -> datetime:
    """The instant of the last sample."""
    return conditions.start + timedelta(seconds=conditions.length_s)
