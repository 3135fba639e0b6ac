"""A referee for the search: the same job as constraints for CP-SAT, where OR-tools is installed.

A step's beginning has only the samples at which it may be begun for its values, and all that a
table says of it is a handful of implications: from this sample on, what waits for it begins no
sooner than that one. Told with each sample of the grid instead, nothing of more than fourteen steps
is proved.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from curewatch.order.job import LATE_COSTS, IntArray, PartTasks, Placed, Task, Workload, cost
from curewatch.starts.reached import BoolArray

WORKERS = 8


@dataclass(frozen=True)
class Verdict:
    """What the referee says: the least cost it found, whether it proved that there is no less, and
    its plan; cost None where it found none. least: what every plan costs at the least, as far as it
    was proved."""

    cost: int | None
    proved: bool
    plan: tuple[Placed, ...] = ()
    least: float = 0.0


@dataclass(frozen=True)
class _Step:
    """A step's variables: when it begins, whether after preparing again, from when it is itself
    done and when the hands are off; starts, works: the samples that the first and the third may
    be; later: by sample, whether it is done from then on or later."""

    task: Task
    start: Any
    again: Any
    begins: Any
    end: Any
    starts: IntArray
    works: IntArray
    later: dict[int, Any] = field(default_factory=dict)


class _Model:
    """A job as constraints. Every part must be done on the grid."""

    def __init__(self, job: Workload) -> None:
        from ortools.sat.python import cp_model

        self.api, self.job, self.count = cp_model, job, job.count
        self.model = cp_model.CpModel()
        self.hands: list[Any] = []
        self.lines = [self._line(line) for line in job.lines]
        self.model.add_no_overlap(self.hands)
        self._clean_air()
        self._clamps()
        self.costs = sum(self._costs())
        self.model.minimize(self.costs)

    def _among(self, samples: IntArray) -> Any:
        domain = self.api.Domain.from_values([int(sample) for sample in samples])
        return self.model.new_int_var_from_domain(domain, "")

    def _line(self, line: PartTasks) -> list[_Step]:
        steps: list[_Step] = []
        for task in line.tasks:
            step = self._step(task)
            if steps:
                self._follows(steps[-1], step)
            else:
                self.model.add(step.start >= line.ready)
                self._window(self.count if line.closes is None else line.closes, step)
            steps.append(step)
        return steps

    def _step(self, task: Task) -> _Step:
        """A step's variables, and when it has the hands."""
        model, plain = self.model, np.flatnonzero(task.allowed & self._fits(task.hands))
        if task.allowed_again is None:
            start = self._among(plain)
            end = start + task.hands
            self.hands.append(model.new_fixed_size_interval_var(start, task.hands, ""))
            return _Step(task, start, 0, start, end, plain, plain)
        length = task.hands + task.again
        prepared = np.flatnonzero(task.allowed_again & self._fits(length))
        starts = np.union1d(plain, prepared)
        works = np.union1d(plain, prepared + task.again)
        start, begins = self._among(starts), self._among(works)
        again = model.new_bool_var("")
        for samples, mode, size in ((plain, ~again, task.hands), (prepared, again, length)):
            domain = self.api.Domain.from_values([int(sample) for sample in samples])
            model.add_linear_expression_in_domain(start, domain).only_enforce_if(mode)
            self.hands.append(model.new_optional_fixed_size_interval_var(start, size, mode, ""))
        model.add(begins == start + task.again * again)
        return _Step(task, start, again, begins, begins + task.hands, starts, works)

    def _fits(self, length: int) -> BoolArray:
        return np.arange(self.count) + length <= self.count

    def _from(self, step: _Step, sample: int) -> Any:
        """Whether a step is done from a sample on or later."""
        if sample not in step.later:
            later = self.model.new_bool_var("")
            self.model.add(step.begins >= sample).only_enforce_if(later)
            self.model.add(step.begins < sample).only_enforce_if(~later)
            step.later[sample] = later
        return step.later[sample]

    def _waits(self, first: _Step, table: IntArray, then: _Step, *only: Any) -> None:
        """`then` begins no sooner than the table says of `first`, where all of `only` are so."""
        at = np.searchsorted(then.starts, table[first.works])
        rises = np.flatnonzero(np.diff(at, prepend=0) > 0)
        for index in rises:
            sample, place = int(first.works[index]), int(at[index])
            late = () if index == 0 else (self._from(first, sample),)
            if place < then.starts.size:
                held = self.model.add(then.start >= int(then.starts[place]))
                held.only_enforce_if(*late, *only)
            else:
                self.model.add_bool_or([~literal for literal in (*late, *only)])

    def _follows(self, first: _Step, then: _Step) -> None:
        self.model.add(then.start >= first.end)
        self._waits(first, first.task.ready, then)
        closes = first.task.closes
        if closes is None:
            self._window(self.count, then)
            return
        lasts = closes[first.works] - first.works
        if (lasts == lasts[0]).all():
            self._window(first.begins + int(lasts[0]), then)
        else:
            until = self.model.new_int_var(0, self.count, "")
            self.model.add_element(first.begins, [int(sample) for sample in closes], until)
            self._window(until, then)

    def _window(self, closes: Any, step: _Step) -> None:
        """Prepared again after a window closed, and only then."""
        if step.task.allowed_again is None:
            self.model.add(step.start <= closes)
        else:
            self.model.add(step.start > closes).only_enforce_if(step.again)
            self.model.add(step.start <= closes).only_enforce_if(~step.again)

    def _clean_air(self) -> None:
        """Each dusty step before a coat with time to settle, or after it is not wet any more."""
        first_clean = max((line.wet for line in self.job.lines), default=0)
        steps = [(i, n, step) for i, line in enumerate(self.lines) for n, step in enumerate(line)]
        for i, n, dusty in steps:
            if not dusty.task.dusty:
                continue
            self.model.add(dusty.start >= first_clean)
            for other, number, coat in steps:
                if coat.task.wet is None or coat is dusty:
                    continue
                before = self.model.new_bool_var("")
                if i == other:
                    self.model.add(before == (n < number))
                self.model.add(dusty.end + self.job.settles <= coat.start).only_enforce_if(before)
                self.model.add(dusty.start >= coat.start).only_enforce_if(~before)
                self._waits(coat, coat.task.wet, dusty, ~before)

    def _clamps(self) -> None:
        if self.job.clamps is None:
            return
        spells, many = [], []
        for line, steps in zip(self.job.lines, self.lines, strict=True):
            if line.clamps:
                spells.append(self._spell(0, steps[0].end))
                many.append(line.clamps)
            for step, then in zip(steps, [*steps[1:], None], strict=True):
                if step.task.clamps:
                    off = self._cured(step) if then is None else then.end
                    spells.append(self._spell(step.start, off))
                    many.append(step.task.clamps)
        self.model.add_cumulative(spells, many, self.job.clamps)

    def _spell(self, start: Any, end: Any) -> Any:
        return self.model.new_interval_var(
            start, self.model.new_int_var(0, self.count, ""), end, ""
        )

    def _cured(self, step: _Step) -> Any:
        """When the last step of a part is cured."""
        cured = self.model.new_int_var(0, self.count, "")
        by_sample = np.maximum(step.task.ready, np.arange(self.count) + step.task.hands)
        values = [int(sample) for sample in np.minimum(by_sample, self.count)]
        self.model.add_element(step.begins, values, cured)
        return cured

    def _costs(self) -> Iterator[Any]:
        for line, steps in zip(self.job.lines, self.lines, strict=True):
            yield steps[-1].end
            if line.by is not None:
                late = self.model.new_int_var(0, self.count, "")
                self.model.add(late >= steps[-1].end - line.by)
                yield LATE_COSTS * late

    def begin_with(self, plan: Sequence[Placed]) -> None:
        """Tell it a plan, which it need not come back to unless it is the best."""
        self.model.add(self.costs <= cost(self.job, plan))
        for placed in plan:
            step = self.lines[placed.line][placed.task]
            works = placed.end - step.task.hands
            self.model.add_hint(step.start, placed.start)
            if step.task.allowed_again is not None:
                self.model.add_hint(step.begins, works)
                self.model.add_hint(step.again, placed.again)
            for sample, later in step.later.items():
                self.model.add_hint(later, works >= sample)


def judged(job: Workload, seconds: float, hint: tuple[Placed, ...] = ()) -> Verdict:
    """What CP-SAT says within some seconds of its own deterministic clock, whatever else the
    machine does. hint: a plan to begin with."""
    model = _Model(job)
    if hint:
        model.begin_with(hint)
    solver = model.api.CpSolver()
    solver.parameters.max_deterministic_time = seconds
    solver.parameters.num_workers = WORKERS
    status = solver.solve(model.model)
    if status not in (model.api.OPTIMAL, model.api.FEASIBLE):
        return Verdict(None, status == model.api.INFEASIBLE, (), solver.best_objective_bound)
    plan = [
        Placed(
            solver.value(step.start),
            line,
            task,
            solver.value(step.end),
            bool(solver.value(step.again)),
        )
        for line, steps in enumerate(model.lines)
        for task, step in enumerate(steps)
    ]
    least, proved = solver.best_objective_bound, status == model.api.OPTIMAL
    return Verdict(round(solver.objective_value), proved, tuple(sorted(plan)), least)
