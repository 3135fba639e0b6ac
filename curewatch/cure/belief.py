"""What is held of a product's slowness and activation energy, sharpened by labels and witnesses.

Notes
-----
A grid of 61 values of x = ln(slowness) by 41 activation energies. A milestone m of a batch is
reached when the equivalent age is L_m exp(x_m):

    product   x_p ~ N(0, 0.15),  Ea ~ N(mean, sd) of its chemistry
    batch     x_b = x_p + N(0, 0.08)
    milestone x_m = x_b + N(0, 0.08)
    a look    "m reached at t" has the likelihood Phi((ln theta(t) - ln L_m - x_m)/noise)
    label     ln L_i = ln L_1 - ln r(T_i; Ea) + N(0, 0.10) for every further row i

Everything is a sum over the grid: no sampling, the same answer every time. 0.15 is the scatter of
published setting times (14.7 % over 683 operations at 18.9 +- 1.2 C); the other spreads and the
noise of a look are assumed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from curewatch.climate.conditions import Conditions
from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure import equivalent_age
from curewatch.cure.grid import X_COUNT, X, kernel, normal_cdf, quantile
from curewatch.cure.inputs import Mix, Sighting
from curewatch.cure.kinetics import GAS_CONSTANT_KJ
from curewatch.cure.modifiers import stretch
from curewatch.cure.thermal_history import (
    FILM_RELAX_MIN,
    Course,
    first_stage_share,
    past_course,
    reference_pct,
    relaxed,
    speed_over,
    stalls,
)
from curewatch.errors import ModelError
from curewatch.products import label
from curewatch.products.chemistries import CHEMISTRIES, Chemistry
from curewatch.vocabulary import STATES, is_not_yet, is_reached

if TYPE_CHECKING:
    from curewatch.products.sheet import Sheet, TimesRow


PRODUCT_SD, BATCH_SD, MILESTONE_SD, LABEL_SD = 0.15, 0.08, 0.08, 0.10
NOISE: Mapping[str, float] = {"smear": 0.08, "cup": 0.3, "work": 0.05}
EA_COUNT, EA_REACH_SD, EA_LEAST = 41, 4.0, 2.0
LEAST_LIKELIHOOD = 1e-9


@dataclass(frozen=True)
class PastStep:
    """An earlier step of the same product, what it felt and what was seen on it."""

    id: int
    mix: Mix
    conditions: Conditions
    sightings: tuple[Sighting, ...]


def claims(state: str) -> tuple[tuple[str, bool], ...]:
    """What a state says of each milestone: reached or not yet. Raises ModelError.

    >>> claims("reached:clamp_time"), claims("still-works:working_time")
    ((('clamp_time', True),), (('working_time', False),))
    """
    if state in STATES:
        return STATES[state]
    answer, _, milestone = state.partition(":")
    if milestone and (is_reached(answer) or is_not_yet(answer)):
        return ((milestone, is_reached(answer)),)
    raise ModelError(f"{state!r} is not a state of a dab", fix=f"use one of {', '.join(STATES)}")


def energies(family: Chemistry) -> FloatArray:
    """The grid of activation energies. [kJ/mol], shape (41,)"""
    reach = EA_REACH_SD * family.ea_sd_kj
    return np.linspace(max(EA_LEAST, family.ea_kj - reach), family.ea_kj + reach, EA_COUNT)


def prior(family: Chemistry, ea_kj: FloatArray) -> FloatArray:
    """Weights before any label row or witness. [-], shape (61, 41); ea_kj [kJ/mol]"""
    slow = np.exp(-0.5 * (X / PRODUCT_SD) ** 2)
    energy = np.exp(-0.5 * ((ea_kj - family.ea_kj) / family.ea_sd_kj) ** 2)
    weights = slow[:, None] * energy[None, :]
    weights /= weights.sum()
    return weights


def _row_speed(sheet: Sheet, row: TimesRow, milestone: str, ea_kj: FloatArray) -> FloatArray:
    humidity = reference_pct(sheet) if row.humidity_pct is None else row.humidity_pct
    one = np.full((1, 1), row.temperature_c)
    course = Course(np.zeros(1), one, one, np.full((1, 1), humidity), np.ones(1), 0.0, 0.0)
    share = first_stage_share(sheet, milestone)
    return speed_over(sheet, course, one, share, stalling=stalls(milestone))(ea_kj)[0, :, 0]


def label_likelihood(sheet: Sheet, ea_kj: FloatArray) -> FloatArray:
    """What further rows of the label say of the energy. [-], shape (41,); ea_kj [kJ/mol]

    Where a colder row is faster and the sheet does not own to it, what must be waited for is left
    out: a slip there would have clamps off early.
    """
    log = np.zeros(ea_kj.size)
    unlikely = {each.milestone for each in label.faster_colder(sheet) if stalls(each.milestone)}
    for row in sheet.times[1:]:
        for name in (row.minutes.keys() & sheet.reference.minutes.keys()) - unlikely:
            speed = _row_speed(sheet, row, name, ea_kj)
            if (speed > 0).all():
                told = np.log(row.minutes[name] / sheet.reference.minutes[name])
                log -= 0.5 * ((told + np.log(speed)) / LABEL_SD) ** 2
    likelihood: FloatArray = np.exp(log - log.max())
    return likelihood


def look(ln_age: FloatArray, reached: bool, noise: float | FloatArray) -> FloatArray:
    """Likelihood of one look at one milestone. [-], shape (61, columns)

    ln_age: ln(theta/L) at the look [-], shape (columns,); noise: of the look in ln [-].
    """
    z = (ln_age[None, :] - X[:, None]) / noise
    return np.maximum(normal_cdf(z if reached else -z), LEAST_LIKELIHOOD)


Evidence = dict[str, FloatArray]


def gather(
    sightings: Iterable[Sighting],
    ln_ages: Mapping[str, Sequence[FloatArray]],
    extra_sd: float = 0.0,
) -> Evidence:
    """Likelihood by milestone of all looks at one batch. [-], each of shape (61, columns)

    ln_ages: by milestone, ln(theta/L) at each sighting [-]; extra_sd: added doubt in ln [-].
    """
    evidence: Evidence = {}
    for index, sighting in enumerate(sightings):
        noise = np.hypot(NOISE[sighting.sample], extra_sd)
        for name, reached in claims(sighting.state):
            if name in ln_ages:
                seen = look(ln_ages[name][index], reached, noise)
                evidence[name] = evidence[name] * seen if name in evidence else seen
    return evidence


def batch_likelihood(evidence: Evidence, own_sd: Mapping[str, float]) -> FloatArray:
    """Of the batch's x, the milestones' own scatter summed out. [-], shape (61, columns or 1)

    own_sd: by milestone, beyond the scatter that every one has [-].
    """
    product = np.ones((X_COUNT, 1))
    for name, seen in evidence.items():
        sd = round(float(np.hypot(MILESTONE_SD, own_sd[name])), 6)
        product = product * (kernel(sd).T @ seen)
    return product


@dataclass(frozen=True, eq=False)
class Learned:
    """Belief in a product: weights [-] over X and ea_kj [kJ/mol], shape (61, 41); how many
    witnesses in how many mixes stand behind it."""

    ea_kj: FloatArray
    weights: FloatArray
    witnesses: int
    mixes: int
    rows: int

    def slowness(self, share: float) -> float:
        """Quantile of the slowness: 1.1 is a tenth slower than the label. [-]; share [-]"""
        return float(np.exp(quantile(X, self.weights.sum(axis=1), share)))

    def energy(self, share: float) -> float:
        """Quantile of the activation energy. [kJ/mol]; share [-]"""
        return quantile(self.ea_kj, self.weights.sum(axis=0), share)

    @property
    def mean_energy(self) -> float:
        """Mean activation energy. [kJ/mol]"""
        return float(self.weights.sum(axis=0) @ self.ea_kj)

    def words(self) -> str:
        """What was learned, from how many witnesses, in a sentence."""
        return _words(self)


def times_per_ten(ea_kj: float) -> float:
    """How many times faster from 15 to 25 C. [-]; ea_kj [kJ/mol]"""
    return float(np.exp(ea_kj / GAS_CONSTANT_KJ * (1 / 288.15 - 1 / 298.15)))


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _words(learned: Learned) -> str:
    low, middle, high = (learned.slowness(share) for share in (0.05, 0.5, 0.95))
    warm = [times_per_ten(learned.energy(share)) for share in (0.05, 0.95)]
    known = "Nothing learned yet: no witness"
    if learned.witnesses:
        known = (
            f"Learned from {_count(learned.witnesses, 'witness', 'witnesses')} in "
            f"{_count(learned.mixes, 'mix', 'mixes')}"
        )
    rows = f" and {learned.rows} label rows" if learned.rows > 1 else ""
    return (
        f"{known}{rows}. Takes x{middle:.2f} the label's time ({low:.2f} to {high:.2f}), "
        f"and goes {warm[0]:.1f} to {warm[1]:.1f} times as fast when it is 10 K warmer."
    )


def _ages_seen(
    sheet: Sheet, mix: Mix, course: Course, sightings: Sequence[Sighting], ea_kj: FloatArray
) -> dict[str, list[FloatArray]]:
    values = relaxed(course, course.surface_c, mix.product_c, FILM_RELAX_MIN)
    ln_ages: dict[str, list[FloatArray]] = {}
    kinds: dict[tuple[float, bool], equivalent_age.Ages] = {}
    for name, label_min in sheet.reference.minutes.items():
        kind = first_stage_share(sheet, name), stalls(name)
        if kind not in kinds:
            speed = speed_over(sheet, course, values, kind[0], stalling=kind[1])
            kinds[kind] = equivalent_age.over_grid(course.times_min, speed, ea_kj)
        ln_length = np.log(label_min * stretch(sheet, mix, name).times)
        ln_ages[name] = [kinds[kind].ln_at(seen.after_min) - ln_length for seen in sightings]
    return ln_ages


def temperature_sd(past: Conditions, ea_kj: float) -> float:
    """Doubt of ln(age) from the doubt of the temperature, wholly shared. [-]; ea_kj [kJ/mol]"""
    kelvin = past.surface_c + 273.15
    return float(np.mean(ea_kj / GAS_CONSTANT_KJ / kelvin**2 * past.surface_sd_c))


@dataclass(frozen=True)
class _Label:
    """A sheet that a cache knows by its text."""

    sheet: Sheet = field(compare=False)
    text: str


@dataclass(frozen=True)
class _Told(_Label):
    """An earlier step with the sheet it is read by."""

    step: PastStep


@lru_cache(maxsize=256)
def _step_likelihood(told: _Told) -> FloatArray:
    """Of the product's x and energy, from one earlier step. [-], shape (61, 41)"""
    sheet, step = told.sheet, told.step
    family = CHEMISTRIES[sheet.chemistry]
    ea_kj = energies(family)
    ln_ages = _ages_seen(
        sheet, step.mix, past_course(step.mix, step.conditions), step.sightings, ea_kj
    )
    extra = temperature_sd(step.conditions, family.ea_kj)
    own_sd = {name: stretch(sheet, step.mix, name).own_sd for name in ln_ages}
    batch = batch_likelihood(gather(step.sightings, ln_ages, extra), own_sd)
    spread: FloatArray = kernel(batch_sd(sheet, step.mix)).T @ (batch * np.ones((1, ea_kj.size)))
    return spread


def batch_sd(sheet: Sheet, mix: Mix) -> float:
    """Doubt of a batch's ln(slowness) against its product's. [-]"""
    return round(float(np.hypot(BATCH_SD, stretch(sheet, mix, "").sd)), 6)


def learned(sheet: Sheet, others: Sequence[PastStep] = ()) -> Learned:
    """Belief in a product from its label and the witnesses of its earlier mixes."""
    told = (_Told(sheet, sheet.text, step) for step in others if step.sightings)
    return _learned(_Label(sheet, sheet.text), *told)


@lru_cache(maxsize=128)
def _learned(label: _Label, *told: _Told) -> Learned:
    sheet, family = label.sheet, CHEMISTRIES[label.sheet.chemistry]
    ea_kj = energies(family)
    weights = prior(family, ea_kj) * label_likelihood(sheet, ea_kj)
    for each in told:
        weights = weights * _step_likelihood(each)
        weights /= weights.sum()
    witnesses = sum(len(each.step.sightings) for each in told)
    return Learned(ea_kj, weights / weights.sum(), witnesses, len(told), len(sheet.times))
