"""A sheet, the air of the garage and what was seen, to early, likely and late times."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from curewatch.climate.conditions import Conditions
from curewatch.climate.outlook import Outlook
from curewatch.climate.sources import LeadingSource
from curewatch.cure import belief, equivalent_age
from curewatch.cure.belief import PastStep as PastStep
from curewatch.cure.explanation import Factor as Factor
from curewatch.cure.explanation import explain, likely_age, mean_until
from curewatch.cure.inputs import Mix, Sighting
from curewatch.cure.kinetics import HOLD_ABOVE_C
from curewatch.cure.modifiers import film_refusal, refusals
from curewatch.cure.outlasted import WHY, outlasted
from curewatch.cure.problem import DAMP_FROM_PCT, Case, Times, make_case, names_of, solve
from curewatch.cure.thermal_history import Course, minimum_c, stalls
from curewatch.durations import duration, rounding
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.label import doubtful
from curewatch.products.sheet import Sheet
from curewatch.vocabulary import EARLY_SHOWN, ORDERED, TESTED, is_reached

Bound = Literal["early", "late"]

REASON_ORDER = (*TESTED, "pot_life")
FAR_FROM_ROW_C, ROW_TOLERANCE_C = 15.0, 0.5
VITRIFIES_BELOW_C = 10.0
DAMP_STYRENE_PCT = 80.0
NEAR_ROW_C, LABEL_DIFFERS = 1.0, 0.15


@dataclass(frozen=True)
class Milestone:
    """When a milestone is reached, in minutes from mixing. [min]

    None where the model refuses or the state is not reached within the horizon (see warnings).
    `shown` says which bound a countdown runs to. `label_min` is the label's own time. [min]
    outlasted: a test found it, or what comes before it, not reached after its latest time.
    """

    name: str
    early_min: float | None
    likely_min: float | None
    late_min: float | None
    shown: Bound
    label_min: float
    warnings: tuple[str, ...] = ()
    outlasted: bool = False


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


def _row_warning(sheet: Sheet, mean_c: float) -> list[str]:
    far = min(abs(mean_c - row.temperature_c) for row in sheet.times)
    if far <= FAR_FROM_ROW_C:
        return []
    return [f"{mean_c:.0f} C is {far:.0f} K from the nearest temperature on the label"]


def _label_warning(sheet: Sheet, name: str, mean_c: float, likely_min: float | None) -> list[str]:
    """Where a further row of the label at about this temperature says otherwise, its figure."""
    for row in sheet.times[1:]:
        near = abs(row.temperature_c - mean_c) <= NEAR_ROW_C and name in row.minutes
        if near and likely_min and abs(math.log(likely_min / row.minutes[name])) > LABEL_DIFFERS:
            own = duration(row.minutes[name], rounding(name))
            return [f"the label itself says {own} at {row.temperature_c:g} C"]
    return []


def _heat_warning(mean_c: float) -> list[str]:
    if mean_c <= HOLD_ABOVE_C:
        return []
    return [f"above {HOLD_ABOVE_C:g} C the speed is held at its {HOLD_ABOVE_C:g} C value"]


def _stops_short(case: Case, name: str, mean_c: float) -> bool:
    cold = round(mean_c, 3) < VITRIFIES_BELOW_C
    return name == "full_cure" and case.sheet.chemistry == "epoxy-amine" and cold


def _missing(case: Case, name: str, times: Times) -> list[str]:
    if times[2] is not None:
        return []
    least, course = minimum_c(case.sheet), case.course
    path = course.likely if times[1] is None else 0
    cold = stalls(name) and bool(course.surface_c[path].min() < least)
    minimum = f"this product's minimum of {least:g} C: it may not cure properly"
    far = f"{duration(course.times_min[-1])} are not enough"
    if times[1] is None:
        why = f"the panel is below {minimum}" if cold else far
        return [f"no time can be given: {why}"]
    why = f"the panel may fall below {minimum}" if cold else far
    return [f"no late bound: {why}"]


def _told_warning(case: Case, times: Times) -> list[str]:
    late = times[2]
    if late is None or late <= case.course.told_min:
        return []
    return ["beyond the outlook its last day is held"]


def _milestone(case: Case, name: str, times: Times, gone: bool) -> Milestone:
    label_min = float(case.sheet.reference.minutes[name])
    mean_c = _mean_c(case, name, times[1])
    warnings = _row_warning(case.sheet, mean_c) + _heat_warning(mean_c)
    refused = film_refusal(case.sheet, case.mix, name)
    if refused:
        warnings.append(refused)
    elif gone:
        warnings.append(WHY)
    elif _stops_short(case, name, mean_c):
        warnings.append("an epoxy this cold stops short of full cure: warm it to finish it")
        times = [None, None, None]
    elif name == "recoat_closes":
        times = _capped(case, times)
        if times[0] is not None and times[0] >= 0.999 * label_min:
            warnings.append("never later than the label's own time, however cold")
    else:
        warnings += _missing(case, name, times) + _told_warning(case, times)
        warnings += _label_warning(case.sheet, name, mean_c, times[1])
    shown: Bound = "early" if name in EARLY_SHOWN else "late"
    early, likely, late = times
    return Milestone(name, early, likely, late, shown, label_min, tuple(warnings), gone)


def _now(course: Course) -> int:
    """The sample of now."""
    return max(int(np.searchsorted(course.times_min, course.now_min, side="right")) - 1, 0)


def _cold_warning(case: Case) -> list[str]:
    course, least = case.course, minimum_c(case.sheet)
    panel_c = float(course.surface_c[course.likely, _now(course)])
    if panel_c >= least:
        return []
    below = f"below this product's minimum of {least:g} C: it may not cure properly"
    return [f"the panel is at {panel_c:.1f} C, {below}"]


def _window_warning(milestones: Sequence[Milestone]) -> list[str]:
    named = {each.name: each for each in milestones}
    if "recoat_opens" not in named or "recoat_closes" not in named:
        return []
    opens, closes = named["recoat_opens"].late_min, named["recoat_closes"].early_min
    if opens is not None and closes is not None and opens < closes:
        return []
    return ["the recoat window may close before it surely opens: plan to scuff before coating"]


def _warnings(case: Case, past: Conditions, milestones: Sequence[Milestone]) -> list[str]:
    sheet, family = case.sheet, CHEMISTRIES[case.sheet.chemistry]
    found = [*past.notes, *_cold_warning(case)]
    found += [f"check the product's figures: {each}" for each in doubtful(sheet)]
    if family.assumed:
        found.append(f"how {family.words} slows in the cold is assumed, not published: wide band")
    humid = case.course.humidity_pct[case.course.likely, 0]
    if family.humidity == "widens" and humid > DAMP_FROM_PCT:
        found.append("damp air shortens the pot life of urethane by an amount not published")
    if sheet.hazards.styrene and humid > DAMP_STYRENE_PCT:
        found.append(f"at {humid:.0f} % humidity the surface of polyester may stay tacky")
    most = sheet.limits.humidity_max_pct
    if most is not None and humid > most:
        found.append(f"{humid:.0f} % humidity is above the sheet's {most:g} %")
    top = sheet.limits.temperature_c
    if top and case.course.surface_c[case.course.likely, 0] > top[1]:
        found.append(f"the panel was above the sheet's {top[1]:g} C at mixing")
    return found + _window_warning(milestones)


def _waited_for(case: Case, name: str) -> str:
    """The milestone whose age is told: this one where it must be waited for, else the next."""
    waiting = [each for each in REASON_ORDER if stalls(each) and each in case.stretches]
    return name if stalls(name) else next(iter(waiting), name)


def _stall(case: Case, until_min: float | None) -> tuple[bool, float | None]:
    """Whether it is below the minimum now, and from when it is. [min]"""
    course = case.course
    cold = course.surface_c[course.likely] < minimum_c(case.sheet)
    now = _now(course)
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
    bounds: dict[bool, Bound] = {True: "early", False: "late"}
    milestones = tuple(
        Milestone(name, None, None, None, bounds[name in EARLY_SHOWN], minutes[name], why)
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
    found = _chain(dict(raw))
    milestones = tuple(
        _milestone(case, each, found[each], each in gone) for each in names_of(sheet)
    )
    last = [times[1] for times in raw.values()]
    until = None if None in last else max(each for each in last if each is not None)
    stalled_now, stalled_from = _stall(case, until)
    aged = _waited_for(case, name)
    row = likely_age(
        case,
        case.group(aged),
        learned.mean_energy(aged),
        steep_kj=learned.likely_steep_kj,
    )
    return Forecast(
        milestones,
        reason.factors,
        reason.ratio,
        reason.words,
        tuple(_warnings(case, past, milestones)),
        float(equivalent_age.at(case.course.times_min, row, case.course.now_min)),
        stalled_now,
        stalled_from,
        {each.name: each for each in milestones},
        past.leading_source,
    )
