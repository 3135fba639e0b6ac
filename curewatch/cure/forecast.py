"""A sheet, the air of the garage and what was seen, to early, likely and late times."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
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
from curewatch.cure.problem import Case, Times, make_case, names_of, solve
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
from curewatch.products.sheet import Sheet
from curewatch.vocabulary import EARLY_SHOWN, ORDERED, TESTED, is_reached

Bound = Literal["early", "late"]

REASON_ORDER = (*TESTED, "pot_life")
ROW_TOLERANCE_C = 0.5
LATE = LATER_SHARES[-1:]


@dataclass(frozen=True)
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
    warnings: tuple[str, ...] = ()
    outlasted: bool = False
    late_if_warm: bool = False


@dataclass(frozen=True)
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
    reason: str
    warnings: tuple[str, ...] = ()
    age_min: float = 0.0
    stalled_now: bool = False
    stalled_from_min: float | None = None
    by_name: Mapping[str, Milestone] = field(default_factory=dict)
    led: LeadingSource | None = None


def _chain(found: dict[str, Times]) -> dict[str, Times]:
    """Milestones that must follow one another never cross, bound by bound."""
    for before, after, _ in ORDERED:
        if before in found and after in found and after != "recoat_closes":
            found[after] = [
                None if one is None or two is None else max(one, two)
                for one, two in zip(found[before], found[after], strict=True)
            ]
    return found


def closing_cap_min(sheet: Sheet, mean_c: float) -> float:
    """Longest a recoat window may stay open: the label's own clock time, or that of a row at or
    above this temperature. [min]; mean_c [C]"""
    rows = [row for row in sheet.times if "recoat_closes" in row.minutes]
    warmer = [row for row in rows if row.temperature_c >= mean_c - ROW_TOLERANCE_C]
    if not warmer:
        return float(sheet.reference.minutes["recoat_closes"])
    return float(min(warmer, key=lambda row: row.temperature_c).minutes["recoat_closes"])


def _mean_c(case: Case, name: str, likely_min: float | None) -> float:
    course = case.course
    until = likely_min if likely_min is not None else max(course.now_min, 60.0)
    return mean_until(course.times_min, case.group(name).material_c[course.likely], until)


def _capped(case: Case, times: Times) -> Times:
    cap = closing_cap_min(case.sheet, _mean_c(case, "recoat_closes", times[1]))
    return [cap if each is None else min(each, cap) for each in times]


def _milestone(case: Case, name: str, times: Times, *, gone: bool, if_warm: bool) -> Milestone:
    label_min = float(case.sheet.reference.minutes[name])
    mean_c = _mean_c(case, name, times[1])
    warnings = temperature_warnings(case.sheet, mean_c)
    refused = film_refusal(case.sheet, case.mix, name)
    if refused:
        warnings.append(refused)
    elif gone:
        warnings.append(OUTLASTED)
    elif stops_short(case, name, mean_c):
        warnings.append("an epoxy this cold stops short of full cure: warm it to finish it")
        times = [None, None, None]
    elif name == "recoat_closes":
        times = _capped(case, times)
        if times[0] is not None and times[0] >= 0.999 * label_min:
            warnings.append("never later than the label's own time, however cold")
    else:
        warnings += bound_warnings(case, name, times, mean_c)
    early, likely, late = times
    warm = if_warm and late is not None
    said = tuple(warnings)
    return Milestone(name, early, likely, late, _shown(name), label_min, said, gone, warm)


def _shown(name: str) -> Bound:
    return "early" if name in EARLY_SHOWN else "late"


def _waited_for(case: Case, name: str) -> str:
    """The milestone whose age is told: this one where it must be waited for, else the next."""
    waiting = [each for each in REASON_ORDER if stalls(each) and each in case.stretches]
    return name if stalls(name) else next(iter(waiting), name)


def _stall(case: Case, until_min: float | None) -> tuple[bool, float | None]:
    """Whether it is below the minimum now, and from when it is. [min]"""
    course = case.course
    cold = course.surface_c[course.likely] < minimum_c(case.sheet)
    now = now_sample(course)
    ahead = np.flatnonzero(cold[now:])
    if ahead.size == 0:
        return False, None
    start = now + int(ahead[0])
    if cold[now]:
        warm = np.flatnonzero(~cold[: now + 1])
        start = int(warm[-1]) + 1 if warm.size else 0
    from_min = float(course.times_min[start])
    if until_min is not None and from_min > until_min:
        return bool(cold[now]), None
    return bool(cold[now]), from_min


def _refused(sheet: Sheet, why: tuple[str, ...]) -> Forecast:
    minutes = sheet.reference.minutes
    milestones = tuple(
        Milestone(name, None, None, None, _shown(name), minutes[name], why)
        for name in names_of(sheet)
    )
    named = {each.name: each for each in milestones}
    return Forecast(milestones, (), math.inf, why[0], why, by_name=named)


def _reason_name(found: Mapping[str, Times], now_min: float, sightings: Sequence[Sighting]) -> str:
    """What the reason is about: the milestone counted down to, else the last one reached."""
    answers = [each.state.partition(":") for each in sightings]
    reached = {milestone for answer, _, milestone in answers if is_reached(answer)}
    given = [name for name in REASON_ORDER if name in found]
    timed = {name: likely for name in given if (likely := found[name][1]) is not None}
    counted = {name: found[name][0 if name in EARLY_SHOWN else 2] for name in given}
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
    case: Case, past: Conditions, ahead: Outlook, learned: Learned, found: Mapping[str, Times]
) -> dict[str, float | None]:
    """The late bounds that only a cool path below the minimum takes away, as if it kept warm. [min]

    Below its minimum a product is taken to stop, which it may never leave again: there a late bound
    is infinite, however unlikely the cold is beyond one in twenty.
    """
    open_ended = [name for name, times in found.items() if _ends_by_cold(case, name, times)]
    if not open_ended:
        return {}
    warm = _kept_warm(ahead, minimum_c(case.sheet))
    kept = make_case(case.sheet, case.mix, past, warm, case.sightings, learned.ea_kj)
    return {name: times[0] for name, times in solve(kept, learned, open_ended, LATE).items()}


def _ends_by_cold(case: Case, name: str, times: Times) -> bool:
    may_stop = stalls(name) and bool(case.course.surface_c.min() < minimum_c(case.sheet))
    return may_stop and times[1] is not None and times[2] is None


def _age_min(case: Case, name: str, learned: Learned) -> float:
    """Equivalent age by now, at the label's reference. [min]"""
    aged = _waited_for(case, name)
    energy_kj, steep_kj = learned.mean_energy(aged), learned.likely_steep_kj
    row = likely_age(case, case.group(aged), energy_kj, steep_kj=steep_kj)
    return float(equivalent_age.at(case.course.times_min, row, case.course.now_min))


def forecast(
    sheet: Sheet,
    mix: Mix,
    past: Conditions,
    ahead: Outlook,
    sightings: Sequence[Sighting] = (),
    others: Sequence[PastStep] = (),
) -> Forecast:
    """Early, likely and late times of every milestone of a step, and the reason.

    past: what the step felt until now; ahead: the outlook from now; sightings: looks at this batch;
    others: earlier steps of the same product and what was seen on them.
    """
    refusing = refusals(sheet, mix)
    if refusing:
        return _refused(sheet, refusing)
    learned = belief.learned(sheet, others)
    fresh = belief.learned(sheet) if others else learned
    case = make_case(sheet, mix, past, ahead, sightings, learned.ea_kj)
    raw = solve(case, learned, names_of(sheet))
    raw |= {each: [None, None, None] for each in raw if film_refusal(sheet, mix, each)}
    gone = outlasted(sightings, raw)
    raw |= {each: [None, None, None] for each in gone}
    name = _reason_name(raw, case.course.now_min, sightings)
    reason = explain(case, name, learned, fresh, raw[name][1])
    if_warm = _late_if_warm(case, past, ahead, learned, raw)
    found = _chain(raw | {each: [*raw[each][:2], late] for each, late in if_warm.items()})
    milestones = tuple(
        _milestone(case, each, found[each], gone=each in gone, if_warm=each in if_warm)
        for each in names_of(sheet)
    )
    named = {each.name: each for each in milestones}
    shown = {each.name: [each.early_min, each.likely_min, each.late_min] for each in milestones}
    warnings = step_warnings(case, past, shown)
    if any(each.late_if_warm for each in milestones):
        warnings.append(if_warm_warning(sheet))
    last = [times[1] for times in raw.values()]
    until = None if None in last else max(each for each in last if each is not None)
    stalled_now, stalled_from = _stall(case, until)
    return Forecast(
        milestones,
        reason.factors,
        reason.ratio,
        reason.words,
        tuple(warnings),
        _age_min(case, name, learned),
        stalled_now,
        stalled_from,
        named,
        past.leading_source,
    )
