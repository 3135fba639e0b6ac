"""Is the place warm and dry enough: panel and air against the sheet, the panel above the dew point
now, falling or rising, and the humidity.
"""

from __future__ import annotations

import math

from curewatch.climate import psychrometrics
from curewatch.formats import ReaderFormat
from curewatch.gate.check import Check, Verdict
from curewatch.gate.proposal import Proposal
from curewatch.gate.remedy import heat, instead, joined

CLOSE_C = 1.0
HUMIDITY_MAX_PCT = 85.0
DEW_SOURCE = "FHWA-RD-98-084, painting checklist; MIL-HDBK-1110, 9.6.6"
HUMIDITY_SOURCE = "common in coating specifications; the label gives none"
STEADY_K_H = 0.3
SOON_H = 2.0
MEASURE = "measure it: tape a probe to the metal, or type: curewatch reading add --surface"


def dew_c(proposal: Proposal) -> float | None:
    """The dew point of the air at the panel now. [C]"""
    here = proposal.here
    if here.surface_c is None or here.humidity_pct is None:
        return None
    around = here.surface_c if here.air_c is None else here.air_c
    return float(psychrometrics.dew_point_c(around, here.humidity_pct))


def dew_limit(proposal: Proposal) -> tuple[float, str]:
    """How far the panel must be above the dew point [K], and whose limit that is."""
    own = proposal.sheet.limits.dew_spread_min_c
    return (
        (psychrometrics.NEAR_DEW_K, DEW_SOURCE)
        if own is None
        else (own, f"the label; {DEW_SOURCE}")
    )


def too_damp(proposal: Proposal) -> tuple[float, float] | None:
    """How far the panel is above the dew point and must be [K], where it is nearer; else None."""
    point, surface = dew_c(proposal), proposal.here.surface_c
    if point is None or surface is None:
        return None
    spread, limit = surface - point, dew_limit(proposal)[0]
    return (spread, limit) if spread < limit else None


def spread_words(spread_k: float, say: ReaderFormat) -> str:
    """How far above the dew point, or under it: '3.0 °C above'. spread_k [K]"""
    return f"{say.difference(abs(spread_k))} {'above' if spread_k >= 0 else 'below'}"


def _trend(proposal: Proposal, say: ReaderFormat) -> str:
    slope = proposal.here.spread_per_h
    if slope is None:
        return ""
    if abs(slope) < STEADY_K_H:
        return ", steady over the last hour"
    return f", {'falling' if slope < 0 else 'rising'} {say.difference(abs(slope))} an hour"


def _falls_soon(proposal: Proposal, spread: float, limit: float) -> bool:
    slope = proposal.here.spread_per_h
    return slope is not None and slope <= -STEADY_K_H and spread + SOON_H * slope < limit


def dew(proposal: Proposal, say: ReaderFormat) -> Check:
    """How far the panel is above the dew point now, and whether that falls or rises."""
    limit, source = dew_limit(proposal)
    point = dew_c(proposal)
    if point is None or proposal.here.surface_c is None:
        words = "the gap to the dew point is not known"
        change = "measure panel, air and humidity: curewatch reading add --surface --air --humidity"
        return Check("dew", "caution", words, None, limit, "K", source, change)
    spread = proposal.here.surface_c - point
    words = f"the panel is {spread_words(spread, say)} the dew point of {say.temperature(point)}"
    words += _trend(proposal, say)
    doubts = proposal.here.doubts
    if spread >= limit + CLOSE_C and doubts:
        return Check("dew", "caution", words + doubts, spread, limit, "K", source, MEASURE)
    target = say.temperature(math.ceil(point + limit + CLOSE_C), 0)
    change = f"warm the metal to {target}; a flame heater adds damp, and an open door may too"
    if spread >= limit + CLOSE_C and not _falls_soon(proposal, spread, limit):
        return Check("dew", "go", words, spread, limit, "K", source)
    if spread >= limit + CLOSE_C:
        words += f": below {say.difference(limit)} within two hours if that goes on"
        return Check(
            "dew", "caution", words, spread, limit, "K", source, f"mix now or wait; {change}"
        )
    verdict: Verdict = "stop" if spread < limit else "caution"
    words += f" ({'needs' if spread < limit else 'close to'} {say.difference(limit)})"
    return Check("dew", verdict, words, spread, limit, "K", source, change)


def humidity(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """The air's humidity against the sheet's most."""
    value, own = proposal.here.humidity_pct, proposal.sheet.limits.humidity_max_pct
    if value is None:
        return None
    limit, source = (HUMIDITY_MAX_PCT, HUMIDITY_SOURCE) if own is None else (own, "the label")
    words = f"humidity is {value:.0f} %, at most {say.figure(limit)} % is allowed"
    if value <= limit:
        return Check("humidity", "go", words, value, limit, "%", source)
    change = "warm the room without a flame heater, or wait for drier air"
    return Check("humidity", "stop", words, value, limit, "%", source, change)


def _band(value: float, least: float, most: float | None) -> Verdict:
    if value < least or (most is not None and value > most):
        return "stop"
    close = value < least + CLOSE_C or (most is not None and value > most - CLOSE_C)
    return "caution" if close else "go"


def panel(proposal: Proposal, say: ReaderFormat) -> Check:
    """The panel's temperature now against the sheet."""
    value, least, most = proposal.here.surface_c, proposal.least_c, proposal.most_c
    if value is None:
        words = "the panel's temperature is not known"
        return Check(
            "panel", "caution", words, None, least, "C", proposal.least_source(say), MEASURE
        )
    verdict = _band(value, least, most)
    hot = most is not None and value > most - CLOSE_C
    limit = most if hot and most is not None else least
    side = {"stop": ("below", "above"), "caution": ("close to",) * 2, "go": ("above",) * 2}
    words = (
        f"the panel is at {say.temperature(value)}, {side[verdict][hot]} the label's "
        f"{say.temperature(limit, 0)}"
    )
    words += proposal.here.doubts
    change = ""
    if verdict != "go":
        cold = joined(heat(proposal, say), instead(proposal, say))
        change = "let it cool, out of the sun or lamp" if hot else cold or MEASURE
    elif proposal.here.from_air or proposal.here.old:
        verdict, change = "caution", MEASURE
    return Check("panel", verdict, words, value, limit, "C", proposal.least_source(say), change)


def room(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """The air's temperature against the sheet: the metal follows it."""
    value, least, most = proposal.here.air_c, proposal.least_c, proposal.most_c
    if value is None:
        return None
    verdict: Verdict = "go" if _band(value, least, most) == "go" else "caution"
    words = f"the air is at {say.temperature(value)}; the panel will come to that"
    change = "" if verdict == "go" else "heat the panel itself; warm air takes hours to warm it"
    return Check("air", verdict, words, value, least, "C", proposal.least_source(say), change)
