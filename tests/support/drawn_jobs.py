"""Jobs of several parts, drawn at random: evenings, products that cure in an uneven garage."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from curewatch.order.job import IntArray, PartTasks, Task, Workload
from curewatch.starts.reached import BoolArray

PER_DAY = 144


def evenings(rng: np.random.Generator, days: int) -> tuple[BoolArray, IntArray]:
    """When somebody is there, and for how many samples still, shape (count,)."""
    left = np.zeros(days * PER_DAY, dtype=np.int64)
    for day in range(days):
        length = int(rng.integers(18, 30)) if day % 7 < 5 else int(rng.integers(36, 54))
        start = day * PER_DAY + (6 if day % 7 < 5 else 0)
        if rng.random() < 0.9:
            here = np.arange(start, start + length)
            left[here] = start + length - here
    return left > 0, left


def reached(rng: np.random.Generator, count: int, speed: IntArray, hours: float) -> IntArray:
    """When what is mixed at each sample has cured, later in a cold night."""
    age = np.cumsum(0.3 + speed / 10)
    need = hours * 6 * float(rng.uniform(0.7, 1.4))
    return np.searchsorted(age, age + need).astype(np.int64)


def task(rng: np.random.Generator, kind: str, left: IntArray, speed: IntArray) -> Task:
    """One step of some kind."""
    count, hands = left.size, int(rng.integers(2, 8))
    start = np.arange(count)
    room = left >= hands
    simple = Task(hands, room, np.minimum(start + hands, count), dusty=kind == "sand")
    if kind == "sand":
        loud = start % PER_DAY < 20
        return replace(simple, allowed=room & loud)
    hours = {"bond": 9.0, "fill": 2.0, "prime": 5.0}[kind]
    ready = np.maximum(start + hands, reached(rng, count, speed, hours))
    cured = replace(simple, ready=np.minimum(ready, count))
    if kind == "bond":
        return replace(cured, clamps=int(rng.integers(1, 5)))
    if kind == "prime":
        closes = np.minimum(start + 144 + hands, count)
        return replace(cured, wet=cured.ready, closes=closes)
    return cured


def line(rng: np.random.Generator, left: IntArray, speed: IntArray, steps: int) -> PartTasks:
    """One part's steps."""
    kinds = ("sand", "bond", "sand", "fill", "sand", "prime", "sand", "prime")
    first = int(rng.integers(0, 3))
    tasks = [task(rng, kind, left, speed) for kind in (kinds * 2)[first : first + steps]]
    for index in range(1, len(tasks)):
        if tasks[index - 1].closes is not None:
            again = left >= tasks[index].hands + 2
            tasks[index] = replace(
                tasks[index], again=2, allowed_again=again & tasks[index].allowed
            )
    by = int(rng.integers(2, 8)) * PER_DAY if rng.random() < 0.5 else None
    return PartTasks(tuple(tasks), by=by)


def drawn_job(seed: int, lines: int = 3, days: int = 14) -> Workload:
    """A job of some parts of three to eight steps."""
    rng = np.random.default_rng(seed)
    there, left = evenings(rng, days)
    speed = rng.integers(2, 9, size=left.size)
    parts = tuple(line(rng, left, speed, int(rng.integers(3, 9))) for _ in range(lines))
    day_starts = np.flatnonzero(there & ~np.roll(there, 1))
    after = np.searchsorted(day_starts, np.arange(left.size), side="right")
    next_day = np.append(day_starts, left.size)[after]
    return Workload(parts, left.size, next_day, 6 if rng.random() < 0.5 else None)
