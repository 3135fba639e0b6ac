"""A plan lived through two hundred drawn weeks, as somebody with one pair of hands would.

Notes
-----
In each week the next step is the first of the plan's order that can be begun before any other could
be finished. It is begun when what it waits for is there, somebody stays long enough by the planned
hands, it may be loud, the panel of that week is within the label's limits, no coat is wet where it
makes dust and no dust hangs where it is a coat, and enough clamps are free. What the hands truly
take scatters. Of one draw weather, products and hands stay together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from curewatch.climate.psychrometrics import FloatArray
from curewatch.order.job import IntArray, Placed
from curewatch.starts.reached import BoolArray
from curewatch.ways.walk import reached_at
from curewatch.week.draws import COATS, STEP_MIN

if TYPE_CHECKING:
    from curewatch.week.lay import Laid, LaidStep

Samples = NDArray[np.int32]


class _Firsts:
    """The first sample from each on at which a step may be begun, by its row and week: steps alike
    share one table, one that minds no weather has it but once for all weeks."""

    def __init__(self, laid: Laid, steps: Sequence[LaidStep | None]) -> None:
        count = laid.job.count
        tables: list[Samples] = [np.full(count + 1, count, dtype=np.int32)]
        places: dict[tuple[object, ...] | None, tuple[int, int]] = {None: (0, 0)}
        start, keys = count + 1, [_alike(step) for step in steps]
        for key, step in zip(keys, steps, strict=True):
            if step is not None and key not in places:
                table = _first(step, count)
                places[key] = start, count + 1 if table.shape[0] > 1 else 0
                tables.append(table.ravel())
                start += table.size
        self.tables = np.concatenate(tables)
        self.start, self.by_week = np.array([places[key] for key in keys]).T

    def at(self, row: IntArray, week: IntArray, sample: NDArray[np.intp]) -> FloatArray:
        """From some samples on; all of one shape."""
        place = self.start[row] + self.by_week[row] * week + sample
        return np.asarray(self.tables[place], np.float64)


def _alike(step: LaidStep | None) -> tuple[object, ...] | None:
    """What the samples depend on at which a step may be begun; None for a part's end."""
    if step is None:
        return None
    limits = None if step.link.age_min is None else (step.link.least_c, step.link.most_c)
    planned = step.planned
    return id(planned.evenings), planned.hands, step.step.airing_min, step.step.loud, limits


def _first(step: LaidStep, count: int) -> Samples:
    """A step's table, shape (weeks or 1, count + 1)."""
    first = step.planned.evenings.first_begin(step.link, float(step.planned.hands))
    if step.link.age_min is None:
        first = first[:1]
    never = np.full((first.shape[0], 1), np.inf)
    table: Samples = np.minimum(np.hstack((first, never)), count).astype(np.int32)
    return table


@dataclass(frozen=True, eq=False)
class _Steps:
    """All steps as tables by the row of a step, each part's end being a row that never begins:
    first: when each may be begun; hands: how long it truly takes, shape (rows, weeks)."""

    laid: tuple[LaidStep | None, ...]
    rows: IntArray
    rank: IntArray
    first: _Firsts
    hands: FloatArray
    dusty: BoolArray
    coats: BoolArray
    clamps: IntArray


def _hands(step: LaidStep | None, weeks: int) -> FloatArray:
    """How long the hands are truly on it. [-] in samples"""
    if step is None:
        return np.zeros(weeks)
    took: FloatArray = np.maximum(1.0, np.round(step.step.hands_min * step.link.hands / STEP_MIN))
    return took


def _steps(laid: Laid, plan: Sequence[Placed], weeks: int) -> _Steps:
    laid_steps: list[LaidStep | None] = []
    rows, rank = [], []
    order = {(step.line, step.task): index for index, step in enumerate(sorted(plan))}
    for line, steps in enumerate(laid.lines):
        rows.append(len(laid_steps))
        laid_steps += [*steps, None]
        rank += [order.get((line, task), len(plan)) for task in range(len(steps) + 1)]
    return _Steps(
        tuple(laid_steps),
        np.array(rows),
        np.array(rank),
        _Firsts(laid, laid_steps),
        np.stack([_hands(step, weeks) for step in laid_steps]),
        np.array([step is not None and step.step.dusty for step in laid_steps]),
        np.array([step is not None and step.step.kind in COATS for step in laid_steps]),
        np.array([0 if step is None else step.step.clamps for step in laid_steps]),
    )


class _Weeks:
    """Where every week stands: by week and part, the row of the next step, when it may begin and
    until when without preparing again, clamps on and until when; by week, when the hands are free,
    until when a coat is wet and dust hangs."""

    def __init__(self, laid: Laid, steps: _Steps, weeks: int) -> None:
        self.laid, self.steps, self.every = laid, steps, np.arange(weeks)
        lines, count = laid.job.lines, laid.job.count
        self.row = np.tile(steps.rows, (weeks, 1))
        self.floor = np.stack(laid.ready, axis=1).astype(np.float64)
        closes = [np.inf if line.closes is None else float(line.closes) for line in lines]
        self.closes = np.tile(closes, (weeks, 1))
        self.clamps_on = np.tile([line.clamps for line in lines], (weeks, 1))
        self.clamps_off = np.full((weeks, len(lines)), np.inf)
        self.free, self.dust = np.zeros(weeks), np.zeros(weeks)
        coats = np.array([line.wet > 0 for line in lines])
        self.wet = np.where(coats, self.floor, 0.0).max(axis=1)
        self.done = np.full((weeks, len(lines)), np.inf)
        self.never = float(count)

    def starts(self) -> tuple[FloatArray, BoolArray]:
        """When each part's next step can be begun, by week, and whether preparing again."""
        base = np.maximum(self.floor, self.free[:, None])
        dusty, coats = self.steps.dusty[self.row], self.steps.coats[self.row]
        base = np.where(dusty, np.maximum(base, self.wet[:, None]), base)
        base = np.where(coats, np.maximum(base, self.dust[:, None]), base)
        start = self._enough_clamps(self._first(base))
        return np.where(start >= self.never, np.inf, start), start > self.closes

    def _first(self, base: FloatArray) -> FloatArray:
        """The first sample from one on at which each can be begun."""
        sample = np.minimum(np.ceil(base - 1e-6), self.never).astype(np.intp)
        return self.steps.first.at(self.row, self.every[:, None], sample)

    def _enough_clamps(self, start: FloatArray) -> FloatArray:
        """The same, not before enough clamps are free."""
        owned, wanted = self.laid.job.clamps, self.steps.clamps[self.row]
        if owned is None:
            return start
        off = self.clamps_off[:, None, :]
        while True:
            on = np.where(off > start[:, :, None], self.clamps_on[:, None, :], 0)
            lacks = (wanted > 0) & (on.sum(axis=2) + wanted > owned) & (start < self.never)
            if not lacks.any():
                return start
            frees = np.where(on > 0, off, np.inf).min(axis=2)
            start = np.where(lacks, self._first(frees), start)

    def go_on(self) -> bool:
        """Do one step in each week in which one can be done; whether there was any."""
        start, again = self.starts()
        prepares = np.where(again, [self._again(row) for row in range(start.shape[1])], 0.0)
        end = start + prepares + self.steps.hands[self.row, self.every[:, None]]
        can = start < np.minimum(end.min(axis=1), self.never)[:, None]
        if not can.any():
            return False
        line = np.argmin(np.where(can, self.steps.rank[self.row], 10**6), axis=1)
        weeks = np.flatnonzero(can.any(axis=1))
        at = (weeks, line[weeks])
        rows = self.row[at]  # as they stand before any of these steps is done
        for row in np.unique(rows):
            some = rows == row
            place = (weeks[some], at[1][some])
            self._do(int(row), place, start[place] + prepares[place], end[place])
        return True

    def _again(self, line: int) -> float:
        """How long a part's surface is prepared again."""
        return float(max((step.task.again for step in self.laid.lines[line]), default=0))

    def _do(
        self, row: int, place: tuple[IntArray, IntArray], works: FloatArray, end: FloatArray
    ) -> None:
        """Do one step, in some weeks."""
        step, weeks = self.steps.laid[row], place[0]
        if step is None:
            return
        ready = np.maximum(end, self._reached(step, weeks, works)) if step.step.waits_for else end
        last = self.steps.laid[row + 1] is None
        planned_works = np.minimum(np.ceil(works), self.never - 1).astype(np.intp)
        closes = step.task.closes
        self.closes[place] = np.inf if closes is None else closes[planned_works]
        self.free[weeks] = end
        self.floor[place] = ready
        self.row[place] += 1
        self.clamps_off[place] = np.where(self.clamps_on[place] > 0, end, np.inf)
        if step.step.clamps:
            self.clamps_on[place] = step.step.clamps
            self.clamps_off[place] = ready if last else np.inf
        if step.step.kind in COATS:
            self.wet[weeks] = np.maximum(self.wet[weeks], ready)
        if step.step.dusty:
            self.dust[weeks] = end + self.laid.job.settles
        if last:
            self.done[place] = end

    def _reached(self, step: LaidStep, weeks: IntArray, works: FloatArray) -> FloatArray:
        """When what was mixed is there, in some weeks."""
        mixed = np.full(self.every.size, np.inf)
        mixed[weeks] = works + step.step.mixed_after_min * step.link.hands[weeks] / STEP_MIN
        return reached_at(step.link, mixed)[weeks]


def done_by_week(laid: Laid, plan: Sequence[Placed]) -> FloatArray:
    """When the hands are off each part, inf where not on the grid. [-], shape (lines, weeks)"""
    weeks = laid.ready[0].size if laid.ready else 0
    lived = _Weeks(laid, _steps(laid, plan, weeks), weeks)
    while lived.go_on():
        pass
    return lived.done.T
