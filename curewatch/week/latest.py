"""The latest moment for each step of a plan, its order kept; and what holds a part up."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from curewatch.order.job import Placed, Workload, works_from
from curewatch.starts.reached import BoolArray
from curewatch.ways.answer import Hold
from curewatch.ways.walk import Held
from curewatch.week.draws import STEP_MIN

if TYPE_CHECKING:
    from curewatch.week.lay import Laid


def _may(
    job: Workload, step: Placed, later: Sequence[Placed], latest: dict[Placed, int]
) -> BoolArray:
    """The samples at which a step may be begun so that all later ones keep theirs."""
    task = job.lines[step.line].tasks[step.task]
    start = np.arange(job.count)
    works = np.minimum(start + (works_from(job, step) - step.start), job.count - 1)
    end = start + step.end - step.start
    table = task.allowed_again if step.again else task.allowed
    may: BoolArray = np.zeros(job.count, dtype=bool) if table is None else table.copy()
    may &= start >= step.start
    if later:
        may &= end <= latest[later[0]]
    for other in later:
        after = job.lines[other.line].tasks[other.task]
        if other.line == step.line and other.task == step.task + 1:
            may &= (task.ready[works] <= latest[other]) & (works >= works_from(job, step))
        if task.wet is not None and after.dusty:
            may &= task.wet[works] <= latest[other]
        if task.dusty and after.wet is not None:
            may &= end + job.settles <= latest[other]
    return may


def latest_starts(job: Workload, plan: Sequence[Placed]) -> dict[Placed, int]:
    """The last sample at which each step may be begun: the order of all kept, each part done by its
    wish, and one without a wish or past it on the day it is planned for."""
    ordered, latest = sorted(plan), dict[Placed, int]()
    for index, step in reversed(list(enumerate(ordered))):
        may = _may(job, step, ordered[index + 1 :], latest)
        line = job.lines[step.line]
        if step.task + 1 == len(line.tasks):
            day_ends = int(job.next_day[step.start])
            wished = line.by is not None and step.end <= line.by
            last = line.by - (step.end - step.start) + 1 if wished and line.by else day_ends
            may[last:] = False
        at = np.flatnonzero(may)
        latest[step] = int(at[-1]) if at.size else step.start
    return latest


def _reason(laid: Laid, plan: Sequence[Placed], step: Placed, sample: int) -> Held:
    """Why a step that is ready is not begun at a sample."""
    laid_step = laid.lines[step.line][step.task]
    task = laid.job.lines[step.line].tasks[step.task]
    if not task.allowed[sample]:
        hands_min = laid_step.planned.hands * STEP_MIN
        return laid_step.planned.evenings.reason(laid_step.link, hands_min, sample)
    others = (other for other in plan if other is not step)
    if any(other.start < sample + task.hands and sample < other.end for other in others):
        return "hands"
    return "clamps" if task.clamps and laid.job.clamps is not None else "air"


def _waits(laid: Laid, plan: Sequence[Placed], line: int) -> Iterator[tuple[Held, str]]:
    """What a part waits for, sample by sample."""
    steps = sorted(step for step in plan if step.line == line)
    ready = laid.job.lines[line].ready
    left = laid.lines[line][0].left
    for _ in range(0 if left.hands_off else ready):  # hands on a step that was begun wait for none
        yield "hardening", left.before.does if left.before else ""
    for step in steps:
        for sample in range(ready, step.start):
            yield _reason(laid, plan, step, sample), ""
        laid_step = laid.lines[line][step.task]
        ready = max(step.end, int(laid_step.task.ready[works_from(laid.job, step)]))
        if step is not steps[-1]:
            for _ in range(step.end, ready):
                yield "hardening", laid_step.step.does


def hold(laid: Laid, plan: Sequence[Placed], line: int) -> Hold | None:
    """What takes a part the most time beside the hands."""
    samples: dict[tuple[Held, str], int] = {}
    for wait in _waits(laid, plan, line):
        samples[wait] = samples.get(wait, 0) + 1
    if not samples:
        return None
    (code, does), most = max(samples.items(), key=lambda pair: pair[1])
    return Hold(code, does, most * STEP_MIN / 60)
