"""A stretch of the air as it is drawn: what was measured, the spells in it, and the steps it met.

Notes
-----
A stretch is cut into equal buckets. Up to two days they are worked out from the readings; a longer
one is read from the roll-ups by the hour, which keep least and most. The gap to the dew point of a
bucket is that of its means; its least takes the coldest surface of the bucket against the bucket's
mean dew point, so that it errs to the damp side.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from curewatch.climate import psychrometrics
from curewatch.climate.psychrometrics import NEAR_DEW_K, FloatArray
from curewatch.climate.reading import AIR_PLACE, TYPED
from curewatch.climate.series import Interval, spells
from curewatch.quality.typed import LIVE
from curewatch.store.rollup import HOUR_MS
from curewatch.walltime import from_ms, to_ms

if TYPE_CHECKING:
    from curewatch.climate.reading import Reading
    from curewatch.store.readings import FlaggedSpan
    from curewatch.store.store import StepSummary, Store

FINE = timedelta(hours=48)
MOST_BUCKETS = 720
_FINE_S = (60, 120, 300, 600)
_HOURS = (1, 2, 3, 4, 6, 8, 12, 24, 48, 72, 120, 168, 336, 720, 2160, 8760)
MOST_SURFACES, MOST_STEPS, MOST_FLAGS, MARKS = 2, 40, 200, 120
GAP = "dew_point_spread"
Key = tuple[str, str]


@dataclass(frozen=True, eq=False)
class AirCourse:
    """One quantity at one place: least, mean and most of each bucket, nan where nothing was
    measured. [C, % or K], each of shape (n,)"""

    place: str
    quantity: str
    low: FloatArray
    mean: FloatArray
    high: FloatArray


@dataclass(frozen=True, eq=False)
class AirHistory:
    """A stretch from `start` to `end` in buckets of bucket_s [s], whose middles are `times` [s
    since 1970], of shape (n,).

    limit_c: spells with the surface below it are `below` [C]; damp: those with less than 3 K
    to the dew point; steps: what was worked on then, flagged: readings that are not used.
    """

    start: datetime
    end: datetime
    bucket_s: float
    times: FloatArray
    courses: tuple[AirCourse, ...]
    limit_c: float
    below: tuple[Interval, ...]
    damp: tuple[Interval, ...]
    steps: tuple[StepSummary, ...]
    flagged: tuple[FlaggedSpan, ...]

    def of(self, quantity: str) -> AirCourse | None:
        """The first course of a quantity."""
        return next((course for course in self.courses if course.quantity == quantity), None)


def bucket_of(start: datetime, end: datetime) -> float:
    """The shortest bucket that cuts a stretch into a number that can be drawn. [s]"""
    length_s = (end - start).total_seconds()
    allowed = (*(_FINE_S if end - start <= FINE else ()), *(hours * 3600 for hours in _HOURS))
    fitting = (length for length in allowed if length_s / length <= MOST_BUCKETS)
    return float(next(fitting, allowed[-1]))


class _Grid:
    """Buckets over a stretch, by which the rows of the store are put in order."""

    def __init__(self, start: datetime, end: datetime, bucket_s: float) -> None:
        self.step_ms = round(bucket_s * 1000)
        self.first = to_ms(start) // self.step_ms
        self.size = max(1, -(-to_ms(end) // self.step_ms) - self.first)
        self.held: dict[Key, FloatArray] = {}

    @property
    def start(self) -> datetime:
        return from_ms(self.first * self.step_ms)

    @property
    def middles_s(self) -> FloatArray:
        numbers = np.arange(self.size, dtype=np.float64)
        middles: FloatArray = (self.first + 0.5 + numbers) * self.step_ms / 1000
        return middles

    def put(self, key: Key, at_ms: int, low: float, mean: float, high: float) -> None:
        """Keep what a bucket held; a second sensor's at the same place is averaged in."""
        index = at_ms // self.step_ms - self.first
        if not 0 <= index < self.size:
            return
        if key not in self.held:
            self.held[key] = np.full((3, self.size), np.nan)
        row = self.held[key][:, index]
        if math.isnan(row[1]):
            row[:] = (low, mean, high)
        else:
            row[:] = (min(low, row[0]), (mean + row[1]) / 2, max(high, row[2]))

    def measured_near(self, key: Key, at_ms: int, within_ms: int) -> bool:
        """Whether a bucket holds anything of that key at an instant, or so near to it. [ms]"""
        first = (at_ms - within_ms) // self.step_ms - self.first
        last = (at_ms + within_ms) // self.step_ms - self.first
        means = self.held[key][1, max(first, 0) : max(last + 1, 0)] if key in self.held else None
        return means is not None and bool(np.isfinite(means).any())

    def courses(self) -> dict[Key, AirCourse]:
        """What each place measured."""
        return {key: AirCourse(*key, *rows) for key, rows in self.held.items()}


def _put_readings(grid: _Grid, readings: Sequence[Reading]) -> None:
    """Sensors first; what was typed beside a sensor that reported then counts as little here as
    for the times."""
    by_sensors = [reading for reading in readings if reading.source != TYPED]
    _put(grid, by_sensors)
    within_ms = round(LIVE.total_seconds() * 1000)
    alone = [
        reading
        for reading in readings
        if reading.source == TYPED
        and not grid.measured_near(_key(reading), to_ms(reading.at), within_ms)
    ]
    _put(grid, alone)


def _key(reading: Reading) -> Key:
    return reading.place, reading.quantity


def _put(grid: _Grid, readings: Iterable[Reading]) -> None:
    for reading in readings:
        grid.put(_key(reading), to_ms(reading.at), reading.value, reading.value, reading.value)


def _filled(store: Store, start: datetime, end: datetime, bucket_s: float) -> _Grid:
    grid = _Grid(start, end, bucket_s)
    if bucket_s % 3600:
        _put_readings(grid, store.readings(start, end, bucket_s=bucket_s))
        return grid
    for hour in store.measured_spans(start, end, hours=round(bucket_s / 3600)):
        start_ms = max(to_ms(hour.start), grid.first * grid.step_ms)
        grid.put((hour.place, hour.quantity), start_ms, hour.minimum, hour.mean, hour.maximum)
    return grid


def _surfaces(keys: Iterable[Key], first: str) -> list[str]:
    places = sorted({place for place, quantity in keys if quantity == "surface_temperature"})
    return sorted(places, key=lambda place: (place != first, place != "panel"))[:MOST_SURFACES]


def _chosen(course_of: dict[Key, AirCourse], place: str) -> list[AirCourse]:
    """Surfaces first, then air, outdoors and humidity: what a step at that place leans on."""
    keys: list[Key] = [(surface, "surface_temperature") for surface in _surfaces(course_of, place)]
    for quantity in ("air_temperature", "relative_humidity"):
        near = next(
            (candidate for candidate in (AIR_PLACE, place) if (candidate, quantity) in course_of),
            "",
        )
        keys.append((near, quantity))
    keys.append(("outdoors", "air_temperature"))
    return [course_of[key] for key in keys if key in course_of]


def _gap(courses: Sequence[AirCourse], place: str) -> AirCourse | None:
    """How far the first surface was above the dew point of the air. [K]"""
    first = {course.quantity: course for course in reversed(courses) if course.place != "outdoors"}
    surface, air = first.get("surface_temperature"), first.get("air_temperature")
    damp = first.get("relative_humidity")
    if surface is None or air is None or damp is None:
        return None
    dew_c = psychrometrics.dew_point_c(air.mean, np.maximum(damp.mean, 1.0))
    gaps = [np.asarray(band - dew_c) for band in (surface.low, surface.mean, surface.high)]
    return AirCourse(surface.place, GAP, *gaps)


def _spells(grid: _Grid, values: FloatArray, limit: float) -> tuple[Interval, ...]:
    """The stretches with values under a limit. [unit of values]"""
    with np.errstate(invalid="ignore"):
        under = (values < limit).astype(np.float64)
    return spells(grid.start, grid.step_ms / 1000, under)


def _steps(store: Store, start: datetime, end: datetime) -> tuple[StepSummary, ...]:
    """The latest steps of the stretch, in order of mixing."""
    return tuple(store.step_summaries(start, end)[-MOST_STEPS:])


def air_history(
    store: Store, start: datetime, end: datetime, *, place: str = "panel", limit_c: float
) -> AirHistory:
    """What was measured from start to end around a place, for a drawing. limit_c [C]"""
    bucket_s = bucket_of(start, end)
    grid = _filled(store, start, end, bucket_s)
    courses = _chosen(grid.courses(), place)
    gap = _gap(courses, place)
    surface = next((course for course in courses if course.quantity == "surface_temperature"), None)
    return AirHistory(
        start,
        end,
        bucket_s,
        grid.middles_s,
        (*courses, *([gap] if gap else ())),
        limit_c,
        () if surface is None else _spells(grid, surface.low, limit_c),
        () if gap is None else _spells(grid, gap.low, NEAR_DEW_K),
        _steps(store, start, end),
        tuple(store.flagged(start, end, (end - start) / MARKS, MOST_FLAGS)),
    )


def begins(store: Store, now: datetime) -> datetime:
    """The first hour that anything was measured in; a day back where nothing was."""
    first = store.first_hour()
    return now - timedelta(days=1) if first is None else min(from_ms(first * HOUR_MS), now)
