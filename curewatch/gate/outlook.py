"""The coming hours: does the panel stay warm enough, when must it be mixed, will dew fall."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from curewatch.climate.outlook import Outlook
from curewatch.cure.forecast import Milestone
from curewatch.durations import duration
from curewatch.formats import ReaderFormat, chance_words, when
from curewatch.gate.check import Check, Verdict
from curewatch.gate.climate import dew_c, dew_limit
from curewatch.gate.proposal import Proposal, at_constant
from curewatch.gate.remedy import joined, speed_up
from curewatch.notice_words import sentences
from curewatch.starts.windows import SURE
from curewatch.vocabulary import in_words

SURE_H, FAR_H = 6.0, 24.0
WEAK = "uncertain this far ahead: of such warnings six hours ahead about four in ten are false"
LONG_AGO = timedelta(hours=12)


def _at(ahead: Outlook, index: int) -> datetime:
    return ahead.start + timedelta(seconds=ahead.step_s * index)


def _first(below: NDArray[np.bool_]) -> int | None:
    values = np.flatnonzero(below)
    return int(values[0]) if values.size else None


def warm_spell(ahead: Outlook, least_c: float) -> tuple[datetime, datetime] | None:
    """The longest likely spell at or above a temperature, from now on. least_c [C]"""
    warm = np.concatenate(([0], (ahead.likely_c >= least_c).astype(int), [0]))
    edges = np.diff(warm)
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    if starts.size == 0:
        return None
    best = int(np.argmax(ends - starts))
    return _at(ahead, int(starts[best])), _at(ahead, int(ends[best]) - 1)


def latest_start(proposal: Proposal, crossing: datetime, matters: Milestone) -> datetime | None:
    """The latest start of which 9 in 10 come to the milestone before the panel is too cold.

    crossing: when it likely is. None where a mix now is not as sure as that.
    """
    if matters.name not in proposal.sheet.reference.minutes:
        return None
    chances = proposal.starts(matters.name, crossing).before_cold(proposal.least_c)
    return next((w.end for w in chances.windows(SURE) if w.start == proposal.ahead.start), None)


def _before(latest: datetime, matters: Milestone, proposal: Proposal, say: ReaderFormat) -> str:
    at, name = say.moment(latest, proposal.now), in_words(matters.name)
    return f"mix before {at} for {name} before that, {chance_words(SURE)}"


def _spell_words(proposal: Proposal, say: ReaderFormat) -> str:
    pair = warm_spell(proposal.ahead, proposal.least_c)
    if pair is None:
        return "by the forecast it never gets warm enough by itself"
    if pair[0] <= proposal.now and pair[1] >= _at(proposal.ahead, proposal.ahead.likely_c.size - 1):
        return "by the likely forecast it stays warm enough, by a cooler one it does not"
    start, end = (say.moment(instant, proposal.now) for instant in pair)
    return f"by the forecast it is warm enough by itself from {start} to {end}"


def _had(proposal: Proposal, crossing: int, matters: Milestone, say: ReaderFormat) -> str:
    """Until when it had to be mixed, where a mix now is too late."""
    surface = proposal.here.surface_c
    if surface is None or surface < proposal.least_c:
        return ""
    needed = at_constant(proposal, surface, matters.name)
    if needed is None or needed.late_min is None:
        return ""
    had = _at(proposal.ahead, crossing) - timedelta(minutes=needed.late_min)
    if not proposal.now - LONG_AGO < had <= proposal.now:
        return ""
    return f"at this temperature you had to mix by {say.moment(had, proposal.now)}"


def _samples(paths: Outlook, until_min: float | None) -> int:
    whole = len(paths.likely_c)
    return whole if until_min is None else min(whole, 1 + math.ceil(until_min * 60 / paths.step_s))


def _fall(proposal: Proposal, matters: Milestone) -> tuple[Verdict, str, NDArray[np.float64]]:
    """Whether the panel gets too cold before a milestone, how surely, and on which path. [C]"""
    paths, least = proposal.ahead, proposal.least_c
    if matters.likely_min is None:
        return "stop", "falls", paths.likely_c
    likely = paths.likely_c[: _samples(paths, matters.late_min or matters.likely_min)]
    if (likely < least).any():
        return "caution", "falls", likely
    cool = paths.cool_c[: _samples(paths, matters.late_min)]
    if matters.late_min is None or (cool < least).any():
        return "caution", "may fall", cool
    return "go", "", likely


def _kept_warm(proposal: Proposal, matters: Milestone, lowest: float, say: ReaderFormat) -> Check:
    """It stays warm enough; and if it falls later, the last moment to start."""
    limit, name = say.temperature(proposal.least_c, 0), in_words(matters.name)
    words = f"the forecast keeps the panel at {limit} or more until {name}"
    index = _first(proposal.ahead.likely_c < proposal.least_c)
    at = None if index is None else _at(proposal.ahead, index)
    latest = None if at is None else latest_start(proposal, at, matters)
    if at is not None:
        words += f"; it falls below that {when(at, proposal.now, say)}"
    if latest is not None:
        words += f"; {_before(latest, matters, proposal, say)}"
    source = sentences(proposal.ahead.basis, say)
    return Check("panel ahead", "go", words, lowest, proposal.least_c, "C", source, "", at, latest)


def ahead(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """The panel's temperature in the outlook, until the milestone that matters."""
    matters, least = proposal.matters, proposal.least_c
    if matters is None or proposal.here.surface_c is None:
        return None
    name, limit = in_words(matters.name), say.temperature(least, 0)
    source = sentences(proposal.ahead.basis, say)
    verdict, how, path = _fall(proposal, matters)
    lowest, index = float(path.min()), _first(path < least)
    if verdict == "go":
        return _kept_warm(proposal, matters, lowest, say)
    warm = speed_up(proposal, say) if proposal.here.surface_c >= least else ""
    if index is None:
        why = sentences(matters.warnings, say) or "too far ahead"
        words = f"no time can be given for {name}: {why}"
        change = joined(warm, _spell_words(proposal, say))
        return Check("panel ahead", verdict, words, lowest, least, "C", source, change)
    crossing = _at(proposal.ahead, index)
    fall = f"{how} below {limit} {when(crossing, proposal.now, say)}"
    words = f"the panel {fall if index else f'is below {limit} already'}, before {name}"
    latest = latest_start(proposal, crossing, matters)
    if latest is not None:
        warm = f"warm it, or {_before(latest, matters, proposal, say)}; {warm}"
        change = joined(warm, _spell_words(proposal, say))
    else:
        change = joined(warm, _had(proposal, index, matters, say), _spell_words(proposal, say))
    return Check(
        "panel ahead", verdict, words, lowest, least, "C", source, change, crossing, latest
    )


def dew_ahead(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """Whether the panel may come near the dew point in the coming hours."""
    limit, source = dew_limit(proposal)
    point = dew_c(proposal)
    if point is None:
        return None
    spreads = proposal.ahead.dew_gap_k + float(proposal.ahead.dew_c[0]) - point
    within = spreads[: int(FAR_H * 3600 / proposal.ahead.step_s) + 1]
    index, lowest = _first(within < limit), float(within.min())
    if index is None:
        words = (
            f"for the coming day the panel stays {say.difference(lowest)} or more above dew point"
        )
        words += f"; beyond {duration(60 * SURE_H)} that is uncertain"
        return Check("dew ahead", "go", words, lowest, limit, "K", source)
    at, wet = _at(proposal.ahead, index), _first(within <= 0)
    moment = "now" if index == 0 else when(at, proposal.now, say)
    words = f"the gap to the dew point falls below {say.difference(limit)} {moment}"
    if wet is not None:
        wet_at = _at(proposal.ahead, wet)
        words += f", dew on bare metal {'now' if wet == 0 else when(wet_at, proposal.now, say)}"
    if at - proposal.now > timedelta(hours=SURE_H):
        words += f"; {WEAK}"
    change = "warm the panel over that time, or coat bare metal before it; keep the door shut"
    return Check("dew ahead", "caution", words, lowest, limit, "K", source, change, at)
