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
        value: FloatArray = (1 - part) * values[..., below] + part * values[..., below + 1]
        return value

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
        """heated: the same weeks with heat, for what is clamped and does not dry by solvent."""
        self.weeks, self.beliefs, self._heated = weeks, beliefs, heated
        self._ages: dict[tuple[str, str, bool], FloatArray] = {}

    def _drawn(self, sheet: Sheet, milestone: str, index: int) -> DrawnProducts:
        of_product = np.random.default_rng((SEED, crc32(sheet.id.encode())))
        of_mix = np.random.default_rng((SEED, 11, index))
        belief, mix = self.beliefs(sheet), Mix(self.weeks.start)
        return products.drawn(sheet, mix, belief, milestone, COURSES, of_product, of_mix)

    def link(self, step: WayStep, sheet: Sheet | None, milestone: str, index: int) -> Link:
        """A step that waits for a milestone, its hands as the way says."""
        even = np.ones(COURSES)
        if sheet is None or milestone not in sheet.reference.minutes:
            return Link(step, even)
        drawn = self._drawn(sheet, milestone, index)
        age, warm = self._age(sheet, drawn, milestone, self.weeks), None
        if self._heated is not None and leaving(sheet) is None:
            warm = self._age(sheet, drawn, milestone, self._heated)
        least, most = minimum_c(sheet), most_c(sheet)
        return Link(step, even, age, drawn.need_min, least, most, warm, STEP_MIN * 60)

    def _age(
        self, sheet: Sheet, drawn: DrawnProducts, milestone: str, weeks: Courses
    ) -> FloatArray:
        """The running equivalent age of a product, worked out once. [min]"""
        key = (sheet.id, milestone, weeks is self._heated)
        if key not in self._ages:
            self._ages[key] = ages(sheet, weeks, drawn, milestone)
        return self._ages[key]


def quantile(samples: FloatArray, share: float) -> FloatArray:
    """The least value that a share of the weeks does not pass. samples: shape (weeks, ...)"""
    index = max(0, int(np.ceil(share * samples.shape[0])) - 1)
    at: FloatArray = np.partition(samples, index, axis=0)[index]
    return at


def reached_by(link: Link, mixes: FloatArray, share: float) -> FloatArray:
    """When a milestone is reached with a share of certainty, for mixes at some samples. [-]"""
    if link.age_min is None or link.need_min is None:
        return mixes
    weeks = range(link.age_min.shape[0])
    return quantile(np.stack([link.reached(week, mixes) for week in weeks]), share)
