"""A referee for the search: the same job as constraints for CP-SAT, where OR-tools is installed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from curewatch.order.job import LATE_COSTS, IntArray, PartTasks, Placed, Workload


@dataclass(frozen=True)
class Verdict:
    """What the referee says: the least cost it found, whether it proved that there is no less, and
    its plan; cost None where it found none."""

    cost: int | None
    proved: bool
    plan: tuple[Placed, ...] = ()


@dataclass(frozen=True)
class _Step:
    """A step: which of its beginnings is taken, its tables by that, its variables looked up in
    them, and the interval of the hands."""

    which: Any
    tables: dict[str, IntArray]
    at: dict[str, Any]
    hands: Any


class _Model:
    """A job as constraints. Every part must be done on the grid."""

    def __init__(self, job: Workload) -> None:
        from ortools.sat.python import cp_model

        self.api, self.job, self.count = cp_model, job, job.count
        self.model = cp_model.CpModel()
        self.steps: dict[tuple[int, int], _Step] = {}
        for index, line in enumerate(job.lines):
            for task in range(len(line.tasks)):
                self.steps[(index, task)] = self._step(line, index, task)
        self.model.add_no_overlap(step.hands for step in self.steps.values())
        self._clean_air()
        self._clamps()
        self.model.minimize(sum(self._costs()))

    def _new(self, most: int) -> Any:
        return self.model.new_int_var(0, most, "")

    def _step(self, line: PartTasks, index: int, number: int) -> _Step:
        """A step's variables, all looked up in tables by which of its beginnings is taken."""
        model, task = self.model, line.tasks[number]
        plain = np.flatnonzero(task.allowed)
        prepared = (
            np.flatnonzero(task.allowed_again) if task.allowed_again is not None else plain[:0]
        )
        starts = np.concatenate((plain, prepared))
        agains = np.repeat((0, 1), (plain.size, prepared.size))
        order = np.lexsort((agains, starts))
        starts, agains = starts[order], agains[order]
        works = starts + task.again * agains
        ends = works + task.hands
        closes = np.full(works.size, self.count) if task.closes is None else task.closes[works]
        tables = {
            "start": starts,
            "works": works,
            "end": ends,
            "ready": np.maximum(ends, task.ready[works]),
            "again": agains,
            "closes": closes,
            "wet": np.zeros_like(works) if task.wet is None else task.wet[works],
        }
        which = model.new_int_var(0, starts.size - 1, "")
        held = {name: self._looked_up(table, which) for name, table in tables.items()}
        size = self._new(task.hands + task.again)
        model.add(size == held["end"] - held["start"])
        hands = model.new_interval_var(held["start"], size, held["end"], "")
        before = self.steps.get((index, number - 1))
        model.add(held["start"] >= (line.ready if before is None else before.at["ready"]))
        first = self.count if line.closes is None else line.closes
        until = first if before is None else before.at["closes"]
        late = model.new_bool_var("")
        model.add(held["again"] == late)
        model.add(held["start"] > until).only_enforce_if(late)
        model.add(held["start"] <= until).only_enforce_if(~late)
        return _Step(which, tables, held, hands)

    def _looked_up(self, table: IntArray, which: Any) -> Any:
        """The table's value at a variable."""
        values = [int(entry) for entry in np.minimum(table, self.count)]
        value = self.model.new_int_var(min(values), max(values), "")
        self.model.add_element(which, values, value)
        return value

    def _of(self, wanted: str) -> Iterator[tuple[tuple[int, int], _Step]]:
        for (line, task), step in self.steps.items():
            held = self.job.lines[line].tasks[task]
            if held.dusty if wanted == "dusty" else held.wet is not None:
                yield (line, task), step

    def _clean_air(self) -> None:
        """Each dusty step before a coat with time to settle, or after it is not wet any more."""
        first_clean = max((line.wet for line in self.job.lines), default=0)
        for key, dusty in self._of("dusty"):
            self.model.add(dusty.at["start"] >= first_clean)
            for other, coat in self._of("wet"):
                if key == other:
                    continue
                before = self.model.new_bool_var("")
                wet = coat.at["wet"]
                self.model.add(
                    dusty.at["end"] + self.job.settles <= coat.at["start"]
                ).only_enforce_if(before)
                self.model.add(dusty.at["start"] >= coat.at["start"]).only_enforce_if(~before)
                self.model.add(dusty.at["start"] >= wet).only_enforce_if(~before)

    def _clamps(self) -> None:
        if self.job.clamps is None:
            return
        spells, many = [], []
        for index, line in enumerate(self.job.lines):
            if line.clamps:
                end = self.steps[(index, 0)].at["end"]
                spells.append(self.model.new_interval_var(0, end, end, ""))
                many.append(line.clamps)
            for number, task in enumerate(line.tasks):
                if task.clamps:
                    step, after = (self.steps.get((index, number + more)) for more in (0, 1))
                    assert step is not None
                    off = step.at["ready"] if after is None else after.at["end"]
                    size = self._new(self.count)
                    spells.append(self.model.new_interval_var(step.at["start"], size, off, ""))
                    many.append(task.clamps)
        self.model.add_cumulative(spells, many, self.job.clamps)

    def _costs(self) -> Iterator[Any]:
        for index, line in enumerate(self.job.lines):
            end = self.steps[(index, len(line.tasks) - 1)].at["end"]
            yield end
            if line.by is not None:
                late = self._new(self.count)
                self.model.add(late >= end - line.by)
                yield LATE_COSTS * late


def judged(job: Workload, seconds: float, hint: tuple[Placed, ...] = ()) -> Verdict:
    """What CP-SAT says within some seconds. hint: a plan to begin with."""
    model = _Model(job)
    for step in hint:
        held = model.steps[(step.line, step.task)]
        pairs = (held.tables["start"] == step.start) & (held.tables["again"] == step.again)
        index = int(np.flatnonzero(pairs)[0])
        model.model.add_hint(held.which, index)
        for name, table in held.tables.items():
            model.model.add_hint(held.at[name], int(min(table[index], job.count)))
    solver = model.api.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 2
    status = solver.solve(model.model)
    if status not in (model.api.OPTIMAL, model.api.FEASIBLE):
        return Verdict(None, status == model.api.INFEASIBLE)
    plan = []
    for (line, task), solved in model.steps.items():
        start, end, again = (solver.value(solved.at[name]) for name in ("start", "end", "again"))
        plan.append(Placed(start, line, task, end, bool(again)))
    cost = round(solver.objective_value)
    return Verdict(cost, status == model.api.OPTIMAL, tuple(sorted(plan)))
