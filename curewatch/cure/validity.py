"""What the times of a step hold for: their warnings, and what a test refutes.

Notes
-----
The belief ends at about two and a half times the label (`grid.X_REACH`). Where a test on the work
finds a milestone not reached later than that, no bound of it holds, nor of what comes after it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from curewatch.climate.conditions import Conditions
from curewatch.cure.inputs import Sighting
from curewatch.cure.kinetics import DRY_SHARE, HOLD_ABOVE_C, water_share
from curewatch.cure.problem import DAMP_FROM_PCT, CureProblem, Times
from curewatch.cure.thermal_history import ThermalHistory, minimum_c, reference_pct, stalls
from curewatch.durations import rounding
from curewatch.notice import Duration, Measure, Notice, notice
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.label import doubtful
from curewatch.products.sheet import Sheet
from curewatch.vocabulary import ORDERED, is_reached

FAR_FROM_ROW_C = 15.0
VITRIFIES_BELOW_C = 10.0
DAMP_STYRENE_PCT = 80.0
NEAR_ROW_C, LABEL_DIFFERS = 1.0, 0.15
OUTLASTED = notice("outlasted")


def now_sample(history: ThermalHistory) -> int:
    """The sample of now.

    Parameters
    ----------
    history : ThermalHistory
        The step's temperatures and humidity along time.

    Returns
    -------
    int
        Its place among the instants [-].
    """
    return max(int(np.searchsorted(history.times_min, history.now_min, side="right")) - 1, 0)


def _row_warning(sheet: Sheet, mean_c: float) -> list[Notice]:
    far = min(abs(mean_c - row.temperature_c) for row in sheet.times)
    if far <= FAR_FROM_ROW_C:
        return []
    return [notice("far-from-label", mean=Measure(mean_c, "C"), gap=Measure(far, "K"))]


def _label_warning(
    sheet: Sheet, name: str, mean_c: float, likely_min: float | None
) -> list[Notice]:
    """Where a further row of the label at about this temperature says otherwise, its figure."""
    for row in sheet.times[1:]:
        near = abs(row.temperature_c - mean_c) <= NEAR_ROW_C and name in row.minutes
        if near and likely_min and abs(math.log(likely_min / row.minutes[name])) > LABEL_DIFFERS:
            own = Duration(row.minutes[name], rounding(name))
            at = Measure(row.temperature_c, "C")
            return [notice("label-says", time=own, temperature=at)]
    return []


def _heat_warning(mean_c: float) -> list[Notice]:
    if mean_c <= HOLD_ABOVE_C:
        return []
    return [notice("hot-held", limit=Measure(HOLD_ABOVE_C, "C"))]


def stops_short(problem: CureProblem, name: str, mean_c: float) -> bool:
    """Whether it is too cold for an epoxy to cure fully.

    Parameters
    ----------
    problem : CureProblem
        The step laid out by `cure_problem`.
    name : str
        Name of the milestone.
    mean_c : float
        Of the material [C].

    Returns
    -------
    bool
        True below a mean of 10 C.
    """
    cold = round(mean_c, 3) < VITRIFIES_BELOW_C
    return name == "full_cure" and problem.sheet.chemistry == "epoxy-amine" and cold


def _missing(problem: CureProblem, name: str, times: Times) -> list[Notice]:
    if times[2] is not None:
        return []
    least, history = minimum_c(problem.sheet), problem.history
    path, code = (history.likely, "no-time") if times[1] is None else (0, "no-latest")
    if stalls(name) and bool(history.surface_c[path].min() < least):
        return [notice(f"{code}-cold", least=Measure(least, "C"))]
    return [notice(f"{code}-far", ahead=Duration(float(history.times_min[-1])))]


def _repeats_warning(problem: CureProblem, times: Times) -> list[Notice]:
    late = times[2]
    if late is None or late <= problem.history.outlook_end_min:
        return []
    return [notice("forecast-repeats")]


def temperature_warnings(sheet: Sheet, mean_c: float) -> list[Notice]:
    """How far a mean temperature is from what the label and the model cover.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    mean_c : float
        Mean temperature [C].

    Returns
    -------
    list[Notice]
        Codes with values.
    """
    return _row_warning(sheet, mean_c) + _heat_warning(mean_c)


def bound_warnings(problem: CureProblem, name: str, times: Times, mean_c: float) -> list[Notice]:
    """Why a milestone's bounds are missing, and what those that are given hold for.

    Parameters
    ----------
    problem : CureProblem
        The step laid out by `cure_problem`.
    name : str
        Name of the milestone.
    times : Times
        Early, likely and late time [min]; None where none can be given.
    mean_c : float
        Mean temperature of the material until the likely time [C].

    Returns
    -------
    list[Notice]
        Codes with values.
    """
    warnings = _missing(problem, name, times) + _repeats_warning(problem, times)
    return warnings + _label_warning(problem.sheet, name, mean_c, times[1])


def if_warm_warning(sheet: Sheet) -> Notice:
    """What late bounds ask of the panel that hold only while it stays warm enough.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.

    Returns
    -------
    Notice
        A code with values.
    """
    return notice("hold-if-warm", least=Measure(minimum_c(sheet), "C"))


def _cold_warning(problem: CureProblem) -> list[Notice]:
    history, least = problem.history, minimum_c(problem.sheet)
    panel_c = float(history.surface_c[history.likely, now_sample(history)])
    if panel_c >= least:
        return []
    return [notice("cold-now", panel=Measure(panel_c, "C"), least=Measure(least, "C"))]


def _window_warning(times: Mapping[str, Times]) -> list[Notice]:
    if "recoat_opens" not in times or "recoat_closes" not in times:
        return []
    opens, closes = times["recoat_opens"][2], times["recoat_closes"][0]
    if opens is not None and closes is not None and opens < closes:
        return []
    return [notice("window-may-close")]


def _air_warnings(problem: CureProblem) -> list[Notice]:
    """What the air at mixing does that no time says."""
    sheet, family = problem.sheet, CHEMISTRIES[problem.sheet.chemistry]
    warnings = []
    humid = float(problem.history.humidity_pct[problem.history.likely, 0])
    if family.humidity == "widens" and humid > DAMP_FROM_PCT:
        warnings.append(notice("damp-shortens"))
    if sheet.hazards.styrene and humid > DAMP_STYRENE_PCT:
        warnings.append(notice("damp-tacky", humidity=Measure(humid, "%")))
    most = sheet.limits.humidity_max_pct
    if most is not None and humid > most:
        humidity = Measure(humid, "%")
        warnings.append(notice("too-damp", humidity=humidity, most=Measure(most, "%")))
    top = sheet.limits.temperature_c
    if top and problem.history.surface_c[problem.history.likely, 0] > top[1]:
        warnings.append(notice("hot-at-mixing", most=Measure(top[1], "C")))
    return warnings


def _dry_warning(problem: CureProblem) -> list[Notice]:
    """Where a moisture cure lacks water rather than warmth."""
    sheet, history = problem.sheet, problem.history
    if CHEMISTRIES[sheet.chemistry].humidity != "absolute":
        return []
    now = history.likely, now_sample(history)
    here = float(history.air_c[now]), float(history.humidity_pct[now])
    share = water_share(*here, sheet.reference.temperature_c, reference_pct(sheet))
    return [notice("too-dry", share=Measure(100 * share, "%"))] if share < DRY_SHARE else []


def _pot_warning(problem: CureProblem, times: Mapping[str, Times]) -> list[Notice]:
    """Where so much in one pot goes off before the working time is over."""
    if "pot_life" not in times or "working_time" not in times:
        return []
    pot, work = times["pot_life"][0], times["working_time"][0]
    more = problem.modifiers["pot_life"].amount < 1.0
    return [notice("pot-before-work")] if more and pot and work and pot < work else []


def step_warnings(
    problem: CureProblem, past: Conditions, shown: Mapping[str, Times]
) -> list[Notice]:
    """What counts for every milestone of a step.

    Parameters
    ----------
    problem : CureProblem
        The step laid out by `cure_problem`.
    past : Conditions
        What the step felt until now.
    shown : Mapping[str, Times]
        By milestone, the times given [min].

    Returns
    -------
    list[Notice]
        Codes with values.
    """
    sheet, family = problem.sheet, CHEMISTRIES[problem.sheet.chemistry]
    warnings = [*past.notes, *_cold_warning(problem)]
    warnings += [notice("check-figures", doubt=doubt) for doubt in doubtful(sheet)]
    if family.assumed:
        warnings.append(notice("cold-assumed", chemistry=family.words))
    warnings += _air_warnings(problem) + _dry_warning(problem)
    return warnings + _pot_warning(problem, shown) + _window_warning(shown)


def outlasted(sightings: Sequence[Sighting], times: Mapping[str, Times]) -> frozenset[str]:
    """The milestones without a bound that holds.

    Parameters
    ----------
    sightings : Sequence[Sighting]
        Looks at this batch.
    times : Mapping[str, Times]
        By milestone: early, likely and late time [min].

    Returns
    -------
    frozenset[str]
        Those found not reached by the last test of them, later than their latest time, and those
        that come after them.
    """
    tests: dict[str, tuple[bool, float]] = {}
    for sighting in sorted(sightings, key=lambda sighting: sighting.after_min):
        answer, _, name = sighting.state.partition(":")
        if name in times and stalls(name):
            tests[name] = (is_reached(answer), sighting.after_min)
    gone = {
        name
        for name, (reached, after_min) in tests.items()
        if not reached and (late_min := times[name][2]) is not None and late_min < after_min
    }
    follow = {after for before, after, _ in ORDERED if before in gone and stalls(after)}
    return frozenset(gone | (follow & times.keys()))
