"""When a milestone is reached, for every start ahead and every drawn course and product.

Notes
-----
Equivalent age is one running integral over the course, so a mix started at s has reached what needs
N when theta(t) = theta(s) + N: one look-up for each start, whatever their number. A later start
never reaches it sooner. The minutes in which a product comes to the panel's temperature are left
out: they move the answer by less than they last.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure import equivalent_age
from curewatch.cure.thermal_history import (
    ThermalHistory,
    first_stage_share,
    minimum_c,
    speed_over,
    stalls,
)
from curewatch.products.sheet import Sheet
from curewatch.starts.courses import Courses
from curewatch.starts.products import DrawnProducts

BoolArray = NDArray[np.bool_]

RISE_MIN = 1e-9
"""Added to the age at each sample, so that one which stands still has one answer. [min]"""


@dataclass(frozen=True, eq=False)
class Reached:
    """By course and start, the sample at which a milestone is reached, inf where it is not.

    samples [-], shape (courses, starts); starts: the samples they are at [-], shape (starts,).
    """

    courses: Courses
    starts: FloatArray
    samples: FloatArray

    def chance_by(self, sample: float) -> FloatArray:
        """Share of the courses in which it is there by a sample, by start. [-], shape (starts,)"""
        share: FloatArray = (self.samples <= sample + 1e-6).mean(axis=0)
        return share

    def chance_before_cold(self, least_c: float) -> FloatArray:
        """Share in which it is there before the surface is colder than this, by start. [-]

        least_c [C].
        """
        n = self.courses.surface_c.shape[1]
        cold = np.where(self.courses.surface_c < least_c, np.arange(n), np.inf)
        coming = np.minimum.accumulate(cold[:, ::-1], axis=1)[:, ::-1]
        first = coming[:, np.ceil(self.starts - 1e-9).astype(np.intp)]
        in_time = np.isfinite(self.samples) & (self.samples <= first)
        share: FloatArray = in_time.mean(axis=0)
        return share


def _history(courses: Courses, rows: NDArray[np.intp]) -> ThermalHistory:
    surface = courses.surface_c[rows]
    minutes = np.arange(surface.shape[1]) * courses.step_s / 60
    return ThermalHistory(
        minutes,
        surface,
        courses.air_c[rows],
        courses.humidity_pct[rows],
        np.full(surface.shape[0], 1 / surface.shape[0]),
        0.0,
        float(minutes[-1]),
    )


def ages(sheet: Sheet, courses: Courses, products: DrawnProducts, milestone: str) -> FloatArray:
    """Running equivalent age of each course with its product. [min], shape (courses, n)"""
    share, stalling = first_stage_share(sheet, milestone), stalls(milestone)
    speed = np.empty_like(courses.surface_c)
    kinds = np.stack((products.energy_kj, products.steep_kj), axis=1)
    for energy_kj, steep_kj in np.unique(kinds, axis=0):
        rows = np.flatnonzero((kinds == (energy_kj, steep_kj)).all(axis=1))
        history = _history(courses, rows)
        of_energy = speed_over(
            sheet, history, history.surface_c, share, stalling=stalling, steep_kj=float(steep_kj)
        )
        speed[rows] = of_energy(np.array([energy_kj]))[:, 0, :]
    minutes = np.arange(speed.shape[1]) * courses.step_s / 60
    return equivalent_age.cumulative(minutes, speed) + RISE_MIN * np.arange(speed.shape[1])


def reached(
    sheet: Sheet, courses: Courses, products: DrawnProducts, milestone: str, starts: FloatArray
) -> Reached:
    """When a milestone is reached for each start.

    Parameters
    ----------
    sheet : Sheet
        The product.
    courses, products
        As many of one as of the other.
    milestone : str
        Which one.
    starts : array, shape (starts,)
        Samples of the courses at which it may be mixed. [-]

    Returns
    -------
    Reached
    """
    samples = np.arange(courses.surface_c.shape[1], dtype=np.float64)
    reached = np.empty((courses.surface_c.shape[0], starts.size))
    running = ages(sheet, courses, products, milestone)
    for row, (age, need_min) in enumerate(zip(running, products.need_min, strict=True)):
        wanted = np.interp(starts, samples, age) + need_min
        reached[row] = np.interp(wanted, age, samples, right=np.inf)
    return Reached(courses, starts, reached)


def may_be_mixed(sheet: Sheet, courses: Courses, starts: FloatArray) -> BoolArray:
    """Whether the likely surface is within the sheet's limits at each start, shape (starts,).

    starts: samples of the courses [-].
    """
    samples = np.arange(courses.likely_c.size)
    surface_c = np.interp(starts, samples, courses.likely_c)
    span = sheet.limits.temperature_c
    most = np.inf if span is None else span[1]
    within: BoolArray = (surface_c >= minimum_c(sheet)) & (surface_c <= most)
    return within
