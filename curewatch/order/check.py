"""Whether a plan keeps every rule, by plain counting. It shares nothing with the search."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

from curewatch.frozen import frozen
from curewatch.order.job import PartTasks, Placed, Workload

Rule = Literal["order", "allowed", "hands", "ready", "again", "air", "clamps", "length"]


@frozen
class Broken:
    """A rule that a step breaks."""

    rule: Rule
    line: int
    task: int


def _of_line(job: Workload, line: PartTasks, steps: Sequence[Placed]) -> Iterator[Broken]:
    """What one part's steps break among themselves."""
    ready, closes = line.ready, job.count if line.closes is None else line.closes
    for index, step in enumerate(steps):
        task = line.tasks[step.task]
        begins = step.start + (task.again if step.again else 0)
        if step.task != index:
            yield Broken("order", step.line, step.task)
        if step.end - begins != task.hands or not 0 <= step.start < step.end <= job.count:
            yield Broken("length", step.line, step.task)
            return
        if step.start < ready:
            yield Broken("ready", step.line, step.task)
        if step.again != (step.start > closes):
            yield Broken("again", step.line, step.task)
        table = task.allowed_again if step.again else task.allowed
        if table is None or not table[step.start]:
            yield Broken("allowed", step.line, step.task)
        ready = max(step.end, int(task.ready[begins]))
        closes = job.count if task.closes is None else int(task.closes[begins])


def _hands(plan: Sequence[Placed]) -> Iterator[Broken]:
    steps = sorted(plan, key=lambda step: (step.start, step.end))
    for i, step in enumerate(steps):
        if any(other.start < step.end and step.start < other.end for other in steps[:i]):
            yield Broken("hands", step.line, step.task)


def _wet(job: Workload, plan: Sequence[Placed]) -> Iterator[tuple[int, int]]:
    """From when until when the air must be clean."""
    yield from ((0, line.wet) for line in job.lines if line.wet > 0)
    for step in plan:
        task = job.lines[step.line].tasks[step.task]
        begins = step.start + (task.again if step.again else 0)
        if task.wet is not None and task.wet[begins] > 0:
            yield step.start, int(task.wet[begins])


def _air(job: Workload, plan: Sequence[Placed]) -> Iterator[Broken]:
    """Dust over a wet coat: while it is made, and while it settles before a coat."""
    spells = list(_wet(job, plan))
    for step in plan:
        if job.lines[step.line].tasks[step.task].dusty:
            for start, until in spells:
                over = step.start < until and start < step.end
                hangs = step.end <= start < step.end + job.settles
                if over or hangs:
                    yield Broken("air", step.line, step.task)


def _clamped(job: Workload, plan: Sequence[Placed]) -> Iterator[tuple[int, int, int]]:
    """From when until when how many clamps are on."""
    at = {(step.line, step.task): step for step in plan}
    for index, line in enumerate(job.lines):
        if line.clamps:
            first = at.get((index, 0))
            yield 0, job.count if first is None else first.end, line.clamps
        for task, step in ((k, at[(index, k)]) for k in range(len(line.tasks)) if (index, k) in at):
            if line.tasks[task].clamps:
                begins = step.start + (line.tasks[task].again if step.again else 0)
                after = at.get((index, task + 1))
                last = task + 1 == len(line.tasks)
                off = job.count if after is None else after.end
                off = int(line.tasks[task].ready[begins]) if last else off
                yield step.start, off, line.tasks[task].clamps


def _clamps(job: Workload, plan: Sequence[Placed]) -> Iterator[Broken]:
    spells = list(_clamped(job, plan))
    for step in plan:
        if job.clamps is not None and job.lines[step.line].tasks[step.task].clamps:
            on = sum(many for start, off, many in spells if start <= step.start < off)
            if on > job.clamps:
                yield Broken("clamps", step.line, step.task)


def broken(job: Workload, plan: Sequence[Placed]) -> list[Broken]:
    """Every rule that a plan breaks; none where it can be done as it stands."""
    brokens: list[Broken] = []
    for index, line in enumerate(job.lines):
        steps = sorted((step for step in plan if step.line == index), key=lambda step: step.start)
        brokens += _of_line(job, line, steps)
    return [*brokens, *_hands(plan), *_air(job, plan), *_clamps(job, plan)]
