"""One part, backwards from a wish: by which evening to begin, what tonight, and what would help."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.frozen import frozen
from curewatch.starts.courses import Courses
from curewatch.starts.windows import SURE
from curewatch.walltime import evening_of
from curewatch.ways.hours import Spell
from curewatch.ways.walk import Evenings, Held, Link, Walked, walk

Help = Literal["loud", "longer", "product", "lamp"]
QUARTER_S = 900.0
MORE_TIME = timedelta(hours=1)


@dataclass(frozen=True, eq=False)
class Work:
    """What is left of a part: its links in the drawn weeks; ready: when the first may begin, in
    samples [-], shape (weeks,); spells: when somebody is there; planned_factor: of the hands-on
    times [-]; by: the wish's instant, None for as soon as it can; begun: the hands are on the step
    before."""

    links: tuple[Link, ...]
    courses: Courses
    ready: FloatArray
    spells: tuple[Spell, ...]
    planned_factor: float
    by: datetime | None
    begun: bool = False


@frozen
class EveningChance:
    """Begun on an evening that starts at `start`, the chance to be done by the wish. [-]"""

    start: datetime
    chance: float


@frozen
class NextBegin:
    """The next step: between when and when to begin it, on the first evening that allows it."""

    does: str
    start: datetime
    end: datetime


@frozen
class Hold:
    """What takes the most time: code; does: of hardening, what hardens; hours [h]."""

    code: Held
    does: str
    hours: float


@frozen
class HelpOption:
    """What would help: code, the name of a product or lamp, and the chance with it, begun on the
    first evening [-]; done: when it would likely be done."""

    code: Help
    name: str
    chance: float
    done: datetime | None


@dataclass(frozen=True, eq=False)
class Plan:
    """The answer. evenings: the chance by the evening one begins; done: when it is likely done if
    begun at once, and with 9 in 10 certainty, None where not within the week."""

    work: Work
    evenings: tuple[EveningChance, ...]
    done: datetime | None
    surely_done: datetime | None
    next_begin: NextBegin | None
    hold: Hold | None
    helps: tuple[HelpOption, ...]

    @property
    def begin_by(self) -> EveningChance | None:
        """The last evening to begin on that keeps 9 in 10."""
        sure = [evening for evening in self.evenings if evening.chance >= SURE]
        return sure[-1] if sure else None

    @property
    def too_late(self) -> EveningChance | None:
        """The first evening after that."""
        last = self.begin_by
        later = [e for e in self.evenings if last is None or e.start > last.start]
        return later[0] if later else None


def _firsts(work: Work, evenings: Evenings) -> list[FloatArray]:
    per_min = 60 / work.courses.step_s
    return [
        evenings.first_begin(link, link.step.hands_min * work.planned_factor * per_min)
        for link in work.links
    ]


def _done(
    work: Work, evenings: Evenings, firsts: Sequence[FloatArray], not_before: float
) -> FloatArray:
    ready = np.maximum(work.ready, not_before)
    return walk(work.links, evenings, work.planned_factor, ready, firsts).done


def _chance(work: Work, done: FloatArray) -> float:
    if work.by is None:
        return float(np.isfinite(done).mean())
    return float((done <= work.courses.sample(work.by) + 1e-6).mean())


def _quantile(work: Work, done: FloatArray, share: float) -> datetime | None:
    """When it is done with this share of certainty, None where not within the courses."""
    at = float(np.sort(done)[min(done.size - 1, int(np.ceil(share * done.size)) - 1)])
    return work.courses.instant(at) if np.isfinite(at) else None


def _first_spells(work: Work, zone: ZoneInfo) -> Iterator[Spell]:
    """The first spell of each evening or day before the wish."""
    seen = set()
    for spell in work.spells:
        day = evening_of(spell.start, zone)
        if day not in seen and (work.by is None or spell.start < work.by):
            seen.add(day)
            yield spell


def _evenings(work: Work, zone: ZoneInfo) -> list[list[float]]:
    """The samples at which somebody is there, by evening, a quarter of an hour apart. [-]"""
    by_day: dict[date, list[float]] = {}
    for spell in work.spells:
        start, end = work.courses.sample(spell.start), work.courses.sample(spell.end)
        quarter = QUARTER_S / work.courses.step_s
        passed = work.courses.start.timestamp() % QUARTER_S / work.courses.step_s
        first = np.ceil((start + passed) / quarter - 1e-6) * quarter - passed
        samples = np.concatenate(([start], np.arange(first, end, quarter)))
        by_day.setdefault(evening_of(spell.start, zone), []).extend(map(float, samples))
    return list(by_day.values())


def _next(
    work: Work, evenings: Evenings, firsts: Sequence[FloatArray], zone: ZoneInfo, least: float
) -> NextBegin | None:
    """Between when and when to begin the next step, on the first evening on which it can be begun
    without losing the chance."""
    for samples in _evenings(work, zone):
        possible = [at for at in samples if _begins(work, firsts, at) >= SURE]
        # a later beginning is never sooner done, so the latest good one is found by halving
        good, bad = -1, len(possible)
        while bad - good > 1:
            middle = (good + bad) // 2
            chance = _chance(work, _done(work, evenings, firsts, possible[middle]))
            good, bad = (middle, bad) if chance >= least else (good, middle)
        if good >= 0:
            start, end = (work.courses.instant(at) for at in (possible[0], possible[good]))
            return NextBegin(work.links[0].step.does, start, end)
    return None


def _begins(work: Work, firsts: Sequence[FloatArray], at: float) -> float:
    """The share of the weeks in which the first step may begin at a sample. [-]"""
    sample = int(np.ceil(at - 1e-6))
    may = (firsts[0][:, sample] <= sample) & (work.ready <= at + 1e-6)
    return float(may.mean())


def _hold(work: Work, evenings: Evenings, walked: Walked) -> Hold | None:
    """What takes the most time of the week in the middle, beside the hands."""
    if not np.isfinite(walked.done).any():
        return None
    week = int(np.argsort(walked.done)[walked.done.size // 2])
    if not np.isfinite(walked.done[week]):
        week = int(np.argmin(walked.done))
    waits: dict[tuple[Held, str], float] = {}
    for index, link in enumerate(work.links):
        ready, begin = walked.ready[index, week], walked.begins[index, week]
        before = 0.0 if index == 0 else walked.ends[index - 1, week]
        hardens: tuple[Held, str] = ("hardening", work.links[index - 1].step.does if index else "")
        if index or not work.begun:
            waits[hardens] = waits.get(hardens, 0.0) + float(ready - before)
        reason = evenings.reason(link, link.step.hands_min * work.planned_factor, ready)
        waits[(reason, "")] = waits.get((reason, ""), 0.0) + float(begin - ready)
    (code, does), samples = max(waits.items(), key=lambda pair: pair[1])
    return Hold(code, does, samples * work.courses.step_s / 3600) if samples > 0 else None


def variants(work: Work, others: Mapping[tuple[Help, str], Work]) -> dict[tuple[Help, str], Work]:
    """The same work with what might help: loud at any time, an hour more, and those given."""
    loud = tuple(replace(spell, loud_end=spell.end) for spell in work.spells)
    longer = tuple(
        replace(spell, end=spell.end + MORE_TIME, loud_end=spell.loud_end) for spell in work.spells
    )
    own: dict[tuple[Help, str], Work] = {
        ("loud", ""): replace(work, spells=loud),
        ("longer", ""): replace(work, spells=longer),
    }
    return own | dict(others)


def _helps(
    work: Work, chance: float, done: datetime | None, others: Mapping[tuple[Help, str], Work]
) -> Iterator[HelpOption]:
    """What makes it a tenth surer, or likely done six hours sooner; each walked anew."""
    for (code, name), other in variants(work, others).items():
        evenings = Evenings(other.courses, other.spells)
        finished = _done(other, evenings, _firsts(other, evenings), 0.0)
        better, at = _chance(other, finished), _quantile(other, finished, 0.5)
        sooner = at is not None and (done is None or done - at >= timedelta(hours=6))
        if better >= chance + 0.1 or (sooner and better >= chance - 0.02):
            yield HelpOption(code, name, better, at)


def plan(work: Work, zone: ZoneInfo, others: Mapping[tuple[Help, str], Work]) -> Plan:
    """Walk the work from each evening, and again with what might help."""
    evenings = Evenings(work.courses, work.spells)
    firsts = _firsts(work, evenings)
    walked = walk(work.links, evenings, work.planned_factor, work.ready, firsts)
    now = walked.done
    by_evening = tuple(
        EveningChance(
            spell.start,
            _chance(work, _done(work, evenings, firsts, work.courses.sample(spell.start))),
        )
        for spell in _first_spells(work, zone)
    )
    best = max((evening.chance for evening in by_evening), default=0.0)
    done = _quantile(work, now, 0.5)
    least = min(SURE, best)
    helps = sorted(_helps(work, best, done, others), key=lambda option: option.chance, reverse=True)
    return Plan(
        work,
        by_evening,
        done,
        _quantile(work, now, SURE),
        _next(work, evenings, firsts, zone, least) if best > 0 else None,
        _hold(work, evenings, walked),
        tuple(helps),
    )
