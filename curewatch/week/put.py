"""A plan stays as it was shown, unless it breaks or a wish gains an evening or a tenth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from curewatch.formats import tenths
from curewatch.garage.part_history import key_of
from curewatch.order.check import broken
from curewatch.order.job import Placed, cost, ends, placed
from curewatch.order.search import followed, planned
from curewatch.walltime import evening_of
from curewatch.ways.walk import Held
from curewatch.week.draws import STEP_MIN
from curewatch.week.lay import Laid
from curewatch.week.plan import LeftOut, Moved, PlannedPart, StepMove, WeekPlan, Why, as_plan

if TYPE_CHECKING:
    from curewatch.week.kept import ShownStep

_REASONS: dict[Held, Why] = {"loud": "loud", "cold": "cold"}
Key = tuple[tuple[str, str], int]


def _keys(laid: Laid) -> dict[Key, tuple[int, int]]:
    """PartTasks and task of each step that is left, by what it is."""
    return {
        (key_of(step.left.part, step.left.job), step.left.behind + task): (line, task)
        for line, steps in enumerate(laid.lines)
        for task, step in enumerate(steps)
    }


def _as_shown(laid: Laid, steps: Sequence[ShownStep]) -> list[tuple[int, int, int]]:
    """PartTasks, task and sample of the shown steps that are left, in their order; none where other
    steps are left than were shown."""
    keys, weeks = _keys(laid), laid.weeks
    left = [step for step in steps if step.key in keys]
    if {step.key for step in left} != set(keys):
        return []
    samples = (round(weeks.sample(step.start)) for step in left)
    return sorted(
        ((*keys[step.key], sample) for step, sample in zip(left, samples, strict=True)),
        key=lambda row: row[2],
    )


def _gains(laid: Laid, new: WeekPlan, old: WeekPlan, ended: tuple[list[int], list[int]]) -> str:
    """The first part that gains an evening or a tenth by a new plan, '' where none does."""
    for one, other, sooner, later in zip(new.parts, old.parts, *ended, strict=True):
        days = [evening_of(laid.weeks.instant(end), new.zone) for end in (sooner, later)]
        if days[0] < days[1] or _tenths(one) > _tenths(other):
            return one.part
    return ""


def _tenths(part: PlannedPart) -> int:
    return 0 if part.chance is None else tenths(part.chance)


def _why(laid: Laid, shown: Sequence[tuple[int, int, int]]) -> tuple[Why, str]:
    """Why a shown plan cannot stay to the minute: its first fault, and of which part."""
    if shown and shown[0][2] < 0:
        return "passed", laid.lines[shown[0][0]][0].left.part
    as_it_was = [placed(laid.job, line, task, sample, False) for line, task, sample in shown]
    fault = min(broken(laid.job, as_it_was), key=lambda one: (one.line, one.task), default=None)
    if fault is None:
        return "order", ""
    step = laid.lines[fault.line][fault.task]
    if fault.rule != "allowed":
        return ("curing" if fault.rule == "ready" else "order"), step.left.part
    sample = next(s for line, task, s in shown if (line, task) == (fault.line, fault.task))
    reason = step.planned.evenings.reason(step.link, step.planned.hands * STEP_MIN, sample)
    return (
        "loud" if reason == "loud" else "cold" if reason == "cold" else "absent"
    ), step.left.part


def _moves(plan: WeekPlan, shown: Sequence[ShownStep]) -> tuple[StepMove, ...]:
    was = {step.key: step.start for step in shown}
    starts = ((step, was.get(step.key)) for step in plan.steps)
    return tuple(StepMove(step, at) for step, at in starts if at is not None and at != step.start)


def _said(plan: WeekPlan, shown: Sequence[ShownStep], why: Why, part: str) -> WeekPlan:
    moves = _moves(plan, shown)
    return replace(plan, moved=Moved(why, part, moves)) if moves else plan


def stays_put(
    laid: Laid,
    shown: Sequence[ShownStep],
    now: datetime,
    zone: ZoneInfo,
    left_out: Sequence[LeftOut],
) -> WeekPlan:
    """The plan as it was shown last, later where it must be, or a new one; what moved and why."""

    def as_week(plan: tuple[Placed, ...]) -> WeekPlan:
        return as_plan(laid, plan, now, zone, left_out)

    new, rows = planned(laid.job), _as_shown(laid, shown)
    old = followed(laid.job, [(line, max(0, sample)) for line, _, sample in rows])
    if not old:
        return _said(as_week(new), shown, "wishes", "")
    kept = as_week(old)
    if cost(laid.job, new) < cost(laid.job, old):
        other = as_week(new)
        ended = (list(ends(laid.job, new)), list(ends(laid.job, old)))
        if part := _gains(laid, other, kept, ended):
            return _said(other, shown, "gains", part)
    return _said(kept, shown, *_why(laid, rows))
