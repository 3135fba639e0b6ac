"""What the weather and the products do in the drawn weeks, on the grid of ten minutes."""

from __future__ import annotations

from collections.abc import Callable
from zlib import crc32

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.belief import Learned
from curewatch.cure.inputs import Mix
from curewatch.cure.thermal_history import minimum_c
from curewatch.products.sheet import Sheet
from curewatch.products.solvents import leaving, most_c
from curewatch.starts import products
from curewatch.starts.courses import Courses
from curewatch.starts.products import DrawnProducts
from curewatch.starts.reached import ages
from curewatch.starts.windows import COURSES, SEED
from curewatch.ways.walk import Link
from curewatch.ways.way import WayStep

STEP_MIN = 10.0
COATS = ("primer", "sealer")
"""The kinds of product that dust would spoil while they are wet."""


def on_grid(weeks: Courses) -> Courses:
    """The courses at full ten minutes of the clock."""
    step = STEP_MIN * 60 / weeks.step_s
    first = (-weeks.start.timestamp() % (STEP_MIN * 60)) / weeks.step_s
    samples = np.arange(first, weeks.likely_c.size - 1, step)
    below = np.floor(samples).astype(np.intp)
    part = samples - below

    def between(values: FloatArray) -> FloatArray:
        held: FloatArray = (1 - part) * values[..., below] + part * values[..., below + 1]
        return held

    return Courses(
        weeks.instant(first),
        STEP_MIN * 60,
        between(weeks.likely_c),
        between(weeks.surface_c),
        between(weeks.air_c),
        between(weeks.humidity_pct),
    )


Beliefs = Callable[[Sheet], Learned]


class Draws:
    """What products do in the drawn weeks; several mixes of one share all but their own batch."""

    def __init__(self, weeks: Courses, beliefs: Beliefs, heated: Courses | None = None) -> None:
        """heated: the same weeks with heat, for what does not dry by solvent."""
        self.weeks, self.beliefs, self._heated = weeks, beliefs, heated
        self._ages: dict[tuple[str, str], FloatArray] = {}

    def _drawn(self, sheet: Sheet, milestone: str, index: int) -> DrawnProducts:
        of_product = np.random.default_rng((SEED, crc32(sheet.id.encode())))
        of_mix = np.random.default_rng((SEED, 11, index))
        known, mix = self.beliefs(sheet), Mix(self.weeks.start)
        return products.drawn(sheet, mix, known, milestone, COURSES, of_product, of_mix)

    def link(self, step: WayStep, sheet: Sheet | None, milestone: str, index: int) -> Link:
        """A step that waits for a milestone, its hands as the way says."""
        even = np.ones(COURSES)
        if sheet is None or milestone not in sheet.reference.minutes:
            return Link(step, even)
        drawn = self._drawn(sheet, milestone, index)
        key = (sheet.id, milestone)
        if key not in self._ages:
            weeks = self.weeks if leaving(sheet) is not None else self._heated or self.weeks
            self._ages[key] = ages(sheet, weeks, drawn, milestone)
        least, most = minimum_c(sheet), most_c(sheet)
        return Link(step, even, self._ages[key], drawn.need_min, least, most)


def quantile(samples: FloatArray, share: float) -> FloatArray:
    """The least value that a share of the weeks does not pass. samples: shape (weeks, ...)"""
    index = max(0, int(np.ceil(share * samples.shape[0])) - 1)
    at: FloatArray = np.partition(samples, index, axis=0)[index]
    return at


def reached_by(link: Link, mixes: FloatArray, share: float) -> FloatArray:
    """When a milestone is reached with a share of certainty, for mixes at some samples. [-]"""
    if link.age_min is None or link.need_min is None:
        return mixes
    samples = np.arange(link.age_min.shape[1], dtype=np.float64)
    held = np.empty((link.age_min.shape[0], mixes.size))
    for row, (age, need) in enumerate(zip(link.age_min, link.need_min, strict=True)):
        held[row] = np.interp(np.interp(mixes, samples, age) + need, age, samples, right=np.inf)
    return quantile(held, share)
