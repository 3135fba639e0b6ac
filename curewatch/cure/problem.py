"""One step laid out for reckoning: its ages by path and energy, and the chances read off them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from curewatch.climate.conditions import Conditions
from curewatch.climate.outlook import Outlook
from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure import belief as beliefs
from curewatch.cure import equivalent_age, exotherm
from curewatch.cure.belief import Evidence, Learned
from curewatch.cure.crossing import SHARES, Question, distribution, times_reached
from curewatch.cure.equivalent_age import Ages
from curewatch.cure.grid import kernel
from curewatch.cure.inputs import Mix, Sighting
from curewatch.cure.modifiers import Stretch, stretch
from curewatch.cure.thermal_history import (
    FILM_RELAX_MIN,
    Course,
    first_stage_share,
    minimum_c,
    relaxed,
    speed_over,
    stalls,
    whole_course,
)
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.sheet import Sheet
from curewatch.vocabulary import MILESTONES

Times = list[float | None]

HORIZON_LABELS, MOST_HORIZON_MIN, LEAST_HORIZON_MIN = 16.0, 86_400.0, 1440.0
DAMP_FROM_PCT, DAMP_SD_PER_PCT = 50.0, 0.004


@dataclass(frozen=True, eq=False)
class Group:
    """Milestones that share one speed: names; material_c [C], shape (paths, n); ages by path and
    energy [min]; share: of drying [-]; stalling: whether the age stands still below the minimum."""

    names: tuple[str, ...]
    material_c: FloatArray
    ages: Ages
    share: float
    stalling: bool


@dataclass(frozen=True, eq=False)
class Case:
    """Everything one step's times are found from."""

    sheet: Sheet
    mix: Mix
    course: Course
    groups: tuple[Group, ...]
    stretches: Mapping[str, Stretch]
    sightings: Sequence[Sighting]

    def group(self, name: str) -> Group:
        """The group a milestone belongs to."""
        return next(group for group in self.groups if name in group.names)

    def length_min(self, name: str) -> float:
        """The label's time of a milestone, stretched by hardener, film and amount. [min]"""
        return self.sheet.reference.minutes[name] * self.stretches[name].times


def names_of(sheet: Sheet) -> tuple[str, ...]:
    """The milestones the sheet's reference row gives, in order."""
    return tuple(name for name in MILESTONES if name in sheet.reference.minutes)


def _horizon_min(sheet: Sheet, past: Conditions, stretches: Mapping[str, Stretch]) -> float:
    longest = max(sheet.reference.minutes[name] * s.times for name, s in stretches.items())
    passed = past.surface_c.size * past.step_s / 60
    return passed + min(MOST_HORIZON_MIN, max(LEAST_HORIZON_MIN, HORIZON_LABELS * longest))


def _group(
    sheet: Sheet,
    mix: Mix,
    course: Course,
    ea_kj: FloatArray,
    key: tuple[bool, float, bool],
    names: list[str],
) -> Group:
    in_pot, share, stalling = key
    around = course.air_c if in_pot else course.surface_c
    tau_min = exotherm.relax_min(mix.amount_g) if in_pot else FILM_RELAX_MIN
    material = relaxed(course, around, mix.product_c, tau_min)
    speed = speed_over(sheet, course, material, share, stalling=stalling)
    ages = equivalent_age.over_grid(course.times_min, speed, ea_kj)
    return Group(tuple(names), material, ages, share, stalling)


def _groups(sheet: Sheet, mix: Mix, course: Course, ea_kj: FloatArray) -> tuple[Group, ...]:
    apart = mix.product_c is not None or not np.array_equal(course.air_c, course.surface_c)
    cold = min(course.surface_c.min(), course.air_c.min(), mix.product_c or np.inf)
    stall_possible = bool(cold < minimum_c(sheet))
    keys: dict[tuple[bool, float, bool], list[str]] = {}
    for name in names_of(sheet):
        in_pot = apart and name == "pot_life"
        stalling = stall_possible and stalls(name)
        keys.setdefault((in_pot, first_stage_share(sheet, name), stalling), []).append(name)
    return tuple(_group(sheet, mix, course, ea_kj, key, names) for key, names in keys.items())


def _ln_ages(case: Case) -> dict[str, list[FloatArray]]:
    found = {}
    for group in case.groups:
        logs = [group.ages.ln_at(sighting.after_min) for sighting in case.sightings]
        for name in group.names:
            found[name] = [log - np.log(case.length_min(name)) for log in logs]
    return found


def _batch(case: Case, learned: Learned) -> FloatArray:
    """Weights of the batch's x over the columns, before its own witnesses. [-]"""
    wide = kernel(beliefs.batch_sd(case.sheet, case.mix)) @ learned.weights
    return np.concatenate([weight * wide for weight in case.course.weights], axis=1)


def _questions(
    case: Case, learned: Learned, names: Sequence[str], witnessed: bool
) -> list[Question]:
    batch = _batch(case, learned)
    evidence: Evidence = {}
    if witnessed and case.sightings:
        evidence = beliefs.gather(case.sightings, _ln_ages(case))
    own = {name: kernel(_milestone_sd(case, name)).T @ seen for name, seen in evidence.items()}
    every = batch * np.prod(list(own.values()), axis=0) if own else batch
    plain: dict[float, FloatArray] = {}
    questions = []
    for name in names:
        sd = _milestone_sd(case, name)
        if name in evidence:
            density = (kernel(sd) @ (every / own[name])) * evidence[name]
            cdf = distribution(density)
        else:
            if sd not in plain:
                plain[sd] = distribution(kernel(sd) @ every)
            cdf = plain[sd]
        questions.append(Question(cdf, case.length_min(name)))
    return questions


def damp_sd(sheet: Sheet, course: Course) -> float:
    """Doubt of ln(time) of a two-part urethane in damp air, for which no factor is published:
    assumed 0.004 for each per cent above 50 % [-]."""
    if CHEMISTRIES[sheet.chemistry].humidity != "widens":
        return 0.0
    damp = float(course.humidity_pct[course.likely].mean())
    return DAMP_SD_PER_PCT * max(0.0, damp - DAMP_FROM_PCT)


def _own_sd(case: Case, name: str) -> float:
    """Doubt of one milestone beyond what its whole batch shares. [-]"""
    return float(np.hypot(case.stretches[name].own_sd, damp_sd(case.sheet, case.course)))


def _milestone_sd(case: Case, name: str) -> float:
    """Scatter of one milestone's ln(slowness) about its batch's. [-]"""
    return round(float(np.hypot(beliefs.MILESTONE_SD, _own_sd(case, name))), 6)


def solve(
    case: Case,
    learned: Learned,
    names: Sequence[str],
    shares: tuple[float, ...] = SHARES,
    *,
    witnessed: bool = True,
) -> dict[str, Times]:
    """Instants by which milestones are reached with each share's certainty. [min]; shares [-]"""
    questions = dict(zip(names, _questions(case, learned, names, witnessed), strict=True))
    found: dict[str, Times] = {}
    for group in case.groups:
        asked = [name for name in group.names if name in questions]
        if asked:
            answers = times_reached(group.ages, [questions[name] for name in asked], shares)
            found |= dict(zip(asked, answers, strict=True))
    return found


def make_case(
    sheet: Sheet,
    mix: Mix,
    past: Conditions,
    ahead: Outlook,
    sightings: Sequence[Sighting],
    ea_kj: FloatArray,
) -> Case:
    """Lay a step out over its past and its outlook; ea_kj: even grid of energies [kJ/mol]."""
    air_c = float(past.air_c[0])
    stretches = {name: stretch(sheet, mix, name, air_c) for name in names_of(sheet)}
    dry_is_slow = CHEMISTRIES[sheet.chemistry].humidity != "deficit"
    until = _horizon_min(sheet, past, stretches)
    course = whole_course(mix, past, ahead, until, 1.0 if dry_is_slow else -1.0)
    return Case(sheet, mix, course, _groups(sheet, mix, course, ea_kj), stretches, sightings)
