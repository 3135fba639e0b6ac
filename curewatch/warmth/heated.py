"""A mix in the drawn courses, with and without heat, and the least heat that is enough."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.thermal_history import minimum_c
from curewatch.products.sheet import Sheet
from curewatch.products.solvents import most_c
from curewatch.starts.courses import Courses
from curewatch.starts.products import DrawnProducts
from curewatch.starts.reached import may_be_mixed, reached
from curewatch.starts.windows import SURE
from curewatch.warmth import panel
from curewatch.warmth.owned import Heater
from curewatch.warmth.room import RoomTerms

Outside = Literal["", "cold", "hot"]
STEP = timedelta(minutes=10)
SCATTER_SEED = 20130104


@dataclass(frozen=True, eq=False)
class DrawnMix:
    """One product's mix in the drawn courses. hands_free: when heat may begin, None where it may
    not before the milestone."""

    sheet: Sheet
    milestone: str
    mixed_at: datetime
    by: datetime
    courses: Courses
    products: DrawnProducts
    hands_free: datetime | None = None

    def chance(self, courses: Courses) -> float:
        """That it is in time in these courses. [-]"""
        start = np.array([courses.sample(self.mixed_at)])
        table = reached(self.sheet, courses, self.products, self.milestone, start)
        return float(table.chance_by(courses.sample(self.by))[0])

    def outside(self, courses: Courses) -> Outside:
        """Whether it must not be mixed then, the panel being too cold or too hot."""
        start = np.array([courses.sample(self.mixed_at)])
        if bool(may_be_mixed(self.sheet, courses, start)[0]):
            return ""
        surface = float(np.interp(start, np.arange(courses.likely_c.size), courses.likely_c)[0])
        return "cold" if surface < minimum_c(self.sheet) else "hot"


def _minutes(courses: Courses) -> FloatArray:
    grid: FloatArray = np.arange(courses.likely_c.size) * courses.step_s / 60
    return grid


def _scatter(count: int, sd: float) -> FloatArray:
    """Factors on a rise, one for each course. [-]; sd: of their ln [-]"""
    draws_ = np.random.default_rng(SCATTER_SEED).standard_normal(count // 2)
    factors: FloatArray = np.exp(sd * np.concatenate((draws_, -draws_)))
    return factors


def lamp_rise_k(lamp: Heater, air_c: float) -> float:
    """How much warmer a lamp makes the panel in the end: as a probe showed, else as worked out. [K]

    air_c [C].
    """
    if lamp.probed_k is not None:
        return lamp.probed_k
    return panel.steady_rise_k(lamp.watts, lamp.lit_m2, air_c)


def lamp_sd(lamp: Heater) -> float:
    """Doubt of the ln of that. [-]"""
    return panel.ASSUMED_SD if lamp.probed_k is None else panel.PROBED_SD


@dataclass(frozen=True, eq=False)
class HeatedMix:
    """How a heater warms the courses: its rise for a spell in minutes from their start, its doubt,
    and whether it warms the air."""

    heater: Heater
    drawn: DrawnMix
    terms: RoomTerms
    air_c: float

    @property
    def steady_k(self) -> float:
        """A lamp's rise in the end. [K]"""
        return lamp_rise_k(self.heater, self.air_c)

    @property
    def sd(self) -> float:
        """Doubt of ln(rise). [-]"""
        return self.terms.sd if self.heater.on == "room" else lamp_sd(self.heater)

    def rise_k(self, start: datetime, end: datetime) -> FloatArray:
        """The likely rise along the courses. [K], shape (n,)"""
        minutes = _minutes(self.drawn.courses)
        on, off = (
            self.drawn.courses.sample(at) * self.drawn.courses.step_s / 60 for at in (start, end)
        )
        if self.heater.on == "room":
            kw, hours = self.heater.watts / 1000, (off - on) / 60
            return np.where(minutes < on, 0.0, self.terms.rise_k((minutes - on) / 60, kw, hours))
        constant = panel.time_constant_min(self.steady_k, self.air_c, self.heater.lit_m2)
        return panel.course(minutes, on, off, self.steady_k, constant)

    def courses(self, start: datetime, end: datetime) -> Courses:
        """The drawn courses with this heat."""
        plain = self.drawn.courses
        factors = _scatter(plain.surface_c.shape[0], self.sd)
        rise = factors[:, None] * self.rise_k(start, end)[None, :]
        most = most_c(self.drawn.sheet)
        return plain.warmed(rise, most, room=self.heater.on == "room")

    def panel_c(self, start: datetime, end: datetime) -> tuple[float, bool]:
        """The warmest the panel likely gets by this heat [C], and whether it would pass the
        product's limit with all of it."""
        plain, most = self.drawn.courses.likely_c, most_c(self.drawn.sheet)
        full = float((plain + self.rise_k(start, end)).max())
        return min(full, max(most, float(plain.max()))), full > most

    def margin_m(self, share: float) -> float:
        """How far to light beyond a joint, so that its edge has a share of the rise. [m]

        share [-].
        """
        height = math.sqrt(self.heater.lit_m2)
        return panel.margin_m(share, self.steady_k, self.air_c, height)


def least_heat(heated: HeatedMix, start: datetime, end: datetime) -> tuple[datetime, float]:
    """The earliest end of the heat that reaches 9 in 10, and the chance then; else the whole."""
    drawn = heated.drawn
    whole = drawn.chance(heated.courses(start, end))
    if whole < SURE:
        return end, whole
    low, high, best = 0, max(1, math.ceil((end - start) / STEP)), whole
    while high - low > 1:
        middle = (low + high) // 2
        chance = drawn.chance(heated.courses(start, start + middle * STEP))
        low, high, best = (middle, high, best) if chance < SURE else (low, middle, chance)
    return min(end, start + high * STEP), best
