"""A sheet, the air of the garage and what was seen, to early, likely and late times."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from typing import Literal

import numpy as np

from curewatch.climate.conditions import Conditions
from curewatch.climate.outlook import Outlook
from curewatch.climate.sources import LeadingSource
from curewatch.cure import belief, equivalent_age
from curewatch.cure.belief import Learned
from curewatch.cure.belief import PastStep as PastStep
from curewatch.cure.explanation import Factor as Factor
from curewatch.cure.explanation import explain, likely_age, mean_until
from curewatch.cure.grid import LATER_SHARES
from curewatch.cure.inputs import Mix, Sighting
from curewatch.cure.kinetics import film_refusal, refusals
from curewatch.cure.problem import CureProblem, Times, cure_problem, names_of, solve
from curewatch.cure.thermal_history import minimum_c, stalls
from curewatch.cure.validity import (
    OUTLASTED,
    bound_warnings,
    if_warm_warning,
    now_sample,
    outlasted,
    step_warnings,
    stops_short,
    temperature_warnings,
)
from curewatch.frozen import frozen
from curewatch.notice import Notice, notice
from curewatch.products.sheet import Sheet
from curewatch.vocabulary import EARLY_SHOWN, ORDERED, TESTED, is_reached

Bound = Literal["early", "late"]

REASON_ORDER = (*TESTED, "pot_life")
ROW_TOLERANCE_C = 0.5
LATE = LATER_SHARES[-1:]


@frozen
class Milestone:
    """When a milestone is reached, in minutes from mixing. [min]

    None where the model refuses or the state is not reached within the horizon (see warnings).
    `shown` says which bound a countdown runs to. `label_min` is the label's own time. [min]
    outlasted: a test found it, or what comes before it, not reached after its latest time.
    late_if_warm: the late bound holds only while the panel stays above the product's minimum.
    """

    name: str
    early_min: float | None
    likely_min: float | None
    late_min: float | None
    shown: Bound
    label_min: float
    warnings: tuple[Notice, ...] = ()
    outlasted: bool = False
    late_if_warm: bool = False


@frozen
class Forecast:
    """All milestones of one step, ordered as on the sheet, and why.

    factors multiply to ratio: likely time over label time of the reason's milestone [-]; ratio is
    infinite and factors are empty where no likely time can be given.
    age_min is the equivalent age by now at the label's reference. [min]
    stalled_now: below the product's minimum, where it may not cure properly; stalled_from_min: from
    when it is or will be, minutes from mixing. [min]
    led: which source the surface's temperature is from now.
    """

    milestones: tuple[Milestone, ...]
    factors: tuple[Factor, ...]
    ratio: float
    reason: tuple[Notice, ...]
    warnings: tuple[Notice, ...] = ()
    age_min: float = 0.0
    stalled_now: bool = False
    stalled_from_min: float | None = None
    by_name: Mapping[str, Milestone] = field(default_factory=dict)
    led: LeadingSource | None = None


def _chain(times: dict[str, Times]) -> dict[str, Times]:
    """Milestones that must follow one another never cross, bound by bound."""
    for before, after, _ in ORDERED:
        if before in times and after in times and after != "recoat_closes":
            times[after] = [
                None if one is None or two is None else max(one, two)
                for one, two in zip(times[before], times[after], strict=True)
            ]
    return times


def closing_cap_min(sheet: Sheet, mean_c: float) -> float:
    """Longest a recoat window may stay open.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    mean_c : float
        Mean temperature of the panel [C].

    Returns
    -------
    float
        The label's own clock time, or that of a row at or above this temperature [min].
    """
    rows = [row for row in sheet.times if "recoat_closes" in row.minutes]
    warmer = [row for row in rows if row.temperature_c >= mean_c - ROW_TOLERANCE_C]
    if not warmer:
        return float(sheet.reference.minutes["recoat_closes"])
    return float(min(warmer, key=lambda row: row.temperature_c).minutes["recoat_closes"])


def _mean_c(problem: CureProblem, name: str, likely_min: float | None) -> float:
    history = problem.history
    until = likely_min if likely_min is not None else max(history.now_min, 60.0)
    return mean_until(history.times_min, problem.group(name).material_c[history.likely], until)


def _capped(problem: CureProblem, times: Times) -> Times:
    cap = closing_cap_min(problem.sheet, _mean_c(problem, "recoat_closes", times[1]))
    return [cap if time_min is None else min(time_min, cap) for time_min in times]


def _milestone(
    problem: CureProblem, name: str, times: Times, *, gone: bool, if_warm: bool
) -> Milestone:
    label_min = float(problem.sheet.reference.minutes[name])
    mean_c = _mean_c(problem, name, times[1])
    warnings = temperature_warnings(problem.sheet, mean_c)
    refused = film_refusal(problem.sheet, problem.mix, name)
    if refused:
        warnings.append(refused)
    elif gone:
        warnings.append(OUTLASTED)
    elif stops_short(problem, name, mean_c):
        warnings.append(notice("stops-short"))
        times = [None, None, None]
    elif name == "recoat_closes":
        times = _capped(problem, times)
        if times[0] is not None and times[0] >= 0.999 * label_min:
            warnings.append(notice("never-later-than-label"))
    else:
        warnings += bound_warnings(problem, name, times, mean_c)
    early, likely, late = times
    warm = if_warm and late is not None
    shown, cautions = _shown(name), tuple(warnings)
    return Milestone(name, early, likely, late, shown, label_min, cautions, gone, warm)


def _shown(name: str) -> Bound:
    return "early" if name in EARLY_SHOWN else "late"


def _waited_for(problem: CureProblem, name: str) -> str:
    """The milestone whose age is shown: this one where it must be waited for, else the next."""
    waiting = [
        milestone
        for milestone in REASON_ORDER
        if stalls(milestone) and milestone in problem.modifiers
    ]
    return name if stalls(name) else next(iter(waiting), name)


def _stall(problem: CureProblem, likely_min: Sequence[float | None]) -> tuple[bool, float | None]:
    """Whether it is below the minimum now, and from when it is, but for a time after the likely
    ones of all milestones. [min]"""
    history = problem.history
    cold = history.surface_c[history.likely] < minimum_c(problem.sheet)
    now = now_sample(history)
    ahead = np.flatnonzero(cold[now:])
    if ahead.size == 0:
        return False, None
    start = now + int(ahead[0])
    if cold[now]:
        warm = np.flatnonzero(~cold[: now + 1])
        start = int(warm[-1]) + 1 if warm.size else 0
    from_min = float(history.times_min[start])
    if all(time is not None and from_min > time for time in likely_min):
        return bool(cold[now]), None
    return bool(cold[now]), from_min


def _refused(sheet: Sheet, why: tuple[Notice, ...]) -> Forecast:
    minutes = sheet.reference.minutes
    milestones = tuple(
        Milestone(name, None, None, None, _shown(name), minutes[name], why)
        for name in names_of(sheet)
    )
    named = {milestone.name: milestone for milestone in milestones}
    return Forecast(milestones, (), math.inf, why[:1], why, by_name=named)


def _reason_name(times: Mapping[str, Times], now_min: float, sightings: Sequence[Sighting]) -> str:
    """What the reason is about: the milestone counted down to, else the last one reached."""
    answers = [sighting.state.partition(":") for sighting in sightings]
    reached = {milestone for answer, _, milestone in answers if is_reached(answer)}
    given = [name for name in REASON_ORDER if name in times]
    timed = {name: likely for name in given if (likely := times[name][1]) is not None}
    counted = {name: times[name][0 if name in EARLY_SHOWN else 2] for name in given}
    ahead = [
        name
        for name in given
        if (counted[name] or timed.get(name, math.inf)) > now_min and name not in reached
    ]
    last = max(timed, key=lambda name: timed[name], default=given[0])
    return ahead[0] if ahead else last


def _kept_warm(ahead: Outlook, least_c: float) -> Outlook:
    """The outlook with a cool path that goes below the minimum only where the likely one does."""
    floor = np.minimum(least_c, ahead.likely_c)
    return replace(ahead, cool_c=np.maximum(ahead.cool_c, floor))


def _late_if_warm(
    problem: CureProblem,
    past: Conditions,
    ahead: Outlook,
    learned: Learned,
    times: Mapping[str, Times],
) -> dict[str, float | None]:
    """The late bounds that only a cool path below the minimum takes away, as if it kept warm. [min]

    Below its minimum a product is taken to stop, which it may never leave again: there a late bound
    is infinite, however unlikely the cold is beyond one in twenty.
    """
    open_ended = [name for name, bounds in times.items() if _ends_by_cold(problem, name, bounds)]
    if not open_ended:
        return {}
    warm = _kept_warm(ahead, minimum_c(problem.sheet))
    kept = cure_problem(problem.sheet, problem.mix, past, warm, problem.sightings, learned.ea_kj)
    return {name: bounds[0] for name, bounds in solve(kept, learned, open_ended, LATE).items()}


def _ends_by_cold(problem: CureProblem, name: str, times: Times) -> bool:
    may_stop = stalls(name) and bool(problem.history.surface_c.min() < minimum_c(problem.sheet))
    return may_stop and times[1] is not None and times[2] is None


def _age_min(problem: CureProblem, name: str, learned: Learned) -> float:
    """Equivalent age by now, at the label's reference. [min]"""
    aged = _waited_for(problem, name)
    energy_kj, steep_kj = learned.mean_energy(aged), learned.likely_steep_kj
    row = likely_age(problem, problem.group(aged), energy_kj, steep_kj=steep_kj)
    return float(equivalent_age.at(problem.history.times_min, row, problem.history.now_min))


def forecast(
    sheet: Sheet,
    mix: Mix,
    past: Conditions,
    ahead: Outlook,
    sightings: Sequence[Sighting] = (),
    others: Sequence[PastStep] = (),
) -> Forecast:
    """Early, likely and late times of every milestone of a step, and the reason.

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

    Returns
    -------
    Forecast
        Milestones with times [min] from mixing; none where the mix is refused.
    """
    refusing = refusals(sheet, mix)
    if refusing:
        return _refused(sheet, refusing)
    learned = belief.learned(sheet, others)
    fresh = belief.learned(sheet) if others else learned
    problem = cure_problem(sheet, mix, past, ahead, sightings, learned.ea_kj)
    raw = solve(problem, learned, names_of(sheet))
    raw |= {name: [None, None, None] for name in raw if film_refusal(sheet, mix, name)}
    gone = outlasted(sightings, raw)
    raw |= {name: [None, None, None] for name in gone}
    counted = _reason_name(raw, problem.history.now_min, sightings)
    reason = explain(problem, counted, learned, fresh, raw[counted][1])
    if_warm = _late_if_warm(problem, past, ahead, learned, raw)
    chained = _chain(raw | {name: [*raw[name][:2], late] for name, late in if_warm.items()})
    milestones = tuple(
        _milestone(problem, name, chained[name], gone=name in gone, if_warm=name in if_warm)
        for name in names_of(sheet)
    )
    named = {milestone.name: milestone for milestone in milestones}
    shown = {name: [m.early_min, m.likely_min, m.late_min] for name, m in named.items()}
    warnings = step_warnings(problem, past, shown)
    if any(milestone.late_if_warm for milestone in milestones):
        warnings.append(if_warm_warning(sheet))
    stalled_now, stalled_from = _stall(problem, [times[1] for times in raw.values()])
    return Forecast(
        milestones,
        reason.factors,
        reason.ratio,
        reason.notices,
        tuple(warnings),
        _age_min(problem, counted, learned),
        stalled_now,
        stalled_from,
        named,
        past.leading_source,
    )
