"""A way walked through two hundred drawn weeks: when each step is begun, and when all is done.

Notes
-----
In each week each step begins as soon as what it waits for is there, somebody is there long enough,
it may be loud if it is loud, and the panel is warm enough to mix. A person plans with the hands-on
time that the way gives, stretched by what their own log taught; what it really takes scatters by
35 %, so that a plan counts a slow hand too. Over the week the weather, the product and the hands of
one draw stay together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from curewatch.climate.psychrometrics import FloatArray
from curewatch.starts.courses import Courses
from curewatch.ways.hours import Spell
from curewatch.ways.way import WayStep

BoolArray = NDArray[np.bool_]
HANDS_SD = 0.35
Held = Literal["hardening", "absent", "loud", "cold", "hands", "air", "clamps"]


@dataclass(frozen=True, eq=False)
class Link:
    """A step in the drawn weeks: age_min: the running equivalent age of its product, shape (weeks,
    n), None where it takes none; need_min: the age it waits for [min], shape (weeks,); least_c,
    most_c: between which it may be mixed [C]; hands: factors on the hands-on time [-], shape
    (weeks,); warm_min: the same age with heat, which counts once the hands are off it and the
    clamps on, None without heat [min]; sample_s: the length of a sample of that [s]."""

    step: WayStep
    hands: FloatArray
    age_min: FloatArray | None = None
    need_min: FloatArray | None = None
    least_c: float = -np.inf
    most_c: float = np.inf
    warm_min: FloatArray | None = None
    sample_s: float = 600.0

    def reached(self, week: int, mixed: FloatArray) -> FloatArray:
        """When in a week what it waits for is there, for mixes at some samples. [-]"""
        if self.age_min is None or self.need_min is None:
            return mixed
        age, need = self.age_min[week], float(self.need_min[week])
        samples = np.arange(age.size, dtype=np.float64)
        at_mix = np.interp(mixed, samples, age)
        at: FloatArray = np.interp(at_mix + need, age, samples, right=np.inf)
        if self.warm_min is None:
            return at
        work_min = self.step.hands_min - self.step.mixed_after_min
        clamped = mixed + work_min * self.hands[week] * 60 / self.sample_s
        left, warm = need - (np.interp(clamped, samples, age) - at_mix), self.warm_min[week]
        hot = np.interp(np.interp(clamped, samples, warm) + left, warm, samples, right=np.inf)
        return np.where(left > 0, hot, at)


@dataclass(frozen=True, eq=False)
class Walked:
    """By week the samples at which each step could have begun, by what it waits for, at which it
    begins and at which the hands are off it, inf where it never is. [-], shape (steps, weeks)"""

    ready: FloatArray
    begins: FloatArray
    ends: FloatArray

    @property
    def done(self) -> FloatArray:
        """When the hands are off the last step. [-], shape (weeks,)"""
        last: FloatArray = self.ends[-1]
        return last


class Evenings:
    """The samples of the courses at which somebody is there, and how long they still are."""

    def __init__(self, courses: Courses, spells: Sequence[Spell]) -> None:
        self.courses = courses
        self.count = courses.likely_c.size
        self.left = np.zeros(self.count)
        self.left_loud = np.zeros(self.count)
        for spell in spells:
            start, end, loud = (
                courses.sample(at) for at in (spell.start, spell.end, spell.loud_end)
            )
            here = np.arange(max(0, int(np.ceil(start - 1e-6))), min(self.count, int(end) + 1))
            self.left[here] = np.maximum(self.left[here], end - here)
            self.left_loud[here] = np.maximum(self.left_loud[here], loud - here)

    def may_begin(self, link: Link, planned: float) -> BoolArray:
        """Whether a step may begin, by week and sample. planned: its hands-on samples [-]"""
        stays = planned + link.step.airing_min * 60 / self.courses.step_s
        room: BoolArray = self.left >= stays - 1e-6
        if link.step.loud:
            room &= self.left_loud >= planned - 1e-6
        if link.age_min is None:
            return np.broadcast_to(room, self.courses.surface_c.shape)
        surface = self.courses.surface_c
        warm: BoolArray = (surface >= link.least_c) & (surface <= link.most_c)
        return room[None, :] & warm

    def reason(self, link: Link, planned_min: float, ready: float) -> Held:
        """Why a step that is ready does not begin: nobody is there long enough, it may not be loud
        any more, or the panel is outside the label's limits. planned_min [min]; ready: sample [-]
        """
        at = min(int(np.ceil(ready - 1e-6)), self.count - 1)
        planned = planned_min * 60 / self.courses.step_s
        if self.left[at] < planned + link.step.airing_min * 60 / self.courses.step_s:
            return "absent"
        return "loud" if link.step.loud and self.left_loud[at] < planned else "cold"

    def first_begin(self, link: Link, planned: float) -> FloatArray:
        """The first sample from each on at which it may begin, inf where none. [-]"""
        may = self.may_begin(link, planned)
        at = np.where(may, np.arange(self.count), np.inf)
        first: FloatArray = np.minimum.accumulate(at[:, ::-1], axis=1)[:, ::-1]
        return first


def reached_at(link: Link, mixed: FloatArray) -> FloatArray:
    """When a step's milestone is reached, by week; mixed: at which sample. [-]"""
    if link.age_min is None or link.need_min is None:
        return mixed
    at = np.full(mixed.size, np.inf)
    for week in np.flatnonzero(np.isfinite(mixed)):
        at[week] = link.reached(int(week), mixed[week])
    return at


def _begin(first: FloatArray, ready: FloatArray) -> FloatArray:
    """The first possible beginning from when it is ready. [-]"""
    begin = np.full(ready.size, np.inf)
    weeks = np.flatnonzero(ready < first.shape[1] - 1)
    samples = np.ceil(ready[weeks] - 1e-6).astype(np.intp)
    begin[weeks] = np.maximum(first[weeks, samples], ready[weeks])
    return begin


def walk(
    links: Sequence[Link],
    evenings: Evenings,
    planned_factor: float,
    ready: FloatArray,
    firsts: Sequence[FloatArray] | None = None,
) -> Walked:
    """Walk the links through every week.

    planned_factor: on the way's hands-on times, as one plans with them [-]; ready: when the first
    may begin [-], shape (weeks,); firsts: of each link, see first_begin [-].
    """
    per_min = 60 / evenings.courses.step_s
    readies, begins, ends = (np.empty((len(links), ready.size)) for _ in range(3))
    at = ready.copy()
    for index, link in enumerate(links):
        planned = link.step.hands_min * planned_factor * per_min
        first = evenings.first_begin(link, planned) if firsts is None else firsts[index]
        readies[index] = at
        begins[index] = begin = _begin(first, at)
        ends[index] = done = begin + link.step.hands_min * link.hands * per_min
        mixed = begin + link.step.mixed_after_min * link.hands * per_min
        at = np.maximum(done, reached_at(link, mixed)) if link.step.waits_for else done
    return Walked(readies, begins, ends)
