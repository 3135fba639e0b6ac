"""Readings to the even series of one step's surface, air and humidity, with its doubt.

Notes
-----
Between two readings, G hours apart, the value is taken on the straight line and its doubt is that
of a random walk tied at both ends; outside the readings it is held and the walk is free:

    sd^2 = sd_sensor^2 + w^2 u (G - u)/G        between, u hours after the first
    sd^2 = sd_sensor^2 + w^2 u                  u hours before the first or after the last

The walk w was computed from a year of open hourly weather through a garage that lags 6 h
(persistence is off by 1.48 K on average after 6 h); for humidity it is assumed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from curewatch import air
from curewatch.air import FloatArray
from curewatch.reading import QUANTITIES, Reading
from curewatch.series import Series, indexed, series

WALK_C, WALK_PCT = 0.75, 5.0
AIR_FOR_SURFACE_SD_C = 1.5
ASSUMED_SD_C = 5.0
ASSUMED_PCT, ASSUMED_SD_PCT = 50.0, 15.0
SENSOR_SD_PCT = 3.0
LARGEST_SD_C, LARGEST_SD_PCT = 8.0, 25.0
MOST_SAMPLES = 2881
AIR_PLACE = "air"

Source = Literal["surface", "air", "assumed"]


@dataclass(frozen=True, eq=False)
class Conditions:
    """What one step felt: sample i is at start + i*step_s.

    step_s [s]; surface_c, surface_sd_c, air_c [C], humidity_pct, humidity_sd_pct [%],
    each of shape (n,). source: where the surface's temperature came from. notes: for people.
    """

    start: datetime
    step_s: float
    surface_c: FloatArray
    surface_sd_c: FloatArray
    air_c: FloatArray
    humidity_pct: FloatArray
    humidity_sd_pct: FloatArray
    source: Source
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Span:
    """Least, mean over time and most of a measured quantity, in its own unit [C, % or K]."""

    minimum: float
    mean: float
    maximum: float


def bridge_sd(seconds: FloatArray, known: FloatArray, sensor_sd: float, walk: float) -> FloatArray:
    """Doubt at instants between and beyond readings. [unit of sensor_sd]

    seconds: the instants [s], shape (n,); known: times of the readings [s], rising, shape (k,);
    sensor_sd: doubt of one reading; walk: of the random walk [unit per square root of an hour].
    """
    after = np.searchsorted(known, seconds, side="left")
    right = np.where(after < known.size, known[np.minimum(after, known.size - 1)], np.inf)
    left = np.where(after > 0, known[np.maximum(after - 1, 0)], -np.inf)
    behind, before = (seconds - left) / 3600, (right - seconds) / 3600
    variance = 1 / (1 / np.maximum(behind, 1e-12) + 1 / np.maximum(before, 1e-12))
    doubt: FloatArray = np.sqrt(sensor_sd**2 + walk**2 * variance)
    return doubt


def lagged(seconds: FloatArray, values_c: FloatArray, lag_min: float) -> FloatArray:
    """Metal behind the air, first order, exact for air that is straight between instants. [C]

    seconds [s], values_c of the air [C], both shape (n,); lag_min: time constant [min].
    """
    if lag_min <= 0 or values_c.size < 2:
        return values_c.copy()
    steps = np.diff(seconds) / (60 * lag_min)
    keep = np.exp(-steps)
    mean = (1 - keep) / np.maximum(steps, 1e-12)
    gain_old, gain_new = mean - keep, 1 - mean
    metal = values_c.copy()
    for i in range(1, metal.size):
        metal[i] = (
            keep[i - 1] * metal[i - 1]
            + gain_old[i - 1] * values_c[i - 1]
            + gain_new[i - 1] * values_c[i]
        )
    return metal


def _step_s(length_s: float) -> float:
    return 60.0 * max(1, math.ceil(length_s / 60 / (MOST_SAMPLES - 1)))


def _gap_notes(found: Series, last_s: float, old_after_min: float, what: str) -> list[str]:
    edges = np.clip(np.concatenate(([0.0], found.seconds, [last_s])), 0.0, last_s)
    gaps = np.diff(np.sort(edges)) / 60
    notes = []
    if found.seconds[-1] < last_s - 60 * old_after_min:
        age = (last_s - found.seconds[-1]) / 60
        notes.append(f"the last reading of {what} is {_long(age)} old: held, and the band widened")
        gaps = gaps[:-1]
    wide = gaps[gaps > old_after_min]
    if wide.size:
        times = "once" if wide.size == 1 else f"{wide.size} times"
        notes.append(
            f"no reading of {what} for up to {_long(float(wide.max()))} ({times}): "
            "bridged, and the band widened"
        )
    return notes


def _long(minutes: float) -> str:
    return f"{minutes:.0f} min" if minutes < 120 else f"{minutes / 60:.0f} h"


def _even(
    found: Series, grid: FloatArray, sensor_sd: float, walk: float, largest: float
) -> tuple[FloatArray, FloatArray]:
    value = np.interp(grid, found.seconds, found.values)
    doubt = bridge_sd(grid, found.seconds, sensor_sd, walk)
    return value, np.minimum(doubt, largest)


def _humidity(
    found: Series | None,
    grid: FloatArray,
    old_after_min: float,
    sensor_sd: float,
    notes: list[str],
) -> tuple[FloatArray, FloatArray]:
    if found is None:
        notes.append(f"no humidity reading: {ASSUMED_PCT:g} % assumed, and the band widened")
        return np.full(grid.size, ASSUMED_PCT), np.full(grid.size, ASSUMED_SD_PCT)
    notes += _gap_notes(found, grid[-1], old_after_min, "humidity")
    return _even(found, grid, sensor_sd, WALK_PCT, LARGEST_SD_PCT)


def _surface(
    skin: Series | None,
    room: Series | None,
    grid: FloatArray,
    assumed_c: float,
    lag_min: float,
    old_after_min: float,
    sensor_sd_c: float,
    notes: list[str],
) -> tuple[FloatArray, FloatArray, Source]:
    if skin is not None:
        notes += _gap_notes(skin, grid[-1], old_after_min, "the panel")
        return (*_even(skin, grid, sensor_sd_c, WALK_C, LARGEST_SD_C), "surface")
    if room is None:
        notes.append(f"no temperature reading: {assumed_c:.3g} C assumed, and the band widened")
        return np.full(grid.size, assumed_c), np.full(grid.size, ASSUMED_SD_C), "assumed"
    notes.append("no probe on the panel: its temperature is taken from the air, the band widened")
    notes += _gap_notes(room, grid[-1], old_after_min, "the air")
    sd_c = math.hypot(sensor_sd_c, AIR_FOR_SURFACE_SD_C)
    value, doubt = _even(room, grid, sd_c, WALK_C, LARGEST_SD_C)
    return lagged(grid, value, lag_min), doubt, "air"


def regular(
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
) -> Conditions:
    """Readings to an even series from start to end, its doubt, and in words what was bridged.

    assumed_c: surface where nothing was measured [C]; lag_min: of the metal behind the air [min];
    old_after_min: a longer gap is said [min]; sensor_sd_c, humidity_sd_pct: doubt of one
    reading [C], [%].
    """
    length_s = max(0.0, (end - start).total_seconds())
    step_s = _step_s(length_s)
    readings = indexed(readings)
    grid = step_s * np.arange(math.floor(length_s / step_s) + 1, dtype=np.float64)
    skin = series(readings, "surface_temperature", [place], start)
    room = series(readings, "air_temperature", [place, AIR_PLACE], start)
    damp = series(readings, "relative_humidity", [place, AIR_PLACE], start)
    notes: list[str] = []
    surface_c, sd_c, source = _surface(
        skin, room, grid, assumed_c, lag_min, old_after_min, sensor_sd_c, notes
    )
    air_c = surface_c if room is None else np.interp(grid, room.seconds, room.values)
    humidity, humidity_sd = _humidity(damp, grid, old_after_min, humidity_sd_pct, notes)
    return Conditions(
        start, step_s, surface_c, sd_c, air_c, humidity, humidity_sd, source, tuple(notes)
    )


def _span(times: FloatArray, values: FloatArray) -> Span:
    mean = values.mean()
    if times[-1] > times[0]:
        mean = np.trapezoid(values, times) / (times[-1] - times[0])
    return Span(float(values.min()), float(mean), float(values.max()))


def _spread(surface: Series | None, room: Series | None, damp: Series | None) -> Span | None:
    if room is None or damp is None:
        return None
    times = np.union1d(room.seconds, damp.seconds)
    skin = room if surface is None else surface
    room_c, pct = (np.interp(times, each.seconds, each.values) for each in (room, damp))
    skin_c = np.interp(times, skin.seconds, skin.values)
    return _span(times, air.dew_point_spread_c(skin_c, room_c, pct))


def summary(
    readings: Sequence[Reading], start: datetime, end: datetime, *, place: str = "panel"
) -> dict[str, Span]:
    """What was measured between two instants; a quantity without a reading is absent.

    Keys: surface_temperature, air_temperature [C], relative_humidity [%], dew_point_spread [K].
    """
    inside = indexed([reading for reading in readings if start <= reading.at <= end])
    places = {quantity: [place, AIR_PLACE] for quantity in QUANTITIES}
    places["surface_temperature"] = [place]
    found = {each: series(inside, each, places[each], start) for each in QUANTITIES}
    spans = {str(key): _span(s.seconds, s.values) for key, s in found.items() if s is not None}
    spread = _spread(
        found["surface_temperature"], found["air_temperature"], found["relative_humidity"]
    )
    if spread is not None:
        spans["dew_point_spread"] = spread
    return spans


def constant(
    start: datetime,
    minutes: float,
    *,
    surface_c: float,
    humidity_pct: float,
    surface_sd_c: float = 0.0,
    humidity_sd_pct: float = 0.0,
) -> Conditions:
    """Conditions that do not change, for estimates. minutes [min]; _c [C]; _pct [%]"""
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
    return conditions.start + timedelta(seconds=(conditions.surface_c.size - 1) * conditions.step_s)
