"""One step laid out for reckoning: its ages by path and energy, and the chances read off them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from curewatch.climate.conditions import Conditions
from curewatch.climate.outlook import Outlook
from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure import belief as beliefs
from curewatch.cure import equivalent_age, pot_life
from curewatch.cure.belief import Evidence, Learned
from curewatch.cure.equivalent_age import Ages
from curewatch.cure.grid import (
    LATER_SHARES,
    X_COUNT,
    Question,
    along_x,
    distribution,
    kernel,
    times_reached,
)
from curewatch.cure.inputs import Mix, Sighting
from curewatch.cure.kinetics import Modifiers, stretch
from curewatch.cure.prior import (
    EARLY_STEEP_WEIGHTS,
    STEEP_WEIGHTS,
    levels,
    steep_part,
    steeper,
)
from curewatch.cure.thermal_history import (
    FILM_RELAX_MIN,
    ThermalHistory,
    first_stage_share,
    minimum_c,
    relaxed,
    speed_over,
    stalls,
    whole_course,
)
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.sheet import Sheet
from curewatch.vocabulary import MILESTONES, early_share

Times = list[float | None]

HORIZON_LABELS, MOST_HORIZON_MIN, LEAST_HORIZON_MIN = 60.0, 86_400.0, 1440.0
DAMP_FROM_PCT, DAMP_SD_PER_PCT = 50.0, 0.004
MIDDLE_SHARE = 0.5


@dataclass(frozen=True, eq=False)
class Group:
    """Milestones that share one speed: names; material_c [C], shape (paths, n); ages by path, level
    and energy [min]; share: of drying [-]; stalling: whether the age stands still below the
    minimum; part: of the steeper law in the cold [-]."""

    names: tuple[str, ...]
    material_c: FloatArray
    ages: Ages
    share: float
    stalling: bool
    part: float


@dataclass(frozen=True, eq=False)
class CureProblem:
    """Everything one step's times are found from."""

    sheet: Sheet
    mix: Mix
    history: ThermalHistory
    groups: tuple[Group, ...]
    modifiers: Mapping[str, Modifiers]
    sightings: Sequence[Sighting]

    def group(self, name: str) -> Group:
        """The group a milestone belongs to."""
        return next(group for group in self.groups if name in group.names)

    def length_min(self, name: str) -> float:
        """The label's time of a milestone, stretched by hardener, film and amount. [min]"""
        return self.sheet.reference.minutes[name] * self.modifiers[name].times


def names_of(sheet: Sheet) -> tuple[str, ...]:
    """The milestones the sheet's reference row gives.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.

    Returns
    -------
    tuple[str, ...]
        Names, in order.
    """
    return tuple(name for name in MILESTONES if name in sheet.reference.minutes)


def _horizon_min(sheet: Sheet, past: Conditions, modifiers: Mapping[str, Modifiers]) -> float:
    longest = max(sheet.reference.minutes[name] * s.times for name, s in modifiers.items())
    passed = past.surface_c.size * past.step_s / 60
    return passed + min(MOST_HORIZON_MIN, max(LEAST_HORIZON_MIN, HORIZON_LABELS * longest))


Key = tuple[bool, float, bool]


def _grouped(
    sheet: Sheet, mix: Mix, history: ThermalHistory, ea_kj: FloatArray, key: Key, names: list[str]
) -> Iterator[Group]:
    """The groups of one key: one curve carries all of them, each with its part of the steeper
    law."""
    in_pot, share, stalling = key
    family = CHEMISTRIES[sheet.chemistry]
    around = history.air_c if in_pot else history.surface_c
    tau_min = pot_life.relax_min(mix.amount_g) if in_pot else FILM_RELAX_MIN
    material = relaxed(history, around, mix.product_c, tau_min)
    speed = speed_over(sheet, history, material, share, stalling=stalling)
    parts: dict[float, list[str]] = {}
    for name in names:
        parts.setdefault(steep_part(family, name), []).append(name)
    law = steeper(sheet, material, max(parts))
    ages = equivalent_age.over_grid(history.times_min, speed, ea_kj, law)
    for part, own in parts.items():
        felt = ages.plain() if law is None or part == 0.0 else ages.at(part * levels(family))
        yield Group(tuple(own), material, felt, share, stalling, part)


def _groups(
    sheet: Sheet, mix: Mix, history: ThermalHistory, ea_kj: FloatArray
) -> tuple[Group, ...]:
    apart = mix.product_c is not None or not np.array_equal(history.air_c, history.surface_c)
    cold = min(history.surface_c.min(), history.air_c.min(), mix.product_c or np.inf)
    stall_possible = bool(cold < minimum_c(sheet))
    keys: dict[Key, list[str]] = {}
    for name in names_of(sheet):
        in_pot = apart and name == "pot_life"
        stalling = stall_possible and stalls(name)
        keys.setdefault((in_pot, first_stage_share(sheet, name), stalling), []).append(name)
    return tuple(
        group
        for key, names in keys.items()
        for group in _grouped(sheet, mix, history, ea_kj, key, names)
    )


def _ln_ages(problem: CureProblem) -> dict[str, list[FloatArray]]:
    ln_ages = {}
    for group in problem.groups:
        for name in group.names:
            ln_length = float(np.log(problem.length_min(name)))
            ln_ages[name] = beliefs.ln_at_looks(group.ages, problem.sightings, ln_length)
    return ln_ages


def _batch(problem: CureProblem, learned: Learned) -> FloatArray:
    """Weights of the batch's x over paths, levels and shared energies, before its own looks. [-]"""
    wide = along_x(kernel(beliefs.batch_sd(problem.sheet, problem.mix)), learned.weights)
    return wide[:, None] * problem.history.weights[:, None, None]


def _density(problem: CureProblem, learned: Learned, shared: FloatArray, name: str) -> FloatArray:
    """Of a milestone's x over paths, levels and its own energies. [-]

    shared: what all but its own rows and looks say, shape (61, paths, levels, 41). Levels of a
    steeper law that it does not feel are summed out.
    """
    own = learned.own(shared, name)
    if problem.group(name).ages.shape[1] < own.shape[2]:
        own = own.sum(axis=2, keepdims=True)
    return along_x(kernel(_milestone_sd(problem, name)), own)


def _densities(
    problem: CureProblem, learned: Learned, names: Sequence[str], witnessed: bool
) -> dict[str, FloatArray]:
    """By milestone, of its x over paths, levels and own energies. [-], shape (61, ...)"""
    evidence: Evidence = {}
    if witnessed and problem.sightings:
        evidence = beliefs.gather(problem.sightings, _ln_ages(problem))
    shapes = {name: problem.group(name).ages.shape for name in {*names, *evidence}}
    likelihoods = {
        name: along_x(
            kernel(_milestone_sd(problem, name)).T,
            beliefs.shared(seen, learned.family, shapes[name]),
        )
        for name, seen in evidence.items()
    }
    every = _batch(problem, learned)
    for likelihood in likelihoods.values():
        every = every * likelihood
    densities = {}
    for name in names:
        rest = every / likelihoods[name] if name in likelihoods else every
        densities[name] = _density(problem, learned, rest, name)
        if name in evidence:
            densities[name] = densities[name] * evidence[name].reshape(X_COUNT, *shapes[name])
    return densities


def damp_sd(sheet: Sheet, history: ThermalHistory) -> float:
    """Doubt of ln(time) of a two-part urethane in damp air.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    history : ThermalHistory
        The step's temperatures and humidity along time.

    Returns
    -------
    float
        Standard deviation [-].

    Notes
    -----
    No factor is published: assumed 0.004 for each per cent above 50 %.
    """
    if CHEMISTRIES[sheet.chemistry].humidity != "widens":
        return 0.0
    damp = float(history.humidity_pct[history.likely].mean())
    return DAMP_SD_PER_PCT * max(0.0, damp - DAMP_FROM_PCT)


def _own_sd(problem: CureProblem, name: str) -> float:
    """Doubt of one milestone beyond what its whole batch shares. [-]"""
    return float(np.hypot(problem.modifiers[name].own_sd, damp_sd(problem.sheet, problem.history)))


def _milestone_sd(problem: CureProblem, name: str) -> float:
    """Scatter of one milestone's ln(slowness) about its batch's. [-]"""
    return round(float(np.hypot(beliefs.MILESTONE_SD, _own_sd(problem, name))), 6)


def solve(
    problem: CureProblem,
    learned: Learned,
    names: Sequence[str],
    shares: tuple[float, ...] = (),
    *,
    witnessed: bool = True,
) -> dict[str, Times]:
    """Instants by which milestones are reached with each share's certainty.

    Parameters
    ----------
    problem : CureProblem
        The step laid out by `cure_problem`.
    learned : Learned
        Belief in the product.
    names : Sequence[str]
        Milestones asked for.
    shares : tuple[float, ...], optional
        Of certainty; early, likely and late as they are shown where none are given [-].
    witnessed : bool, optional
        Whether the looks at this batch count.

    Returns
    -------
    dict[str, Times]
        By milestone, an instant for each share [min]; None where it is not reached.
    """
    densities = _densities(problem, learned, names, witnessed)
    alike: dict[tuple[int, tuple[float, ...]], list[str]] = {}
    for name in names:
        place = next(i for i, group in enumerate(problem.groups) if name in group.names)
        alike.setdefault((place, shares or (early_share(name), *LATER_SHARES)), []).append(name)
    times: dict[str, Times] = {}
    for (place, wanted), together in alike.items():
        times |= _times(problem, problem.groups[place], {n: densities[n] for n in together}, wanted)
    return times


def _times(
    problem: CureProblem,
    group: Group,
    densities: Mapping[str, FloatArray],
    shares: tuple[float, ...],
) -> dict[str, Times]:
    """Of milestones of one group, the instants of each share's certainty. [min]; shares [-]"""
    answers: dict[str, Times] = {name: [] for name in densities}
    for early, some in groupby(shares, lambda share: share < MIDDLE_SHARE):
        weighing = _early_weights(group) if early else 1.0
        questions = [
            Question(distribution(density * weighing), problem.length_min(name))
            for name, density in densities.items()
        ]
        reached = times_reached(group.ages, questions, tuple(some))
        for name, times in zip(densities, reached, strict=True):
            answers[name] += times
    return answers


def _early_weights(group: Group) -> FloatArray:
    """By level, how much more the early bound goes by it. [-], shape (levels, 1)"""
    if group.ages.shape[1] == 1:
        return np.ones((1, 1))
    weights: FloatArray = (EARLY_STEEP_WEIGHTS / STEEP_WEIGHTS)[:, None]
    return weights


def cure_problem(
    sheet: Sheet,
    mix: Mix,
    past: Conditions,
    ahead: Outlook,
    sightings: Sequence[Sighting],
    ea_kj: FloatArray,
) -> CureProblem:
    """Lay a step out over its past and its outlook.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    mix : Mix
        How it was mixed.
    past : Conditions
        What the step felt until now.
    ahead : Outlook
        The outlook from now.
    sightings : Sequence[Sighting]
        Looks at this batch.
    ea_kj : FloatArray
        Activation energies, evenly spaced [kJ/mol], shape (energies,).

    Returns
    -------
    CureProblem
        The step with its ages by path, level and energy.
    """
    modifiers = {name: stretch(sheet, mix, name) for name in names_of(sheet)}
    dry_is_slow = CHEMISTRIES[sheet.chemistry].humidity != "deficit"
    until = _horizon_min(sheet, past, modifiers)
    history = whole_course(mix, past, ahead, until, 1.0 if dry_is_slow else -1.0)
    return CureProblem(
        sheet, mix, history, _groups(sheet, mix, history, ea_kj), modifiers, sightings
    )
