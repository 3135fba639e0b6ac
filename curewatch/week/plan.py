"""The week's plan as codes and values: every step with its moments, every part with its chance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.errors import StepError
from curewatch.frozen import frozen
from curewatch.garage.part_history import key_of
from curewatch.order.job import Placed, works_from
from curewatch.starts.courses import Courses
from curewatch.starts.windows import LONGEST, SURE
from curewatch.walltime import evening_of
from curewatch.ways.answer import Hold
from curewatch.ways.hours import Spell
from curewatch.ways.left import Left
from curewatch.ways.walk import reached_at
from curewatch.week.draws import Draws, quantile
from curewatch.week.latest import hold, latest_starts
from curewatch.week.lay import Again, Laid, LaidStep, lay
from curewatch.week.lived import done_by_week

SHARES = (0.05, 0.5, 0.95)
StepKey = tuple[tuple[str, str], int]
"""Part and job as they are compared, and the number of a step in its part's way."""


@frozen
class PlannedStep:
    """A step in the plan: the hands are on it from start to end, and it is begun by `latest` at
    the latest if all that follows is to keep its moment. product: its name, '' for none; ready:
    when what cures is there, at the earliest, likely and at the latest, each None where not within
    the fortnight, all None where nothing cures; again: how the surface is prepared once more first;
    number: of the step in its part's way.
    """

    part: str
    job: str
    does: str
    kind: str
    product: str
    start: datetime
    end: datetime
    latest: datetime
    ready: tuple[datetime | None, datetime | None, datetime | None] | None
    waits_for: str
    again: Again
    loud: bool
    clamps: int
    number: int

    @property
    def key(self) -> StepKey:
        """What it is, whenever it is."""
        return key_of(self.part, self.job), self.number


@frozen
class PlannedPart:
    """A part in the plan: end, by: what is wished; done: likely, and surely: with 9 in 10, None
    where not within the fortnight; chance: to be done by the wish [-], None without a wish or where
    it is further ahead than a forecast tells; hold: what takes it the most time."""

    part: str
    job: str
    end: str
    by: datetime | None
    done: datetime | None
    surely: datetime | None
    chance: float | None
    hold: Hold | None


@frozen
class LeftOut:
    """A wished part that is not planned, and why."""

    part: str
    job: str
    why: StepError


@dataclass(frozen=True, eq=False)
class Wanted:
    """What is wished of several parts, and with what: what is left of each; those left out; draws
    of the coming fortnight by place; spells; clamps one owns, None for enough."""

    lefts: tuple[Left, ...]
    left_out: tuple[LeftOut, ...]
    draws: Mapping[str, Draws]
    spells: tuple[Spell, ...]
    clamps: int | None
    now: datetime
    zone: ZoneInfo

    def laid(self, lefts: Sequence[Left] | None = None) -> Laid:
        """On the grid; lefts: instead of its own."""
        parts = self.lefts if lefts is None else lefts
        return lay(parts, self.draws, self.spells, self.zone, self.clamps)


Why = Literal["wishes", "gains", "passed", "curing", "absent", "loud", "cold", "order"]


@frozen
class StepMove:
    """A step that was shown for another moment, and when that was."""

    step: PlannedStep
    was: datetime


@frozen
class Moved:
    """What moved since the plan was last shown, and why; part: which gains, or is held up."""

    why: Why
    part: str
    moves: tuple[StepMove, ...]


@dataclass(frozen=True, eq=False)
class WeekPlan:
    """The plan of all wished parts: a proposal. spells: when somebody is there; moved: since it was
    last shown, None where nothing did."""

    now: datetime
    zone: ZoneInfo
    spells: tuple[Spell, ...]
    steps: tuple[PlannedStep, ...]
    parts: tuple[PlannedPart, ...]
    left_out: tuple[LeftOut, ...]
    moved: Moved | None = None

    @property
    def tonight(self) -> tuple[PlannedStep, ...]:
        """The steps of the first evening or day that has any."""
        if not self.steps:
            return ()
        first = evening_of(self.steps[0].start, self.zone)
        return tuple(step for step in self.steps if evening_of(step.start, self.zone) == first)


def _instant(weeks: Courses, sample: float) -> datetime | None:
    return weeks.instant(sample) if np.isfinite(sample) and sample < weeks.likely_c.size else None


def _cured(step: LaidStep, works: int) -> tuple[datetime | None, datetime | None, datetime | None]:
    """When what a step waits for is there, at the earliest, likely and at the latest."""
    weeks = step.planned.draws.weeks
    mixed = np.full(step.link.hands.size, float(works + step.planned.mixed_after))
    at = reached_at(step.link, mixed)
    early, likely, late = (_instant(weeks, float(quantile(at, share))) for share in SHARES)
    return early, likely, late


def _step(laid: Laid, placed: Placed, latest: int) -> PlannedStep:
    laid_step = laid.lines[placed.line][placed.task]
    weeks, left, step = laid_step.planned.draws.weeks, laid_step.left, laid_step.step
    cures = laid_step.link.age_min is not None and step.waits_for
    return PlannedStep(
        left.part,
        left.job,
        step.does,
        step.kind,
        "" if laid_step.sheet is None else laid_step.sheet.name,
        weeks.instant(placed.start),
        weeks.instant(placed.end),
        weeks.instant(latest),
        _cured(laid_step, works_from(laid.job, placed)) if cures else None,
        step.waits_for,
        _again(laid, placed),
        step.loud,
        step.clamps,
        left.behind + placed.task,
    )


def _again(laid: Laid, placed: Placed) -> Again:
    laid_step = laid.lines[placed.line][placed.task]
    return (laid_step.again or "scuff") if placed.again else ""


def _chance(done: FloatArray, weeks: Courses, by: datetime | None, now: datetime) -> float | None:
    if by is None or by > now + LONGEST:
        return None
    return float((done <= weeks.sample(by) + 1e-6).mean())


def _part(
    laid: Laid, plan: Sequence[Placed], line: int, done: FloatArray, now: datetime
) -> PlannedPart:
    left = laid.lines[line][0].left
    weeks = laid.lines[line][0].planned.draws.weeks
    return PlannedPart(
        left.part,
        left.job,
        left.wish.end,
        left.wish.by,
        _instant(weeks, float(quantile(done, 0.5))),
        _instant(weeks, float(quantile(done, SURE))),
        _chance(done, weeks, left.wish.by, now),
        hold(laid, plan, line),
    )


def as_plan(
    laid: Laid, plan: Sequence[Placed], now: datetime, zone: ZoneInfo, left_out: Sequence[LeftOut]
) -> WeekPlan:
    """A plan of the grid as codes and values, with the chances lived through the drawn weeks."""
    latest, done = latest_starts(laid.job, plan), done_by_week(laid, plan)
    return WeekPlan(
        now,
        zone,
        laid.spells,
        tuple(_step(laid, step, latest[step]) for step in sorted(plan)),
        tuple(_part(laid, plan, line, done[line], now) for line in range(len(laid.lines))),
        tuple(left_out),
    )
