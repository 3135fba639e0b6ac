"""Why a time is what it is: factors that multiply to the ratio, and the sentence that says so."""

from __future__ import annotations

import math
from dataclasses import dataclass
from math import prod

import numpy as np

from curewatch.climate.psychrometrics import GAS_CONSTANT_KJ, FloatArray
from curewatch.cure import equivalent_age
from curewatch.cure.belief import Learned
from curewatch.cure.kinetics import film_refusal
from curewatch.cure.problem import CureProblem, Group, solve
from curewatch.cure.thermal_history import minimum_c, speed_over
from curewatch.durations import duration, rounding
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.units import format_film

MIDDLE = (0.5,)


@dataclass(frozen=True)
class Factor:
    """One factor of the reason: how many times longer it makes the label's time. [-]"""

    name: str
    words: str
    times: float


@dataclass(frozen=True)
class Reason:
    """Factors [-] multiply to ratio [-], the likely time over the label's; words: the sentence."""

    factors: tuple[Factor, ...]
    ratio: float
    words: str


def likely_age(
    problem: CureProblem,
    group: Group,
    energy_kj: float,
    *,
    water: bool = True,
    steep_kj: float = 0.0,
) -> FloatArray:
    """Age on the likely path at one energy.

    Parameters
    ----------
    problem : CureProblem
        The step laid out by `cure_problem`.
    group : Group
        The milestones of one speed.
    energy_kj : float
        Activation energy [kJ/mol].
    water : bool, optional
        False for air as damp as the label's.
    steep_kj : float, optional
        Of the steeper law in the cold [kJ/mol].

    Returns
    -------
    FloatArray
        Age [min], shape (n,).
    """
    only = problem.history.only_likely()
    material = group.material_c[problem.history.likely][None, :]
    speed = speed_over(
        problem.sheet,
        only,
        material,
        group.share,
        stalling=group.stalling,
        water=water,
        steep_kj=group.part * steep_kj,
    )
    return equivalent_age.cumulative(only.times_min, speed(np.array([energy_kj]))[0, 0])


def mean_until(times_min: FloatArray, values: FloatArray, until_min: float) -> float:
    """Mean over time from mixing.

    Parameters
    ----------
    times_min : FloatArray
        Instants from mixing [min], shape (n,).
    values : FloatArray
        Values at the instants [any unit], shape (n,).
    until_min : float
        End of the span [min].

    Returns
    -------
    float
        Mean [unit of values].
    """
    inside = times_min <= max(until_min, float(times_min[1]))
    span = times_min[inside]
    return float(np.trapezoid(values[inside], span) / (span[-1] - span[0]))


def _humidity_times(
    problem: CureProblem, group: Group, energy_kj: float, label_min: float
) -> float:
    """How many times longer this air makes it than the label's. [-]; [kJ/mol], [min]"""
    if CHEMISTRIES[problem.sheet.chemistry].humidity not in ("absolute", "deficit"):
        return 1.0
    times = problem.history.times_min
    without = equivalent_age.reached(
        times, likely_age(problem, group, energy_kj, water=False), label_min
    )
    with_water = equivalent_age.reached(times, likely_age(problem, group, energy_kj), label_min)
    return with_water / without if with_water and without else 1.0


def _learned_factors(
    problem: CureProblem, name: str, learned: Learned, fresh: Learned, likely_min: float
) -> tuple[list[Factor], float]:
    """The learned factors, and the likely time without any witness. [min]"""
    middle = likely_min
    factors = []
    if problem.sightings:
        before = solve(problem, learned, [name], MIDDLE, witnessed=False)[name][0]
        if before is not None:
            factors.append(Factor("this batch", "this batch's dab", likely_min / before))
            middle = before
    if learned.mixes:
        before = solve(problem, fresh, [name], MIDDLE, witnessed=False)[name][0]
        if before is not None:
            words = f"your last {learned.mixes} batches" if learned.mixes > 1 else "your last batch"
            factors.append(Factor("learned", words, middle / before))
            middle = before
    return factors, middle


def _label_words(problem: CureProblem, name: str) -> str:
    row = problem.sheet.reference
    milestone = name.replace("_", " ")
    length = duration(row.minutes[name], rounding(name))
    return f"label {milestone} {length} at {row.temperature_c:g} C"


def _fixed_factors(problem: CureProblem, name: str) -> list[Factor]:
    stretched, mix = problem.modifiers[name], problem.mix
    factors = [
        Factor("hardener", f"{mix.hardener_pct or 0:g} % hardener", stretched.hardener),
        Factor("film", f"film {format_film(mix.film_um or 0)}", stretched.film),
        Factor("amount", f"{mix.amount_g or 0:g} g in the pot", stretched.amount),
    ]
    return [factor for factor in factors if abs(math.log(factor.times)) > 1e-9]


def explain(
    problem: CureProblem, name: str, learned: Learned, fresh: Learned, likely_min: float | None
) -> Reason:
    """Why the likely time of a milestone is what it is.

    Parameters
    ----------
    problem : CureProblem
        The step laid out by `cure_problem`.
    name : str
        Name of the milestone.
    learned : Learned
        Belief in the product.
    fresh : Learned
        Belief before any witness.
    likely_min : float | None
        The likely time, None where none can be given [min].

    Returns
    -------
    Reason
        Factors [-] that multiply to the likely time over the label's, and the sentence.
    """
    if likely_min is None:
        return stalled(problem, name)
    label_min = problem.sheet.reference.minutes[name]
    group = problem.group(name)
    learned_factors, unlearned_min = _learned_factors(problem, name, learned, fresh, likely_min)
    fixed = _fixed_factors(problem, name)
    damp = _humidity_times(problem, group, fresh.mean_energy(name), problem.length_min(name))
    rest = prod(factor.times for factor in fixed) * damp
    mean_c = mean_until(
        problem.history.times_min, group.material_c[problem.history.likely], likely_min
    )
    where = "pot" if name == "pot_life" else "panel"
    factors = [Factor("temperature", f"{where} {mean_c:.1f} C", unlearned_min / label_min / rest)]
    if damp != 1.0:
        pct = mean_until(
            problem.history.times_min,
            problem.history.humidity_pct[problem.history.likely],
            likely_min,
        )
        factors.append(Factor("humidity", f"air {pct:.0f} %", damp))
    factors += fixed + learned_factors[::-1]
    return Reason(tuple(factors), likely_min / label_min, _sentence(problem, name, factors))


def _sentence(problem: CureProblem, name: str, factors: list[Factor]) -> str:
    factor_words = [f"{factor.words}: x{factor.times:.2f}" for factor in factors]
    return "; ".join([_label_words(problem, name), *factor_words])


def stalled(problem: CureProblem, name: str) -> Reason:
    """The reason where no likely time can be given.

    Parameters
    ----------
    problem : CureProblem
        The step laid out by `cure_problem`.
    name : str
        Name of the milestone.

    Returns
    -------
    Reason
        No factors, an infinite ratio, and the sentence.
    """
    refused = film_refusal(problem.sheet, problem.mix, name)
    if refused:
        return Reason((), math.inf, refused)
    history = problem.history
    now = int(np.searchsorted(history.times_min, history.now_min, side="right")) - 1
    panel_c = float(history.surface_c[history.likely, max(now, 0)])
    least = minimum_c(problem.sheet)
    if panel_c < least:
        why = (
            f"panel {panel_c:.1f} C is below this product's minimum of {least:g} C: "
            "it may not cure properly"
        )
    else:
        why = f"panel {panel_c:.1f} C now: not reached as far ahead as the forecast goes"
    return Reason((), math.inf, f"{_label_words(problem, name)}; {why}")


def times_per_ten(ea_kj: float) -> float:
    """How many times faster from 15 to 25 C.

    Parameters
    ----------
    ea_kj : float
        Activation energy [kJ/mol].

    Returns
    -------
    float
        Quotient of speeds [-].
    """
    return float(np.exp(ea_kj / GAS_CONSTANT_KJ * (1 / 288.15 - 1 / 298.15)))


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def learned_words(learned: Learned) -> str:
    """What was learned of a product, from how many witnesses.

    Parameters
    ----------
    learned : Learned
        Belief in the product.

    Returns
    -------
    str
        A sentence.
    """
    low, middle, high = (learned.slowness(share) for share in (0.05, 0.5, 0.95))
    warm = [times_per_ten(learned.energy(share)) for share in (0.05, 0.95)]
    known = "Nothing learned yet: no dab check"
    if learned.witnesses:
        known = (
            f"Learned from {_count(learned.witnesses, 'dab check', 'dab checks')} in "
            f"{_count(learned.mixes, 'mix', 'mixes')}"
        )
    rows = f" and {learned.rows} label rows" if learned.rows > 1 else ""
    return (
        f"{known}{rows}. Takes x{middle:.2f} the label's time ({low:.2f} to {high:.2f}), "
        f"and goes {warm[0]:.1f} to {warm[1]:.1f} times as fast when it is 10 K warmer."
    )
