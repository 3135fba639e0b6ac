"""Stretches of time in which something held, short gaps bridged."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from curewatch.climate.psychrometrics import FloatArray

MERGED = timedelta(minutes=15)


@dataclass(frozen=True)
class Spell:
    """A stretch of time."""

    start: datetime
    end: datetime


def spells(start: datetime, step_s: float, held: FloatArray) -> tuple[Spell, ...]:
    """The stretches of samples that hold (1) among others (0), short gaps bridged. step_s [s]"""
    found: list[Spell] = []
    for index in np.flatnonzero(held):
        at = start + timedelta(seconds=step_s * float(index))
        end = at + timedelta(seconds=step_s)
        if found and at - found[-1].end <= MERGED:
            found[-1] = Spell(found[-1].start, end)
        else:
            found.append(Spell(at, end))
    return tuple(found)
