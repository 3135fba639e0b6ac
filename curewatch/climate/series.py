"""Series in order of time: readings by place and quantity, sorted once for all who ask; air through
the metal's lag; the stretches of time in which something holds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import overload

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import TYPED, Quantity, Reading
from curewatch.frozen import frozen

FORGOTTEN = 40.0
MERGED = timedelta(minutes=15)


@dataclass(frozen=True, eq=False)
class Series:
    """Values [C or %] at rising seconds from an instant [s], each of shape (n,)."""

    seconds: FloatArray
    values: FloatArray


def _sorted(readings: Sequence[Reading]) -> Series:
    """By time; of two at one instant the later in the list counts."""
    value_at = {reading.at.timestamp(): reading.value for reading in readings}
    seconds = np.fromiter(value_at.keys(), np.float64, len(value_at))
    values = np.fromiter(value_at.values(), np.float64, len(value_at))
    order = np.argsort(seconds, kind="stable")
    return Series(seconds[order], values[order])


_Key = tuple[Quantity, str, bool]


class IndexedReadings(Sequence[Reading]):
    """A sequence of readings that sorts each place's quantities only once.

    Whatever takes readings takes this too, and is quicker when it is asked again.
    """

    def __init__(self, readings: Sequence[Reading]) -> None:
        self._all = readings
        self._groups: dict[_Key, list[Reading]] | None = None
        self._series: dict[_Key, Series] = {}

    @overload
    def __getitem__(self, index: int) -> Reading: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Reading]: ...
    def __getitem__(self, index: int | slice) -> Reading | Sequence[Reading]:
        return self._all[index]

    def __len__(self) -> int:
        return len(self._all)

    def _grouped(self) -> dict[_Key, list[Reading]]:
        if self._groups is None:
            self._groups = {}
            for reading in self._all:
                if not reading.flag:
                    key = (reading.quantity, reading.place, reading.source == TYPED)
                    self._groups.setdefault(key, []).append(reading)
            for group in self._groups.values():
                group.sort(key=lambda reading: reading.at)
        return self._groups

    def by_sensors(self, quantity: Quantity, place: str) -> Sequence[Reading]:
        """The usable readings of sensors at one place, in order of time."""
        return self._grouped().get((quantity, place, False), ())

    def of(self, quantity: Quantity, place: str, typed: bool) -> Series | None:
        """The usable readings of one place since 1970 [s], typed or by sensors; None where there
        are none."""
        key = (quantity, place, typed)
        if key not in self._series:
            group = self._grouped().get(key)
            if group is None:
                return None
            self._series[key] = _sorted(group)
        return self._series[key]


def indexed(readings: Sequence[Reading]) -> IndexedReadings:
    """The readings, sorted once; already sorted ones are handed back."""
    return readings if isinstance(readings, IndexedReadings) else IndexedReadings(readings)


def lagged(seconds: FloatArray, values_c: FloatArray, lag_min: float) -> FloatArray:
    """Metal that follows the air with a first-order lag. [C]

    Parameters
    ----------
    seconds : array, shape (n,)
        The instants, rising. [s]
    values_c : array, shape (n,)
        Temperature of the air. [C]
    lag_min : float
        Time constant; 0 and less: no lag. [min]

    Returns
    -------
    array, shape (n,)
        Temperature of the metal, which begins at the air's first. [C]

    Notes
    -----
    Exact for air that is straight between instants: over a step of x = dt/lag the metal keeps
    exp(-x) of itself, the later air counts 1 - m and the earlier m - exp(-x), m = (1 - exp(-x))/x.
    """
    if lag_min <= 0 or values_c.size < 2:
        return values_c.copy()
    steps = np.diff(seconds) / (60 * lag_min)
    remainder = np.exp(-steps)
    mean = (1 - remainder) / np.maximum(steps, 1e-12)
    followed = (mean - remainder) * values_c[:-1] + (1 - mean) * values_c[1:]
    if np.ptp(steps) < 1e-9 * steps[0]:
        return _even_lag(values_c[0], followed, float(steps[0]))
    metal = values_c.copy()
    for i, (remaining, more) in enumerate(zip(remainder, followed, strict=True), 1):
        metal[i] = remaining * metal[i - 1] + more
    return metal


def _even_lag(first_c: float, followed: FloatArray, step: float) -> FloatArray:
    """The same where all steps are equal; step: as a part of the lag [-]. [C]"""
    faded = np.exp(-step * np.arange(min(followed.size, math.ceil(FORGOTTEN / step)) + 1))
    old = first_c * np.exp(-step * np.arange(followed.size + 1))
    metal: FloatArray = old + np.append(0.0, np.convolve(followed, faded)[: followed.size])
    return metal


@frozen
class Interval:
    """A stretch of time."""

    start: datetime
    end: datetime


def spells(start: datetime, step_s: float, holds: FloatArray) -> tuple[Interval, ...]:
    """The stretches of time in which something holds, short gaps bridged.

    Parameters
    ----------
    start : datetime
        The instant of the first sample.
    step_s : float
        Between two samples. [s]
    holds : array, shape (n,)
        1 where it holds, else 0. [-]

    Returns
    -------
    tuple of Interval
        In order; gaps of MERGED and less are bridged.
    """
    intervals: list[Interval] = []
    for index in np.flatnonzero(holds):
        at = start + timedelta(seconds=step_s * float(index))
        end = at + timedelta(seconds=step_s)
        if intervals and at - intervals[-1].end <= MERGED:
            intervals[-1] = Interval(intervals[-1].start, end)
        else:
            intervals.append(Interval(at, end))
    return tuple(intervals)
