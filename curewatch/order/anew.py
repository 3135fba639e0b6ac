"""A plan made better: the whole with more beginnings kept, then a few parts anew round the rest."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from curewatch.order.job import PartTasks, Placed, Task, Workload, cost, ends, line_cost, works_from
from curewatch.order.search import search
from curewatch.starts.reached import BoolArray

WIDTHS = (100, 300)
GROUP_WIDTH, MOST_GROUPS, ROUNDS = 40, 24, 3


def _covered(spells: Iterable[tuple[int, int]], count: int) -> BoolArray:
    """The samples that lie in some of the spells."""
    held = np.zeros(count, dtype=bool)
    for start, end in spells:
        held[max(0, start) : end] = True
    return held


def _overlaps(held: BoolArray, length: int) -> BoolArray:
    """Whether a spell of this length from each sample on meets any."""
    passed = np.concatenate(([0], np.cumsum(held)))
    until = np.minimum(np.arange(held.size) + length, held.size)
    met: BoolArray = passed[until] > passed[:-1]
    return met


def _wet(job: Workload, plan: Sequence[Placed]) -> Iterator[tuple[int, int]]:
    for step in plan:
        wet = job.lines[step.line].tasks[step.task].wet
        if wet is not None and (until := int(wet[works_from(job, step)])) > 0:
            yield step.start, until


def _dust(job: Workload, plan: Sequence[Placed]) -> list[tuple[int, int]]:
    dusty = (step for step in plan if job.lines[step.line].tasks[step.task].dusty)
    return [(step.start, step.end + job.settles) for step in dusty]


def _round(task: Task, job: Workload, fixed: Sequence[Placed]) -> Task:
    """A task that keeps out of the way of the steps that stay as they are."""
    busy = _covered(((step.start, step.end) for step in fixed), job.count)
    wet = _covered(_wet(job, fixed), job.count)
    coats = _covered(((start, start + 1) for start, _ in _wet(job, fixed)), job.count)
    dust = _dust(job, fixed)

    def free(again: int) -> BoolArray:
        hands = task.hands + again
        met = _overlaps(busy, hands)
        if task.dusty:
            met |= _overlaps(wet, hands) | _overlaps(coats, hands + job.settles)
        if task.wet is not None:
            start = np.arange(job.count)
            until = task.wet[np.minimum(start + again, job.count - 1)]
            for begins, ends_at in dust:
                in_dust = (start < ends_at) & (start >= begins)
                met |= in_dust | ((start < begins) & (until > begins))
        return ~met

    again = task.allowed_again
    return replace(
        task,
        allowed=task.allowed & free(0),
        allowed_again=None if again is None else again & free(task.again),
    )


def _peak(job: Workload, fixed: Sequence[Placed]) -> int:
    """How many clamps the parts that stay as they are have on at most, were all on at once."""
    lines = {step.line for step in fixed}
    held = (job.lines[index] for index in lines)
    return sum(max(line.clamps, *(task.clamps for task in line.tasks)) for line in held)


def _part_of(job: Workload, group: Sequence[int], fixed: Sequence[Placed]) -> Workload:
    """The job of a few parts alone, round the rest."""
    lines = [
        replace(line, tasks=tuple(_round(task, job, fixed) for task in line.tasks))
        for line in (job.lines[index] for index in group)
    ]
    clamps = None if job.clamps is None else max(0, job.clamps - _peak(job, fixed))
    wet = max((line.wet for i, line in enumerate(job.lines) if i not in group), default=0)
    lines[0] = replace(lines[0], wet=max(lines[0].wet, wet))
    return replace(job, lines=tuple(lines), clamps=clamps)


def _anew(job: Workload, plan: tuple[Placed, ...], group: Sequence[int]) -> tuple[Placed, ...]:
    """The plan with a few of its parts anew, as it was where that is no better."""
    fixed = [step for step in plan if step.line not in group]
    part = _part_of(job, group, fixed)
    found = [replace(step, line=group[step.line]) for step in search(part, GROUP_WIDTH)]
    whole = tuple(sorted([*fixed, *found]))
    return whole if cost(job, whole) < cost(job, plan) else plan


def _groups(job: Workload, plan: Sequence[Placed]) -> list[tuple[int, ...]]:
    """Two or three parts each, those first that lose most to the others."""
    alone = [search(replace(job, lines=(line,)), 1) for line in job.lines]
    loses = [
        line_cost(line, end, job.count) - _alone(job, line, steps)
        for line, end, steps in zip(job.lines, ends(job, plan), alone, strict=True)
    ]
    many = range(len(job.lines))
    groups = [*combinations(many, 2), *combinations(many, 3)]
    return sorted(groups, key=lambda group: (-sum(loses[i] for i in group), group))[:MOST_GROUPS]


def _alone(job: Workload, line: PartTasks, steps: tuple[Placed, ...]) -> int:
    return cost(replace(job, lines=(line,)), steps)


def planned(job: Workload) -> tuple[Placed, ...]:
    """A plan for all parts, in the order of time; the same for the same job."""
    plans = [search(job, width) for width in WIDTHS]
    plan = min(plans, key=lambda plan: cost(job, plan))
    if len(job.lines) < 3:
        return plan
    groups = _groups(job, plan)
    for _ in range(ROUNDS):
        before = cost(job, plan)
        for group in groups:
            plan = _anew(job, plan, group)
        if cost(job, plan) == before:
            break
    return plan
