"""Readings put in order by place and quantity, once for all who ask."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import TYPED, Quantity, Reading


@dataclass(frozen=True, eq=False)
class Series:
    """Values [C or %] at rising seconds from an instant [s], each of shape (n,)."""

    seconds: FloatArray
    values: FloatArray


def _sorted(readings: Sequence[Reading]) -> Series:
    """By time; of two at one instant the later in the list counts."""
    held = {reading.at.timestamp(): reading.value for reading in readings}
    seconds = np.fromiter(held.keys(), np.float64, len(held))
    values = np.fromiter(held.values(), np.float64, len(held))
    order = np.argsort(seconds, kind="stable")
    return Series(seconds[order], values[order])


_Key = tuple[Quantity, str, bool]


class Indexed(Sequence[Reading]):
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
                group.sort(key=lambda each: each.at)
        return self._groups

    def heard(self, quantity: Quantity, place: str) -> Sequence[Reading]:
        """What sensors at one place gave that is usable, in order of time."""
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


def indexed(readings: Sequence[Reading]) -> Indexed:
    """The readings, sorted once; already sorted ones are handed back."""
    return readings if isinstance(readings, Indexed) else Indexed(readings)
