"""The steps of several parts on one grid of time, as tables: what the search and its checker see.

All instants are samples of the grid. A table says, for each sample at which a step may be begun,
what comes of it; `count` stands for never.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curewatch.starts.reached import BoolArray

IntArray = NDArray[np.int64]
LATE_COSTS, NEVER_COSTS = 4, 8


@dataclass(frozen=True, eq=False)
class Task:
    """One step on the grid; all arrays of shape (count,), by the sample at which it begins.

    hands: how long it keeps them [-]; again: how long the surface is prepared once more where it is
    begun after the window before it [-]; allowed, allowed_again: whether it may begin, without and
    with that; ready: when the next step of its part may begin, never sooner for a later beginning;
    closes: the last sample at which that one may begin without preparing again; wet: until when the
    air must be clean, 0 where it need not be; dusty: whether it makes dust; clamps: how many it
    puts on, which stay on until the next step of the part is done.
    """

    hands: int
    allowed: BoolArray
    ready: IntArray
    again: int = 0
    allowed_again: BoolArray | None = None
    closes: IntArray | None = None
    wet: IntArray | None = None
    dusty: bool = False
    clamps: int = 0


@dataclass(frozen=True, eq=False)
class PartTasks:
    """What is left of one part: its tasks in their order; ready: when the first may begin; closes:
    until when without preparing again; by: the wish, None for as soon as it can; clamps: how many
    are on it already; wet: until when a coat on it wants clean air."""

    tasks: tuple[Task, ...]
    ready: int = 0
    closes: int | None = None
    by: int | None = None
    clamps: int = 0
    wet: int = 0


@dataclass(frozen=True, eq=False)
class Workload:
    """All parts on a grid of `count` samples; clamps: how many one owns, None for enough; settles:
    how long dust hangs in the air [-]; next_day: the first sample of the next day or evening, by
    sample."""

    lines: tuple[PartTasks, ...]
    count: int
    next_day: IntArray
    clamps: int | None = None
    settles: int = 3

    @property
    def steps(self) -> int:
        """How many steps there are."""
        return sum(len(line.tasks) for line in self.lines)


@dataclass(frozen=True, order=True)
class Placed:
    """A step in a plan: from which sample on the hands are on it, `end` excluded; again: whether
    the surface is prepared once more first."""

    start: int
    line: int
    task: int
    end: int
    again: bool = False


def placed(job: Workload, line: int, task: int, start: int, again: bool) -> Placed:
    """A step begun at a sample."""
    step = job.lines[line].tasks[task]
    return Placed(start, line, task, start + step.hands + (step.again if again else 0), again)


def works_from(job: Workload, step: Placed) -> int:
    """The sample from which the step itself is done, after preparing again."""
    return step.start + (job.lines[step.line].tasks[step.task].again if step.again else 0)


def line_cost(line: PartTasks, end: int, count: int) -> int:
    """What it costs that a part is done at a sample: each once, after the wish five times."""
    if end >= count:
        return NEVER_COSTS * count
    late = 0 if line.by is None else max(0, end - line.by)
    return end + LATE_COSTS * late


def ends(job: Workload, plan: Sequence[Placed]) -> Iterator[int]:
    """When the hands are off each part, `count` where that is not in the plan."""
    last = {(step.line, step.task): step.end for step in plan}
    for index, line in enumerate(job.lines):
        yield last.get((index, len(line.tasks) - 1), job.count)


def cost(job: Workload, plan: Sequence[Placed]) -> int:
    """What a plan costs: the sum over its parts."""
    pairs = zip(job.lines, ends(job, plan), strict=True)
    return sum(line_cost(line, end, job.count) for line, end in pairs)
