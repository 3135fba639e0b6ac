"""Why a time is what it is: factors that multiply to the ratio, and what says so.

Also how much a look at the dab would narrow a time.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from math import prod

import numpy as np

from curewatch.climate.conditions import Conditions
from curewatch.climate.outlook import Outlook
from curewatch.climate.psychrometrics import GAS_CONSTANT_KJ, FloatArray
from curewatch.cure import belief, equivalent_age
from curewatch.cure.belief import Learned, PastStep
from curewatch.cure.inputs import Mix, Sighting
from curewatch.cure.kinetics import film_refusal
from curewatch.cure.problem import CureProblem, Group, cure_problem, solve
from curewatch.cure.thermal_history import minimum_c, speed_over
from curewatch.durations import rounding
from curewatch.frozen import frozen
from curewatch.notice import Count, Duration, Field, Measure, Notice, Term, notice
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.sheet import Sheet
from curewatch.vocabulary import NOT_YET, REACHED

MIDDLE = (0.5,)


@frozen
class Factor:
    """One factor of the reason: how many times longer it makes the label's time. [-]"""

    name: str
    notice: Notice
    times: float


@frozen
class Reason:
    """Factors [-] multiply to ratio [-], the likely time over the label's; notices say it."""

    factors: tuple[Factor, ...]
    ratio: float
    notices: tuple[Notice, ...]


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
            factors.append(Factor("this batch", notice("this-batch"), likely_min / before))
            middle = before
    if learned.mixes:
        before = solve(problem, fresh, [name], MIDDLE, witnessed=False)[name][0]
        if before is not None:
            factors.append(Factor("learned", _batches(learned.mixes), middle / before))
            middle = before
    return factors, middle


def _batches(mixes: int) -> Notice:
    if mixes == 1:
        return notice("last-batch")
    return notice("last-batches", mixes=Count(mixes, "batches"))


def _label_time(problem: CureProblem, name: str) -> Notice:
    row = problem.sheet.reference
    return notice(
        "label-time",
        milestone=Term(name),
        time=Duration(row.minutes[name], rounding(name)),
        temperature=Measure(row.temperature_c, "C"),
    )


def _fixed_factors(problem: CureProblem, name: str) -> list[Factor]:
    stretched, mix = problem.modifiers[name], problem.mix
    share, film = Measure(mix.hardener_pct or 0.0, "%"), Measure(mix.film_um or 0.0, "um")
    mass = Measure(mix.amount_g or 0.0, "g")
    factors = [
        Factor("hardener", notice("hardener", share=share), stretched.hardener),
        Factor("film", notice("film", film=film), stretched.film),
        Factor("amount", notice("amount", mass=mass), stretched.amount),
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
        Factors [-] that multiply to the likely time over the label's, and what says so.
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
    warmth = notice(
        "pot-mean" if name == "pot_life" else "panel-mean", temperature=Measure(mean_c, "C")
    )
    factors = [Factor("temperature", warmth, unlearned_min / label_min / rest)]
    if damp != 1.0:
        pct = mean_until(
            problem.history.times_min,
            problem.history.humidity_pct[problem.history.likely],
            likely_min,
        )
        factors.append(Factor("humidity", notice("air-mean", humidity=Measure(pct, "%")), damp))
    factors += fixed + learned_factors[::-1]
    return Reason(tuple(factors), likely_min / label_min, _notices(problem, name, factors))


def _notices(problem: CureProblem, name: str, factors: list[Factor]) -> tuple[Notice, ...]:
    multiplied = (
        notice("factor", what=factor.notice, times=Measure(factor.times, "x")) for factor in factors
    )
    return (_label_time(problem, name), *multiplied)


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
        No factors, an infinite ratio, and why.
    """
    refused = film_refusal(problem.sheet, problem.mix, name)
    if refused:
        return Reason((), math.inf, (refused,))
    history = problem.history
    now = int(np.searchsorted(history.times_min, history.now_min, side="right")) - 1
    panel_c = float(history.surface_c[history.likely, max(now, 0)])
    least = minimum_c(problem.sheet)
    panel = Measure(panel_c, "C")
    if panel_c < least:
        why = notice("panel-cold", panel=panel, least=Measure(least, "C"))
    else:
        why = notice("panel-slow", panel=panel)
    return Reason((), math.inf, (_label_time(problem, name), why))


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


def learned_notice(learned: Learned) -> Notice:
    """What was learned of a product, from how many witnesses.

    Parameters
    ----------
    learned : Learned
        Belief in the product.

    Returns
    -------
    Notice
        A code with values.
    """
    low, middle, high = (learned.slowness(share) for share in (0.05, 0.5, 0.95))
    warm = [times_per_ten(learned.energy(share)) for share in (0.05, 0.95)]
    speed = notice(
        "learned-speed",
        middle=Measure(middle, "x"),
        low=Measure(low, ""),
        high=Measure(high, ""),
        least=Measure(warm[0], ""),
        most=Measure(warm[1], ""),
        warmer=Measure(10.0, "K"),
    )
    rows: Field = ""
    if learned.rows > 1:
        rows = notice("learned-rows", rows=Count(learned.rows, "label rows"))
    if not learned.witnesses:
        return notice("learned-nothing", rows=rows, learned=speed)
    checks, mixes = Count(learned.witnesses, "dab checks"), Count(learned.mixes, "mixes")
    return notice("learned-from", checks=checks, mixes=mixes, rows=rows, learned=speed)


LOOK_CHANCES, BAND = (0.3, 0.5, 0.7), (0.05, 0.95)


@frozen
class LookSpan:
    """When a look tells most of a milestone: while it is reached with a chance of 30 to 70 %, in
    minutes from mixing [min]; worth: the share by which it is expected to narrow another [-]."""

    from_min: float
    until_min: float
    worth: float


def look_spans(
    sheet: Sheet,
    mix: Mix,
    past: Conditions,
    ahead: Outlook,
    sightings: Sequence[Sighting] = (),
    others: Sequence[PastStep] = (),
    *,
    looks: Sequence[str],
    waited: str,
) -> dict[str, LookSpan]:
    """When looks at the dab tell most, and how much they narrow the band of what is waited for.

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
    sightings : Sequence[Sighting], optional
        Looks at this batch.
    others : Sequence[PastStep], optional
        Earlier steps of the same product and what was seen on them.
    looks : Sequence[str]
        The milestones that the dab may be looked at for.
    waited : str
        The milestone that must be waited for.

    Returns
    -------
    dict[str, LookSpan]
        Of the milestones whose span has begun by now.

    Notes
    -----
    A chance that was passed goes by the past alone, so a span that has begun begins there at any
    later time. The worth is the expected share by which ln(late/early) shrinks, both answers tried
    on the belief at even chances. A late time beyond the horizon counts as its end.
    """
    learned = belief.learned(sheet, others)
    problem = cure_problem(sheet, mix, past, ahead, sightings, learned.ea_kj)
    spans = {}
    for look, (first, even, last) in solve(problem, learned, looks, LOOK_CHANCES).items():
        if first is not None and even is not None and first <= problem.history.now_min:
            until = last if last is not None else float(problem.history.times_min[-1])
            spans[look] = LookSpan(first, until, _worth(problem, learned, look, waited, even))
    return spans


def _worth(
    problem: CureProblem, learned: Learned, look: str, waited: str, after_min: float
) -> float:
    """How much a look with even chances narrows a band. [-]; of the look [min]"""
    before = _band(problem, learned, waited)
    if before <= 0.0:
        return 0.0
    bands = [
        _band(
            replace(
                problem,
                sightings=(*problem.sightings, Sighting(0, after_min, f"{answer}:{look}")),
            ),
            learned,
            waited,
        )
        for answer in (REACHED, NOT_YET)
    ]
    return 1 - math.fsum(bands) / 2 / before


def _band(problem: CureProblem, learned: Learned, name: str) -> float:
    """ln(late/early) of a milestone. [-]"""
    early, late = solve(problem, learned, [name], BAND)[name]
    end = float(problem.history.times_min[-1])
    return 0.0 if early is None else math.log((end if late is None else late) / max(early, 1e-3))
