"""From the chances of every start to answers: between when and when, and how likely."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from curewatch.climate.outlook import Outlook
from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.belief import Learned
from curewatch.cure.inputs import Mix
from curewatch.frozen import frozen
from curewatch.starts import courses, products
from curewatch.starts.courses import Courses
from curewatch.starts.products import DrawnProducts
from curewatch.starts.reached import BoolArray, Reached, may_be_mixed, reached

if TYPE_CHECKING:
    from curewatch.products.sheet import Sheet

SURE = 0.9
COURSES, SEED = 200, 20130101
EVERY_MIN, LONGEST = 5, timedelta(days=7)


@frozen
class Window:
    """A mix started from `start` until `end` is in time as surely as was asked."""

    start: datetime
    end: datetime


@dataclass(frozen=True, eq=False)
class StartChances:
    """Of each start the chance to be in time. instants; chance [-], allowed: whether it may be
    mixed then, both of shape (starts,)."""

    instants: tuple[datetime, ...]
    chance: FloatArray
    allowed: BoolArray

    def windows(self, share: float = SURE) -> tuple[Window, ...]:
        """Between when and when it is in time with this share of certainty, the soonest first."""
        good = self.allowed & (self.chance >= share)
        edges = np.diff(np.pad(good.astype(int), 1))
        pairs = zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True)
        return tuple(Window(self.instants[i], self.instants[j - 1]) for i, j in pairs)

    def latest(self, share: float = SURE) -> datetime | None:
        """The latest start of the window that comes first; None where there is none."""
        return next((window.end for window in self.windows(share)), None)

    @property
    def now(self) -> float:
        """The chance of the first start. [-]"""
        return float(self.chance[0]) if self.allowed[0] else 0.0

    @property
    def best(self) -> tuple[datetime, float] | None:
        """The earliest of the starts with the greatest chance, and that chance [-]; None where it
        may be mixed at none."""
        if not self.allowed.any():
            return None
        chances = np.where(self.allowed, self.chance, -1.0)
        first = int(np.argmax(chances))
        return self.instants[first], float(chances[first])


@dataclass(frozen=True, eq=False)
class Starts:
    """The starts ahead of one mix and when each reaches a milestone."""

    sheet: Sheet
    reached: Reached

    def _chances(self, chance: FloatArray) -> StartChances:
        table = self.reached
        instants = tuple(table.courses.instant(float(sample)) for sample in table.starts)
        return StartChances(instants, chance, may_be_mixed(self.sheet, table.courses, table.starts))

    def by(self, at: datetime) -> StartChances:
        """The chance that it is reached by an instant."""
        return self._chances(self.reached.chance_by(self.reached.courses.sample(at)))

    def before_cold(self, least_c: float) -> StartChances:
        """The chance that it is reached before the surface is colder than this. least_c [C]"""
        return self._chances(self.reached.chance_before_cold(least_c))


def _five_minutes(paths: Courses, until: datetime) -> FloatArray:
    """Now, and every full five minutes of the clock after it, as samples. [-]"""
    last = min(paths.sample(until), paths.likely_c.size - 1.0)
    passed_s = paths.start.timestamp() % (60 * EVERY_MIN)
    first = (60 * EVERY_MIN - passed_s) / paths.step_s
    full = np.arange(first, last + 1e-6, 60 * EVERY_MIN / paths.step_s)
    return np.concatenate((np.zeros(1), full))


def draws(
    sheet: Sheet, mix: Mix, learned: Learned, ahead: Outlook, milestone: str
) -> tuple[Courses, DrawnProducts]:
    """The courses and products that every answer is counted in, from a fixed seed."""
    rng = np.random.default_rng(SEED)
    return courses.drawn(ahead, COURSES, rng), products.drawn(
        sheet, mix, learned, milestone, COURSES, rng
    )


def starts(
    sheet: Sheet, mix: Mix, learned: Learned, ahead: Outlook, milestone: str, until: datetime
) -> Starts:
    """The outlook's first instant, and every full five minutes until another.

    The same question has the same answer bit for bit: the chances come from a fixed seed.

    Parameters
    ----------
    sheet, mix
        The product and how it would be mixed.
    learned : Learned
        The belief in the product.
    ahead : Outlook
        Which begins at the first start, and ends no sooner than anything asked.
    milestone : str
        Which one is waited for.
    until : datetime
        The last start.

    Returns
    -------
    Starts
    """
    paths, drawn = draws(sheet, mix, learned, ahead, milestone)
    samples = _five_minutes(paths, until)
    return Starts(sheet, reached(sheet, paths, drawn, milestone, samples))
