"""What the parts of a beginning may cost where all of them want the same hands.

Notes
-----
What each part costs with the hands to itself is no more than it will cost, but where many parts
wait it is far less, and it says nothing of which to finish first. So the beginnings of a plan are
ranked by a guess: the hands do one part after another, those first that need them for the shortest
time, with or without the wishes counted; a part is done when the hands are through with it, and no
sooner than with the hands to itself. It is a guess and not a bound: what it ranks last is let go
only for want of room.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.order.job import LATE_COSTS, IntArray, PartTasks, Workload
from curewatch.order.tables import Tables


@dataclass(frozen=True, eq=False)
class Crowd:
    """The hands that all parts share.

    passed: how long somebody is at work before each sample [-], shape (count + 1,); after: the
    first sample with so much before it; left: how long the hands are still on a part, by the row of
    its next task; turn: which part is done first, the least first, by the same; ends: of each row
    that of its part's end.
    """

    passed: IntArray
    after: IntArray
    left: IntArray
    turn: FloatArray
    ends: IntArray


def _at_work(job: Workload) -> IntArray:
    """How long somebody is at work before each sample."""
    edges = np.zeros(job.count + 1, dtype=np.int64)
    for task in (task for line in job.lines for task in line.tasks):
        starts = np.flatnonzero(task.allowed)
        np.add.at(edges, starts, 1)
        np.add.at(edges, np.minimum(starts + task.hands, job.count), -1)
    return np.concatenate(([0], np.cumsum(np.cumsum(edges)[:-1] > 0)))


def _left(line: PartTasks) -> IntArray:
    """How long the hands are still on a part, from each of its tasks on."""
    hands = np.array([*(task.hands for task in line.tasks), 0])
    return np.cumsum(hands[::-1])[::-1]


def crowd(job: Workload, *, by_wishes: bool) -> Crowd:
    """The hands of a job; by_wishes: whether a part with a wish is done as much sooner as it costs
    more when it is late."""
    late = LATE_COSTS if by_wishes else 0
    weights = [1 if line.by is None else 1 + late for line in job.lines]
    left = [_left(line) for line in job.lines]
    sizes = np.array([rows.size for rows in left])
    passed = _at_work(job)
    return Crowd(
        passed,
        np.searchsorted(passed, np.arange(passed[-1] + 1)),
        np.concatenate(left),
        np.concatenate([rows / weight for rows, weight in zip(left, weights, strict=True)]),
        np.repeat(np.cumsum(sizes) - 1, sizes),
    )


def guessed(crowd: Crowd, tables: Tables, row: IntArray, free: IntArray) -> IntArray:
    """What each part will cost by the guess, shape (beginnings, parts).

    row: of each part's next task; free: from when on the hands are, shape (beginnings,).
    """
    left = crowd.left[row]
    order = np.argsort(np.where(left > 0, crowd.turn[row], np.inf), axis=1, kind="stable")
    worked = crowd.passed[free][:, None] + np.cumsum(np.take_along_axis(left, order, 1), axis=1)
    last = crowd.after.size
    in_turn = np.where(worked < last, crowd.after[np.minimum(worked, last - 1)], tables.count)
    ends = np.empty_like(in_turn)
    np.put_along_axis(ends, order, in_turn, 1)
    cost: IntArray = np.where(left > 0, tables.cost[crowd.ends[row], ends], -1)
    return cost
