"""What is held of a product's slowness and activation energy, sharpened by labels and witnesses.

Notes
-----
A grid of 61 values of x = ln(slowness), by the levels of the steeper law in the cold, by 21
activation energies (see prior.py). A milestone m of a batch is reached when the equivalent age is
L_m exp(x_m):

    product   x_p ~ N(0, 0.17),  Ea ~ N(mean, sd) of its chemistry, D by its level
    milestone its own Ea_m about Ea
    batch     x_b = x_p + N(0, 0.10)
    milestone x_m = x_b + N(0, 0.12)
    a look    "m reached at t" has the likelihood Phi((ln theta(t) - ln L_m - x_m)/noise); of a
              dab, whose answers lie side by side under a glove, one in fifty says nothing
    a turn    "m reached between t and u" the difference of the two
    label     ln L_i = ln L_1 - ln r(T_i; Ea_m, D) + N(0, 0.10) for every further row i

Everything is a sum over the grid: no sampling, the same answer every time. Published setting times
scatter by 14.7 % (683 operations at 18.9 +- 1.2 C), but of one product each and mixed with care,
so the spreads are taken wider: bands that hold only where nobody slips and no label is rounded
are too narrow in a garage. The figures are assumed. They are held against two worlds of virtual
garages (tests/support/virtual_garages.py), in the harsher of which narrower ones (0.15, 0.08, 0.08
and 0.08 for a look) held the truth 74 to 76 % of the time after six looks at a mix. The milestones'
is the largest but the product's: a label rounds each of its times by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from curewatch.climate.conditions import Conditions
from curewatch.climate.psychrometrics import GAS_CONSTANT_KJ, FloatArray
from curewatch.cure import equivalent_age
from curewatch.cure.grid import X_COUNT, X_REACH, X, along_x, kernel, normal_cdf, quantile
from curewatch.cure.inputs import Mix, Sighting
from curewatch.cure.kinetics import stretch
from curewatch.cure.prior import (
    EA_COUNT,
    RowEvidence,
    energies,
    label_rows,
    levels,
    own_energy,
    prior,
    steep_part,
    steeper,
)
from curewatch.cure.thermal_history import (
    FILM_RELAX_MIN,
    ThermalHistory,
    first_stage_share,
    past_course,
    relaxed,
    speed_over,
    stalls,
)
from curewatch.errors import ModelError
from curewatch.frozen import frozen
from curewatch.products.chemistries import CHEMISTRIES, Chemistry
from curewatch.vocabulary import STATES, TURNS, is_not_yet, is_reached

if TYPE_CHECKING:
    from curewatch.products.sheet import Sheet


BATCH_SD, MILESTONE_SD = 0.10, 0.12
NOISE: Mapping[str, float] = {"smear": 0.12, "cup": 0.3, "work": 0.07}
SLIP: Mapping[str, float] = {"smear": 0.02, "cup": 0.02, "work": 0.0}
LEAST_LIKELIHOOD = 1e-9


@frozen
class PastStep:
    """An earlier step of the same product, what it felt and what was seen on it."""

    id: int
    mix: Mix
    conditions: Conditions
    sightings: tuple[Sighting, ...]


def claims(state: str) -> tuple[tuple[str, bool], ...]:
    """What a state says of each milestone: reached or not yet.

    Parameters
    ----------
    state : str
        A key of STATES, or an answer as "reached:<milestone>".

    Returns
    -------
    tuple[tuple[str, bool], ...]
        Milestone and whether it is reached, for every milestone the state speaks of.

    Raises
    ------
    ModelError
        If it is no state of a dab and no answer to a test.

    Examples
    --------
    >>> claims("reached:clamp_time"), claims("still-works:working_time")
    ((('clamp_time', True),), (('working_time', False),))
    """
    if state in STATES:
        return STATES[state]
    answer, _, milestone = state.partition(":")
    if milestone and (is_reached(answer) or is_not_yet(answer)):
        return ((milestone, is_reached(answer)),)
    raise ModelError(f"{state!r} is not a state of a dab", fix=f"use one of {', '.join(STATES)}")


def look(
    ln_age: FloatArray, reached: bool, noise: float | FloatArray, slip: float = 0.0
) -> FloatArray:
    """Likelihood of one look at one milestone.

    Parameters
    ----------
    ln_age : FloatArray
        ln(theta/L) at the look [-], shape (columns,).
    reached : bool
        Whether the milestone was found reached.
    noise : float | FloatArray
        Noise of the look in ln [-].
    slip : float, optional
        Share of such looks that say nothing [-].

    Returns
    -------
    FloatArray
        Likelihood [-], shape (61, columns), never below 1e-9.

    Notes
    -----
    The normal distribution function of (ln(theta/L) - x)/noise where it is reached, of its negative
    where it is not yet. The floor keeps one wrong press from breaking the belief.
    """
    z = (ln_age[None, :] - X[:, None]) / noise
    seen = slip / 2 + (1 - slip) * normal_cdf(z if reached else -z)
    return np.maximum(seen, LEAST_LIKELIHOOD)


def look_between(ln_ages: FloatArray, noise: float | FloatArray, slip: float = 0.0) -> FloatArray:
    """Likelihood of a milestone reached between two instants.

    Parameters
    ----------
    ln_ages : FloatArray
        ln(theta/L) at the two [-], shape (2, columns).
    noise : float | FloatArray
        Noise of the look in ln [-].
    slip : float, optional
        Share of such looks that say nothing [-].

    Returns
    -------
    FloatArray
        Likelihood [-], shape (61, columns), never below 1e-9.

    Notes
    -----
    One observer with one noise saw it happen: the difference of the normal distribution function
    at the two ends, not the product of two looks. A slip puts it anywhere on the grid.
    """
    z = (ln_ages[:, None, :] - X[None, :, None]) / noise
    whole = normal_cdf(z[1]) - normal_cdf(z[0])
    anywhere = np.minimum((ln_ages[1] - ln_ages[0]) / (2 * X_REACH), 1.0)
    seen: FloatArray = np.maximum(slip * anywhere + (1 - slip) * whole, LEAST_LIKELIHOOD)
    return seen


def _likelihood(
    sighting: Sighting, name: str, reached: bool, ln_ages: FloatArray, noise: FloatArray
) -> FloatArray:
    """Of what a sighting says of one milestone. [-], shape (61, columns)"""
    slip = SLIP[sighting.sample]
    if sighting.turned is not None and TURNS.get(sighting.state) == name:
        return look_between(ln_ages[:2], noise, slip)
    return look(ln_ages[-1], reached, noise, slip)


Evidence = dict[str, FloatArray]


def gather(
    sightings: Iterable[Sighting],
    ln_ages: Mapping[str, Sequence[FloatArray]],
    extra_sd: float = 0.0,
) -> Evidence:
    """Likelihood by milestone of all looks at one batch.

    Parameters
    ----------
    sightings : Iterable[Sighting]
        Looks at this batch.
    ln_ages : Mapping[str, Sequence[FloatArray]]
        By milestone, ln(theta/L) at the instants of each sighting [-], each of shape (instants,
        columns).
    extra_sd : float, optional
        Added doubt in ln [-].

    Returns
    -------
    Evidence
        By milestone [-], each of shape (61, columns).
    """
    evidence: Evidence = {}
    for index, sighting in enumerate(sightings):
        noise = np.hypot(NOISE[sighting.sample], extra_sd)
        for name, reached in claims(sighting.state):
            if name in ln_ages:
                seen = _likelihood(sighting, name, reached, ln_ages[name][index], noise)
                evidence[name] = evidence[name] * seen if name in evidence else seen
    return evidence


def shared(seen: FloatArray, family: Chemistry, shape: tuple[int, ...]) -> FloatArray:
    """What a milestone's look says of the product's energy instead of its own.

    Parameters
    ----------
    seen : FloatArray
        What it says of its own [-], shape (61, columns).
    family : Chemistry
        The chemistry.
    shape : tuple[int, ...]
        Of the columns, the energies last.

    Returns
    -------
    FloatArray
        Likelihood [-], shape (61, *shape).
    """
    likelihood: FloatArray = seen.reshape(X_COUNT, *shape) @ own_energy(family).T
    return likelihood


def batch_likelihood(
    evidence: Evidence, own_sd: Mapping[str, float], family: Chemistry
) -> FloatArray:
    """Likelihood of the batch's x, the milestones' own scatter summed out.

    Parameters
    ----------
    evidence : Evidence
        By milestone [-], each of shape (61, columns).
    own_sd : Mapping[str, float]
        By milestone, doubt in ln beyond the scatter that every one has [-].
    family : Chemistry
        The chemistry.

    Returns
    -------
    FloatArray
        Likelihood [-], shape (61, levels or 1, 21).
    """
    product = np.ones((X_COUNT, 1, EA_COUNT))
    for name, seen in evidence.items():
        sd = round(float(np.hypot(MILESTONE_SD, own_sd[name])), 6)
        product = product * along_x(kernel(sd).T, shared(seen, family, (-1, EA_COUNT)))
    return product


@dataclass(frozen=True, eq=False)
class Learned:
    """Belief in a product: weights [-] over X, the levels of the steeper law and the shared
    energies ea_kj [kJ/mol], shape (61, levels, 21); label_rows: what they say, by
    milestone; how many witnesses in how many mixes stand behind it."""

    family: Chemistry
    ea_kj: FloatArray
    weights: FloatArray
    label_rows: Mapping[str, RowEvidence]
    witnesses: int
    mixes: int
    rows: int

    def own(self, density: FloatArray, milestone: str) -> FloatArray:
        """A density over the shared energy, its last axis, as one over a milestone's own. [-]

        density: [-], shape (..., levels, 21).
        """
        spread, rows = own_energy(self.family), self.label_rows.get(milestone)
        of_milestone: FloatArray = density @ spread
        if rows is not None:
            of_milestone = ((density / rows.shared) @ spread) * rows.own
        return of_milestone

    def slowness(self, share: float) -> float:
        """Quantile of the slowness: 1.1 is a tenth slower than the label. [-]; share [-]"""
        return float(np.exp(quantile(X, self.weights.sum(axis=(1, 2)), share)))

    def _energies(self, milestone: str) -> FloatArray:
        weights: FloatArray = self.own(self.weights.sum(axis=0), milestone).sum(axis=0)
        weights /= weights.sum()
        return weights

    def energy(self, share: float, milestone: str = "") -> float:
        """Quantile of a milestone's activation energy, of any without a row of its own if
        empty. [kJ/mol]; share [-]"""
        return quantile(self.ea_kj, self._energies(milestone), share)

    def mean_energy(self, milestone: str = "") -> float:
        """Mean activation energy of a milestone. [kJ/mol]"""
        return float(self._energies(milestone) @ self.ea_kj)

    @property
    def likely_steep_kj(self) -> float:
        """The middle level of the steeper law in the cold. [kJ/mol]"""
        cumulated = np.cumsum(self.weights.sum(axis=(0, 2)))
        return float(levels(self.family)[int(np.searchsorted(cumulated, cumulated[-1] / 2))])


def _ages_seen(
    sheet: Sheet,
    mix: Mix,
    history: ThermalHistory,
    sightings: Sequence[Sighting],
    ea_kj: FloatArray,
) -> dict[str, list[FloatArray]]:
    values = relaxed(history, history.surface_c, mix.product_c, FILM_RELAX_MIN)
    family = CHEMISTRIES[sheet.chemistry]
    ln_ages: dict[str, list[FloatArray]] = {}
    kinds: dict[tuple[float, bool, float], equivalent_age.Ages] = {}
    for name, label_min in sheet.reference.minutes.items():
        kind = first_stage_share(sheet, name), stalls(name), steep_part(family, name)
        if kind not in kinds:
            speed = speed_over(sheet, history, values, kind[0], stalling=kind[1])
            law = steeper(sheet, values, kind[2])
            kinds[kind] = equivalent_age.over_grid(history.times_min, speed, ea_kj, law)
        ln_length = np.log(label_min * stretch(sheet, mix, name).times)
        ln_ages[name] = ln_at_looks(kinds[kind], sightings, ln_length)
    return ln_ages


def ln_at_looks(
    ages: equivalent_age.Ages, sightings: Sequence[Sighting], ln_length: float
) -> list[FloatArray]:
    """ln(theta/L) at every sighting.

    Parameters
    ----------
    ages : equivalent_age.Ages
        Of a milestone's group [min].
    sightings : Sequence[Sighting]
        Looks at this batch.
    ln_length : float
        ln(L/min) [-].

    Returns
    -------
    list[FloatArray]
        Of each at its instants [-], shape (instants, columns).
    """
    return [
        np.array([ages.ln_at(instant) for instant in sighting.instants_min]) - ln_length
        for sighting in sightings
    ]


def temperature_sd(past: Conditions, ea_kj: float) -> float:
    """Doubt of ln(age) from the doubt of the temperature, taken as wholly shared.

    Parameters
    ----------
    past : Conditions
        What the step felt until now.
    ea_kj : float
        Activation energy [kJ/mol].

    Returns
    -------
    float
        Standard deviation of ln(age) [-].

    Notes
    -----
    The mean of sd_T Ea/(R T^2) along the past.
    """
    kelvin = past.surface_c + 273.15
    return float(np.mean(ea_kj / GAS_CONSTANT_KJ / kelvin**2 * past.surface_sd_c))


@frozen
class _Label:
    """A sheet that a cache knows by its text."""

    sheet: Sheet = field(compare=False)
    text: str


@frozen
class _StepWithLabel(_Label):
    """An earlier step with the sheet it is read by."""

    step: PastStep


@lru_cache(maxsize=256)
def _step_likelihood(labelled: _StepWithLabel) -> FloatArray:
    """Of the product's x, steeper law and energy, from one earlier step. [-], shape (61, levels or
    1, 21)"""
    sheet, step = labelled.sheet, labelled.step
    family = CHEMISTRIES[sheet.chemistry]
    ea_kj = energies(family)
    ln_ages = _ages_seen(
        sheet, step.mix, past_course(step.mix, step.conditions), step.sightings, ea_kj
    )
    extra = temperature_sd(step.conditions, family.ea_kj)
    own_sd = {name: stretch(sheet, step.mix, name).own_sd for name in ln_ages}
    batch = batch_likelihood(gather(step.sightings, ln_ages, extra), own_sd, family)
    return along_x(kernel(batch_sd(sheet, step.mix)).T, batch)


def batch_sd(sheet: Sheet, mix: Mix) -> float:
    """Doubt of a batch's ln(slowness) against its product's.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    mix : Mix
        How it was mixed.

    Returns
    -------
    float
        Standard deviation [-].
    """
    return round(float(np.hypot(BATCH_SD, stretch(sheet, mix, "").sd)), 6)


def learned(sheet: Sheet, others: Sequence[PastStep] = ()) -> Learned:
    """Belief in a product from its label and the witnesses of its earlier mixes.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    others : Sequence[PastStep], optional
        Earlier steps of the same product and what was seen on them.

    Returns
    -------
    Learned
        Weights [-] over slowness, level of the steeper law and energy.
    """
    labelled = (_StepWithLabel(sheet, sheet.text, step) for step in others if step.sightings)
    return _learned(_Label(sheet, sheet.text), *labelled)


@lru_cache(maxsize=128)
def _learned(label: _Label, *steps: _StepWithLabel) -> Learned:
    sheet, family = label.sheet, CHEMISTRIES[label.sheet.chemistry]
    ea_kj, rows_of = energies(family), label_rows(sheet)
    weights = prior(family, ea_kj)
    for rows in rows_of.values():
        weights = weights * rows.shared
    for step in steps:
        weights = weights * _step_likelihood(step)
        weights /= weights.sum()
    witnesses = sum(len(step.step.sightings) for step in steps)
    weights = weights / weights.sum()
    return Learned(family, ea_kj, weights, rows_of, witnesses, len(steps), len(sheet.times))
