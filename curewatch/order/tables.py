"""The tables of a job one above the other, so that many beginnings are looked up at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curewatch.order.job import NEVER_COSTS, IntArray, PartTasks, Task, Workload, line_cost
from curewatch.starts.reached import BoolArray


@dataclass(frozen=True, eq=False)
class Tables:
    """Of every task and of each part's end, by the row of a task; those of two dimensions by sample
    too, which may be as late as `count`, never.

    first, first_again: the first sample at which it may be begun from one on; next_day: the same
    on the next day; ready, closes, wet: as of the task; cost: the least that its part may still
    cost, with the hands to itself; rows: of each part's first task; waits: whether a later day is
    tried too; plain: whether doing it never hinders another part's step but by the hands.
    """

    count: int
    first: IntArray
    first_again: IntArray
    next_day: IntArray
    ready: IntArray
    closes: IntArray
    wet: IntArray
    cost: IntArray
    hands: IntArray
    again: IntArray
    clamps: IntArray
    dusty: BoolArray
    coats: BoolArray
    ends: BoolArray
    waits: BoolArray
    plain: BoolArray
    clears: IntArray
    rows: IntArray


def _first(allowed: BoolArray | None, count: int) -> IntArray:
    """The first allowed sample from each on, shape (count + 1,)."""
    if allowed is None:
        return np.full(count + 1, count)
    at = np.append(np.where(allowed, np.arange(count), count), count)
    return np.minimum.accumulate(at[::-1])[::-1]


def _padded(table: IntArray | None, otherwise: int, last: int, count: int) -> IntArray:
    """A task's table with an entry for never."""
    whole = np.full(count, otherwise) if table is None else np.minimum(table, count)
    return np.append(whole, last)


def _ready(task: Task, count: int) -> IntArray:
    hands_free = np.minimum(np.arange(count + 1) + task.hands, count)
    return np.maximum(_padded(task.ready, 0, count, count), hands_free)


def _costs(line: PartTasks, count: int) -> list[IntArray]:
    """The least cost of a part from each task on, by the sample from which it may be begun."""
    by_end = np.array([line_cost(line, end, count) for end in range(count + 1)])
    costs = [by_end]
    for index, task in reversed(list(enumerate(line.tasks))):
        first = _first(task.allowed, count)
        last = index + 1 == len(line.tasks)
        after = np.minimum(first + task.hands, count) if last else _ready(task, count)[first]
        after[first == count] = count
        costs.append(costs[-1][after])
    return costs[::-1]


def _rows(lines: Sequence[PartTasks]) -> IntArray:
    """The row of each part's first task; a part's end takes one too."""
    sizes = [len(line.tasks) + 1 for line in lines]
    return np.concatenate(([0], np.cumsum(sizes)[:-1])).astype(np.int64)


def tables(job: Workload) -> Tables:
    """Lay a job's tables one above the other."""
    count = job.count
    nothing = np.zeros(count, dtype=bool)
    gone = Task(0, nothing, np.full(count, count))
    tasks: list[Task] = []
    cost: list[IntArray] = []
    ends: list[bool] = []
    for line in job.lines:
        tasks += [*line.tasks, gone]
        cost += _costs(line, count)
        ends += [False] * (len(line.tasks) - 1) + [True, False]
    wet = np.stack([_padded(task.wet, 0, 0, count) for task in tasks])
    closes = np.stack([_padded(task.closes, count, count, count) for task in tasks])
    coats = wet.max(axis=1) > 0
    opens = closes.min(axis=1) < count
    clamps = np.array([task.clamps for task in tasks])
    dusty = np.array([task.dusty for task in tasks])
    return Tables(
        count,
        np.stack([_first(task.allowed, count) for task in tasks]),
        np.stack([_first(task.allowed_again, count) for task in tasks]),
        np.append(np.minimum(job.next_day, count), count),
        np.stack([_ready(task, count) for task in tasks]),
        closes,
        wet,
        np.stack(cost),
        np.array([task.hands for task in tasks]),
        np.array([task.again for task in tasks]),
        clamps,
        dusty,
        coats,
        np.array(ends),
        coats | opens | (clamps > 0),
        ~(coats | opens | (clamps > 0)),
        np.where(dusty, job.settles, 0),
        _rows(job.lines),
    )


def never(count: int) -> int:
    """What a part costs that is not done on the grid."""
    return NEVER_COSTS * count
