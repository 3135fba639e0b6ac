"""Readings to the even series of one step's surface, air and humidity, with its doubt.

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
from curewatch.climate.series import indexed
from curewatch.climate.sources import AIR_FOR_SURFACE_SD_C as AIR_FOR_SURFACE_SD_C
from curewatch.climate.sources import (
    ELSEWHERE_SD_C,
    ELSEWHERE_SD_PCT,
    Charge,
    Errors,
    Known,
    Looked,
    Share,
    blended,
    bridge_hours,
    charge,
    for_surface,
)
from curewatch.climate.sources import WALK_C as WALK_C
from curewatch.climate.sources import WALK_PCT as WALK_PCT
from curewatch.durations import duration

ASSUMED_SD_C = 5.0
ASSUMED_PCT, ASSUMED_SD_PCT = 50.0, 15.0
SENSOR_SD_PCT = 3.0
LARGEST_SD_C, LARGEST_SD_PCT = 8.0, 25.0
MOST_SAMPLES = 2881
FORGOTTEN = 40.0
WIDENED = "and the band widened"

Source = Literal["surface", "air", "assumed"]


@dataclass(frozen=True, eq=False)
class Conditions:
    """What one step felt: sample i is at start + i*step_s.

    step_s [s]; surface_c, surface_sd_c, air_c [C], humidity_pct, humidity_sd_pct [%],
    each of shape (n,). source: where the surface's temperature comes from at the end. notes: for
    people. surface_by, air_by, humidity_by: how much each source counts, empty where none does.
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
    surface_by: tuple[Share, ...] = ()
    air_by: tuple[Share, ...] = ()
    humidity_by: tuple[Share, ...] = ()

    @property
    def charge(self) -> Charge | None:
        """Which source the surface's temperature is from at the end."""
        return charge(self.surface_by, -1, self.length_s)

    @property
    def length_s(self) -> float:
        """From the first sample to the last. [s]"""
        return (self.surface_c.size - 1) * self.step_s


def bridge_sd(seconds: FloatArray, known: FloatArray, sensor_sd: float, walk: float) -> FloatArray:
    """Doubt at instants between and beyond readings. [unit of sensor_sd]

    seconds: the instants [s], shape (n,); known: times of the readings [s], rising, shape (k,);
    sensor_sd: doubt of one reading; walk: of the random walk [unit per square root of an hour].
    """
    doubt: FloatArray = np.sqrt(sensor_sd**2 + walk**2 * bridge_hours(seconds, known))
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
    taken = (mean - keep) * values_c[:-1] + (1 - mean) * values_c[1:]
    if np.ptp(steps) < 1e-9 * steps[0]:
        return _even_lag(values_c[0], taken, float(steps[0]))
    metal = values_c.copy()
    for i, (kept, more) in enumerate(zip(keep, taken, strict=True), 1):
        metal[i] = kept * metal[i - 1] + more
    return metal


def _even_lag(first_c: float, taken: FloatArray, step: float) -> FloatArray:
    """The same where all steps are one, of the lag's length [-]: what was taken in, fading. [C]"""
    faded = np.exp(-step * np.arange(min(taken.size, math.ceil(FORGOTTEN / step)) + 1))
    old = first_c * np.exp(-step * np.arange(taken.size + 1))
    metal: FloatArray = old + np.append(0.0, np.convolve(taken, faded)[: taken.size])
    return metal


def _step_s(length_s: float) -> float:
    return 60.0 * max(1, math.ceil(length_s / 60 / (MOST_SAMPLES - 1)))


def _read_s(shares: Sequence[Share], quantity: str) -> FloatArray:
    """When a quantity was read, by whatever source. [s], rising"""
    times = [each.read_s for each in shares if each.source.quantity == quantity]
    return np.sort(np.concatenate(times)) if times else np.empty(0)


def _gap_notes(
    read_s: FloatArray, last_s: float, old_after_min: float, what: str, instead: str = ""
) -> list[str]:
    """What was not read for longer than it may be; instead: what stands in for it."""
    edges = np.clip(np.concatenate(([0.0], read_s, [last_s])), 0.0, last_s)
    gaps = np.diff(np.sort(edges)) / 60
    notes = []
    if read_s[-1] < last_s - 60 * old_after_min:
        age = (last_s - read_s[-1]) / 60
        how = f"{instead or 'held'}, {WIDENED}"
        notes.append(f"the last reading of {what} is {duration(age, 'down')} old: {how}")
        gaps = gaps[:-1]
    wide = gaps[gaps > old_after_min]
    if wide.size:
        times = "once" if wide.size == 1 else f"{wide.size} times"
        notes.append(
            f"no reading of {what} for up to {duration(float(wide.max()))} ({times}): "
            f"{instead or 'bridged'}, {WIDENED}"
        )
    return notes


def _surface_notes(
    shares: Sequence[Share], last_s: float, old_after_min: float, assumed_c: float
) -> list[str]:
    skin_s, room_s = (_read_s(shares, f"{name}_temperature") for name in ("surface", "air"))
    if skin_s.size:
        instead = "the air stands in" if room_s.size and room_s[-1] > skin_s[-1] else ""
        return _gap_notes(skin_s, last_s, old_after_min, "the panel", instead)
    if not room_s.size:
        return [f"no temperature reading: {assumed_c:.3g} C assumed, and the band widened"]
    note = "no probe on the panel: its temperature is taken from the air, the band widened"
    return [note, *_gap_notes(room_s, last_s, old_after_min, "the air")]


def _humidity_notes(shares: Sequence[Share], last_s: float, old_after_min: float) -> list[str]:
    if not shares:
        return [f"no humidity reading: {ASSUMED_PCT:g} % assumed, and the band widened"]
    read_s = _read_s(shares, "relative_humidity")
    return _gap_notes(read_s, last_s, old_after_min, "humidity")


def _assumed(grid: FloatArray, value: float, sd: float) -> Known:
    even = np.ones(grid.size)
    return Known(even * value, 0 * even, even * sd**2, 0 * even, ())


def _behind(room: Known | None, grid: FloatArray, lag_min: float) -> Known | None:
    """The air through the metal's lag, as it stands in for the metal. lag_min [min]"""
    metal = for_surface(room)
    return metal and replace(metal, value=lagged(grid, metal.value, lag_min))


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
    typed_sd_c: float = 0.0,
    typed_sd_pct: float = 0.0,
) -> Conditions:
    """Readings to an even series from start to end, its doubt, and in words what was bridged.

    assumed_c: surface where nothing was measured [C]; lag_min: of the metal behind the air [min];
    old_after_min: a longer gap is said [min]; sensor_sd_c, humidity_sd_pct: doubt of one
    reading [C], [%]; typed_sd_c, typed_sd_pct: the least of a typed one [C], [%].
    """
    length_s = max(0.0, (end - start).total_seconds())
    step_s = _step_s(length_s)
    grid = step_s * np.arange(math.floor(length_s / step_s) + 1, dtype=np.float64)
    looked = Looked(indexed(readings), start, grid)
    warmth = Errors(sensor_sd_c, typed_sd_c, WALK_C, ELSEWHERE_SD_C)
    damp = Errors(humidity_sd_pct, typed_sd_pct, WALK_PCT, ELSEWHERE_SD_PCT)
    skin = looked.at("surface_temperature", place, warmth)
    room = looked.around("air_temperature", place, warmth)
    metal = blended(_behind(room, grid, lag_min), skin)
    metal = metal or _assumed(grid, assumed_c, ASSUMED_SD_C)
    around = blended(for_surface(skin), room) or metal
    wet = looked.around("relative_humidity", place, damp)
    notes = _surface_notes(
        (*(skin.shares if skin else ()), *(room.shares if room else ())),
        grid[-1], old_after_min, assumed_c,
    )  # fmt: skip
    notes += _humidity_notes(wet.shares if wet else (), grid[-1], old_after_min)
    wet = wet or _assumed(grid, ASSUMED_PCT, ASSUMED_SD_PCT)
    found = Conditions(
        start,
        step_s,
        metal.value,
        np.minimum(metal.sd, LARGEST_SD_C),
        around.value,
        wet.value,
        np.minimum(wet.sd, LARGEST_SD_PCT),
        "assumed",
        tuple(notes),
        metal.shares,
        around.shares,
        wet.shares,
    )
    return replace(found, source=_source(found.charge))


def _source(led: Charge | None) -> Source:
    if led is None:
        return "assumed"
    return "surface" if led.source.quantity == "surface_temperature" else "air"


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
    return conditions.start + timedelta(seconds=conditions.length_s)
