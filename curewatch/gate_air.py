"""Is the place fit: panel and air against the sheet, dew and humidity, now and in the outlook."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from curewatch import air
from curewatch.asked import Asked, at_constant, plain
from curewatch.heated import volatile
from curewatch.milestone import Milestone
from curewatch.outlook import Outlook
from curewatch.verdict import Check, Manner, Verdict, said, when

CLOSE_C = 1.0
DEW_SPREAD_C, HUMIDITY_MAX_PCT = 3.0, 85.0
DEW_SOURCE = "FHWA-RD-98-084, painting checklist; MIL-HDBK-1110, 9.6.6"
HUMIDITY_SOURCE = "common in coating specifications; the sheet is silent"
SURE_H, FAR_H = 6.0, 24.0
WEAK = (
    "so far ahead the outlook finds dew only about four times in ten (computed on a year of open "
    "weather, a day ahead)"
)
MEASURE = "measure it: tape a probe to the metal, or type: curewatch air --surface"
NO_HEAT = (
    "no heat while solvent flashes off: warm the metal before, heat off and air moving while it "
    "is applied, warm again after"
)


def _band(value: float, least: float, most: float | None) -> Verdict:
    if value < least or (most is not None and value > most):
        return "stop"
    close = value < least + CLOSE_C or (most is not None and value > most - CLOSE_C)
    return "think" if close else "go"


def heat(asked: Asked, say: Manner) -> str:
    """What heat on the panel, and for how long, would make it go."""
    matters = asked.matters
    if matters is None:
        return ""
    target = asked.sheet.reference.temperature_c
    found = at_constant(asked, target, matters.name)
    if found is None or found.late_min is None:
        return ""
    words = (
        f"hold the panel itself at {say.temperature(target, 0)} for {said(found.late_min)}, to the "
        f"late bound of {plain(matters.name)}"
    )
    if asked.most_c is not None:
        words += f", never above {say.temperature(asked.most_c, 0)}"
    return f"{words}; {NO_HEAT}" if volatile(asked.sheet) else words


def instead(asked: Asked, say: Manner) -> str:
    """What of the user's own products takes this temperature."""
    surface = asked.here.surface_c
    others = [
        each.name
        for each in asked.shelf
        if each.id != asked.sheet.id
        and surface is not None
        and each.limits.temperature_c is not None
        and each.limits.temperature_c[0] + CLOSE_C <= surface <= each.limits.temperature_c[1]
    ]
    if not others or surface is None:
        return ""
    return f"on your shelf, {say.temperature(surface)} is inside the limits of {', '.join(others)}"


def _joined(*parts: str) -> str:
    return "; ".join(part for part in parts if part)


def _doubts(asked: Asked) -> str:
    here = asked.here
    words = "; taken from the air, the metal may be colder" if here.from_air else ""
    return f"{words}; read {said(here.age_min or 0)} ago" if here.old else words


def panel(asked: Asked, say: Manner) -> Check:
    """The panel's temperature now against the sheet."""
    value, least, most = asked.here.surface_c, asked.least_c, asked.most_c
    if value is None:
        words = "the panel's temperature is not known"
        return Check("panel", "think", words, None, least, "C", asked.least_source, MEASURE)
    verdict = _band(value, least, most)
    hot = most is not None and value > most - CLOSE_C
    limit = most if hot and most is not None else least
    side = {"stop": ("under", "over"), "think": ("close to",) * 2, "go": ("above",) * 2}
    words = (
        f"the panel is at {say.temperature(value)}, {side[verdict][hot]} the sheet's "
        f"{say.temperature(limit, 0)}"
    )
    words += _doubts(asked)
    change = ""
    if verdict != "go":
        cold = _joined(heat(asked, say), instead(asked, say))
        change = "let it cool, out of the sun or lamp" if hot else cold or MEASURE
    elif asked.here.from_air or asked.here.old:
        verdict, change = "think", MEASURE
    return Check("panel", verdict, words, value, limit, "C", asked.least_source, change)


def room(asked: Asked, say: Manner) -> Check | None:
    """The air's temperature against the sheet: the metal follows it."""
    value, least, most = asked.here.air_c, asked.least_c, asked.most_c
    if value is None:
        return None
    verdict: Verdict = "go" if _band(value, least, most) == "go" else "think"
    words = f"the air is at {say.temperature(value)}, and the metal follows it"
    change = "" if verdict == "go" else "heat the panel itself; the air alone takes hours"
    return Check("air", verdict, words, value, least, "C", asked.least_source, change)


def _at(ahead: Outlook, index: int) -> datetime:
    return ahead.start + timedelta(seconds=ahead.step_s * index)


def _first(below: NDArray[np.bool_]) -> int | None:
    found = np.flatnonzero(below)
    return int(found[0]) if found.size else None


def warm_spell(ahead: Outlook, least_c: float) -> tuple[datetime, datetime] | None:
    """The longest likely spell at or above a temperature, from now on. least_c [C]"""
    warm = np.concatenate(([0], (ahead.likely_c >= least_c).astype(int), [0]))
    edges = np.diff(warm)
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    if starts.size == 0:
        return None
    best = int(np.argmax(ends - starts))
    return _at(ahead, int(starts[best])), _at(ahead, int(ends[best]) - 1)


def _spell_words(asked: Asked, say: Manner) -> str:
    found = warm_spell(asked.ahead, asked.least_c)
    if found is None:
        return "the outlook has it nowhere warm enough by itself"
    start, end = (say.moment(each, asked.now) for each in found)
    return f"by itself the outlook has it warm enough from {start} to {end}"


def _start_words(asked: Asked, crossing: datetime, matters: Milestone, say: Manner) -> str:
    surface = asked.here.surface_c
    if surface is None or surface < asked.least_c:
        return ""
    needed = at_constant(asked, surface, matters.name)
    if needed is None or needed.late_min is None:
        return ""
    latest = crossing - timedelta(minutes=needed.late_min)
    moment = say.moment(latest, asked.now)
    if latest <= asked.now:
        return f"at this temperature it had to be mixed by {moment}"
    return f"mix before {moment}"


def _fall(asked: Asked, matters: Milestone) -> tuple[Verdict, str, NDArray[np.float64]]:
    """Whether the panel gets too cold before a milestone, how surely, and on which path. [C]"""
    paths, least = asked.ahead, asked.least_c
    if matters.likely_min is None:
        return "stop", "falls", paths.likely_c
    likely = paths.likely_c[: _samples(paths, matters.late_min or matters.likely_min)]
    if (likely < least).any():
        return "think", "falls", likely
    cool = paths.cool_c[: _samples(paths, matters.late_min)]
    if matters.late_min is None or (cool < least).any():
        return "think", "may fall", cool
    return "go", "", likely


def _samples(paths: Outlook, until_min: float | None) -> int:
    whole = len(paths.likely_c)
    return whole if until_min is None else min(whole, 1 + math.ceil(until_min * 60 / paths.step_s))


def ahead(asked: Asked, say: Manner) -> Check | None:
    """The panel's temperature in the outlook, until the milestone that matters."""
    matters, least = asked.matters, asked.least_c
    if matters is None or asked.here.surface_c is None:
        return None
    name, limit = plain(matters.name), say.temperature(least, 0)
    source = asked.ahead.words
    verdict, how, path = _fall(asked, matters)
    lowest, index = float(path.min()), _first(path < least)
    if verdict == "go":
        words = f"the outlook keeps the panel at {limit} or more until {name}"
        return Check("panel ahead", "go", words, lowest, least, "C", source)
    warm = heat(asked, say) if asked.here.surface_c >= least else ""
    if index is None:
        words = (
            f"no bound can be given for {name}: {'; '.join(matters.warnings) or 'too far ahead'}"
        )
        change = _joined(warm, _spell_words(asked, say))
        return Check("panel ahead", verdict, words, lowest, least, "C", source, change)
    crossing = _at(asked.ahead, index)
    fall = f"{how} under {limit} {when(crossing, asked.now, say)}"
    words = f"the panel {fall if index else f'is under {limit} already'}, before {name}"
    starting = _start_words(asked, crossing, matters, say)
    change = _joined(warm, starting, _spell_words(asked, say))
    return Check("panel ahead", verdict, words, lowest, least, "C", source, change, crossing)


def _dew_c(asked: Asked) -> float | None:
    here = asked.here
    if here.surface_c is None or here.humidity_pct is None:
        return None
    around = here.surface_c if here.air_c is None else here.air_c
    return float(air.dew_point_c(around, here.humidity_pct))


def _dew_limit(asked: Asked) -> tuple[float, str]:
    own = asked.sheet.limits.dew_spread_min_c
    return (DEW_SPREAD_C, DEW_SOURCE) if own is None else (own, f"the sheet; {DEW_SOURCE}")


def dew(asked: Asked, say: Manner) -> Check:
    """How far the panel is above the dew point now."""
    limit, source = _dew_limit(asked)
    dew_c = _dew_c(asked)
    if dew_c is None or asked.here.surface_c is None:
        words = "the spread above the dew point is not known"
        change = "measure panel, air and humidity: curewatch air --surface --air --humidity"
        return Check("dew", "think", words, None, limit, "K", source, change)
    spread = asked.here.surface_c - dew_c
    words = f"the panel is {say.difference(spread)} above the dew point of {say.temperature(dew_c)}"
    doubts = _doubts(asked)
    if spread >= limit + CLOSE_C and doubts:
        return Check("dew", "think", words + doubts, spread, limit, "K", source, MEASURE)
    if spread >= limit + CLOSE_C:
        return Check("dew", "go", words, spread, limit, "K", source)
    wanted = say.temperature(dew_c + limit + CLOSE_C, 0)
    change = f"warm the metal to {wanted}; a flame heater adds water, an opened door may too"
    verdict: Verdict = "stop" if spread < limit else "think"
    words += f", {'less than' if spread < limit else 'close to'} {say.difference(limit)}"
    return Check("dew", verdict, words, spread, limit, "K", source, change)


def dew_ahead(asked: Asked, say: Manner) -> Check | None:
    """Whether the panel comes near the dew point in the coming hours, the dew point as now."""
    limit, source = _dew_limit(asked)
    dew_c = _dew_c(asked)
    if dew_c is None:
        return None
    spreads = asked.ahead.likely_c - dew_c
    within = spreads[: int(FAR_H * 3600 / asked.ahead.step_s) + 1]
    index, lowest = _first(within < limit), float(within.min())
    if index is None:
        words = f"in the coming day the spread stays at {say.difference(lowest)} or more"
        words += f"; beyond {SURE_H:g} h this is weak"
        return Check("dew ahead", "go", words, lowest, limit, "K", source)
    at = _at(asked.ahead, index)
    moment = "now" if index == 0 else when(at, asked.now, say)
    words = f"the spread falls under {say.difference(limit)} {moment}"
    if at - asked.now > timedelta(hours=SURE_H):
        words += f"; {WEAK}"
    change = "warm the panel over that time, or coat bare metal before it; keep the door shut"
    return Check("dew ahead", "think", words, lowest, limit, "K", source, change, at)


def humidity(asked: Asked, say: Manner) -> Check | None:
    """The air's humidity against the sheet's most."""
    value, own = asked.here.humidity_pct, asked.sheet.limits.humidity_max_pct
    if value is None:
        return None
    limit, source = (HUMIDITY_MAX_PCT, HUMIDITY_SOURCE) if own is None else (own, "the sheet")
    words = f"humidity is {value:.0f} %, the most is {limit:g} %"
    if value <= limit:
        return Check("humidity", "go", words, value, limit, "%", source)
    change = "warm the room without a flame heater, or wait for drier air"
    return Check("humidity", "stop", words, value, limit, "%", source, change)
