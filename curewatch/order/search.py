"""An order for the steps of several parts with one pair of hands.

Notes
-----
The beginnings of a plan are built up in the order of time: next comes some part's next step, at the
first sample at which it may be begun, or on one of the next two days where it wets a coat, opens a
window or takes clamps. Of all beginnings with as many steps the best are kept, by what their parts
may cost where all want the same hands; of two with the same steps behind them only the one that is
ahead in everything. The same job has the same plan, since nothing is drawn and no clock is looked
at. It is not said to be the best: others may be better.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from curewatch.order.crowd import Crowd, crowd, guessed
from curewatch.order.job import IntArray, Placed, Workload, cost, placed
from curewatch.order.tables import Tables, never, tables
from curewatch.starts.reached import BoolArray

LATER_DAYS = 2
LEAST_WIDTH, MOST_WIDTH, ROOM = 100, 300, 400_000


@dataclass(frozen=True, eq=False)
class _Beginnings:
    """Many beginnings of a plan, one a row. row: of each part's next task; floor: when that may be
    begun; closes: until when without preparing again; clamps_on, clamps_off: how many and until
    when, all by part; free: the hands; wet, dust: until when the air must stay or is not clean;
    done: what the finished parts cost; parent, line, start, again: of the last step."""

    row: IntArray
    floor: IntArray
    closes: IntArray
    clamps_on: IntArray
    clamps_off: IntArray
    free: IntArray
    wet: IntArray
    dust: IntArray
    done: IntArray
    parent: IntArray
    line: IntArray
    start: IntArray
    again: BoolArray

    def taken(self, index: IntArray) -> _Beginnings:
        """Some of them."""
        return _Beginnings(*(getattr(self, field.name)[index] for field in fields(self)))


def _empty(job: Workload, table: Tables) -> _Beginnings:
    """Nothing done yet."""
    none = np.zeros(1, dtype=np.int64)
    closes = [job.count if line.closes is None else line.closes for line in job.lines]
    return _Beginnings(
        table.rows[None, :].copy(),
        np.array([[min(line.ready, job.count) for line in job.lines]]),
        np.array([closes]),
        np.array([[line.clamps for line in job.lines]]),
        np.full((1, len(job.lines)), job.count),
        none,
        np.array([max((line.wet for line in job.lines), default=0)]),
        none,
        none,
        none,
        none,
        none,
        np.zeros(1, dtype=bool),
    )


def _base(table: Tables, state: _Beginnings) -> IntArray:
    """From when on each part's next step may be begun, by hands, part and air."""
    base = np.maximum(state.floor, state.free[:, None])
    base = np.where(table.dusty[state.row], np.maximum(base, state.wet[:, None]), base)
    return np.where(table.coats[state.row], np.maximum(base, state.dust[:, None]), base)


def _starts(table: Tables, state: _Beginnings, base: IntArray) -> tuple[IntArray, BoolArray]:
    """The first sample from `base` on at which each may be begun, and whether preparing again."""
    start = table.first[state.row, base]
    again = start > state.closes
    after = np.minimum(np.maximum(base, state.closes + 1), table.count)
    return np.where(again, table.first_again[state.row, after], start), again


def _enough_clamps(
    job: Workload, table: Tables, state: _Beginnings, start: IntArray, again: BoolArray
) -> tuple[IntArray, BoolArray]:
    """The same, not before enough clamps are free."""
    wanted = table.clamps[state.row]
    if job.clamps is None or not wanted.any():
        return start, again
    for _ in range(len(job.lines) + 1):
        off = state.clamps_off[:, None, :]
        on = np.where(off > start[:, :, None], state.clamps_on[:, None, :], 0)
        lacks = (wanted > 0) & (on.sum(axis=2) + wanted > job.clamps) & (start < table.count)
        if not lacks.any():
            break
        frees = np.where((on > 0) & (off < table.count), off, table.count).min(axis=2)
        later, later_again = _starts(table, state, np.where(lacks, frees, start))
        start = np.where(lacks, later, start)
        again = np.where(lacks, later_again, again)
    return start, again


def _part_costs(table: Tables, state: _Beginnings) -> IntArray:
    """What each part that is not finished will cost at the least, -1 of a finished one."""
    at = np.minimum(np.maximum(state.floor, state.free[:, None]), table.count)
    return np.where(table.hands[state.row] > 0, table.cost[state.row, at], -1)


def _choices(
    job: Workload, table: Tables, state: _Beginnings
) -> Iterator[tuple[IntArray, BoolArray]]:
    """When each part's next step might be begun: as soon as it can, or on a later day."""
    start, again = _enough_clamps(job, table, state, *_starts(table, state, _base(table, state)))
    plain = table.plain[state.row] & ~again
    lasts = table.hands[state.row] + table.clears[state.row]
    over = np.where(plain, start + lasts, table.count).min(axis=1)
    useful = (start < over[:, None]) & (_part_costs(table, state) < never(table.count))
    start = np.where(useful, start, table.count)
    yield start, again
    for _ in range(LATER_DAYS):
        day = np.where(table.waits[state.row], table.next_day[start], table.count)
        start, again = _enough_clamps(job, table, state, *_starts(table, state, day))
        yield start, again


def _after(
    table: Tables,
    state: _Beginnings,
    row: IntArray,
    line: IntArray,
    start: IntArray,
    again: BoolArray,
) -> _Beginnings:
    """The beginnings with one step more: row of the state, its line, start and whether again."""
    old, place = state.taken(row), (np.arange(row.size), line)
    task = old.row[place]
    works = np.minimum(start + np.where(again, table.again[task], 0), table.count)
    end = np.minimum(works + table.hands[task], table.count)
    ready = table.ready[task, works]
    last = table.ends[task]
    old.clamps_off[place] = np.where(old.clamps_on[place] > 0, end, old.clamps_off[place])
    puts = table.clamps[task] > 0
    old.clamps_on[place] = np.where(puts, table.clamps[task], old.clamps_on[place])
    old.clamps_off[place] = np.where(puts, table.count, old.clamps_off[place])
    old.clamps_off[place] = np.where(puts & last, ready, old.clamps_off[place])
    old.row[place] += 1
    old.floor[place] = np.where(last, end, ready)
    old.closes[place] = np.where(last, table.count, table.closes[task, works])
    return replace(
        old,
        free=end,
        wet=np.maximum(old.wet, table.wet[task, works]),
        dust=np.where(table.dusty[task], end + table.clears[task], old.dust),
        done=old.done + np.where(last, table.cost[old.row[place], end], 0),
        parent=row,
        line=line,
        start=start,
        again=again,
    )


def _least(table: Tables, state: _Beginnings) -> tuple[IntArray, BoolArray]:
    """What each will cost at the least, and whether it can go on."""
    costs = _part_costs(table, state)
    goes_on = np.any((costs >= 0) & (costs < never(table.count)), axis=1)
    return state.done + np.maximum(costs, 0).sum(axis=1), np.asarray(goes_on)


def _pairs(key: IntArray) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """All pairs of two with the same key; in short numbers, for there may be a million."""
    order = np.argsort(key, kind="stable").astype(np.int32)
    first = np.searchsorted(key[order], key[order]).astype(np.int32)
    many = np.searchsorted(key[order], key[order], side="right").astype(np.int32) - first
    before = np.cumsum(many, dtype=np.int32) - many
    one = np.repeat(np.arange(key.size, dtype=np.int32), many)
    other = np.arange(one.size, dtype=np.int32) + np.repeat(first - before, many)
    apart = one != other
    return order[one[apart]], order[other[apart]]


def _beaten(state: _Beginnings) -> BoolArray:
    """Whether another is as far as it and behind it in nothing; of two alike the second."""
    one, other = _pairs(state.row @ (np.arange(state.row.shape[1]) * 7919 + 1) ** 2)
    on = np.where(state.clamps_on > 0, state.clamps_off, 0)
    least = np.column_stack(
        (state.row, state.floor, on, state.free, state.wet, state.dust, state.done, -state.closes)
    )
    for column in np.column_stack((least, -state.row)).T:
        ahead = column[one] <= column[other]
        one, other = one[ahead], other[ahead]
    alike = (least[one] == least[other]).all(axis=1)
    beaten = np.zeros(state.free.size, dtype=bool)
    beaten[other[~alike | (one < other)]] = True
    return beaten


def _ranked(table: Tables, state: _Beginnings, hands: Crowd) -> IntArray:
    """What each may cost where all parts want the hands."""
    guess = guessed(hands, table, state.row, np.minimum(state.free, table.count))
    costs = np.maximum(_part_costs(table, state), guess)
    ranks: IntArray = state.done + np.maximum(costs, 0).sum(axis=1)
    return ranks


def _kept(table: Tables, state: _Beginnings, width: int, hands: Crowd) -> _Beginnings:
    """The best of them: at most `width`, and none that another is ahead of in everything."""
    ranks = np.lexsort((state.free, _ranked(table, state, hands)))
    some = state.taken(ranks[: 2 * width])
    return some.taken(np.flatnonzero(~_beaten(some))[:width])


def _grown(job: Workload, table: Tables, state: _Beginnings) -> _Beginnings | None:
    """All beginnings with one step more, None where there is none."""
    starts, agains = zip(*_choices(job, table, state), strict=True)
    start, again = np.concatenate(starts), np.concatenate(agains)
    rows, line = (index.astype(np.int64) for index in np.nonzero(start < table.count))
    if rows.size == 0:
        return None
    at = (rows, line)
    return _after(table, state, rows % state.free.size, line, start[at], again[at])


def _traced(
    job: Workload, table: Tables, steps: list[_Beginnings], index: int
) -> tuple[Placed, ...]:
    """The plan that ends in a row of the last of the beginnings."""
    plan = []
    for state in reversed(steps[1:]):
        line = int(state.line[index])
        task = int(state.row[index, line] - table.rows[line]) - 1
        plan.append(placed(job, line, task, int(state.start[index]), bool(state.again[index])))
        index = int(state.parent[index])
    return tuple(reversed(plan))


def search(
    job: Workload, width: int = MOST_WIDTH, *, by_wishes: bool = False
) -> tuple[Placed, ...]:
    """A plan for all parts that can be done on the grid, in the order of time.

    width: how many beginnings are kept; by_wishes: whether they are ranked as if parts with a wish
    were done first.
    """
    if not job.lines:
        return ()
    table, hands = tables(job), crowd(job, by_wishes=by_wishes)
    steps = [_empty(job, table)]
    plan: tuple[Placed, ...] = ()
    best = len(job.lines) * never(job.count) + 1
    while True:
        least, goes_on = _least(table, steps[-1])
        over = np.flatnonzero(~goes_on)
        if over.size and least[over].min() < best:
            index = int(over[np.argmin(least[over])])
            best, plan = int(least[index]), _traced(job, table, steps, index)
        if not (goes_on & (least < best)).any():
            return plan
        grown = _grown(job, table, steps[-1])
        if grown is None:
            return plan
        steps.append(_kept(table, grown, width, hands))


def planned(job: Workload) -> tuple[Placed, ...]:
    """A plan for all parts, the better of two rankings; the same for the same job."""
    size = max(1, job.steps * len(job.lines))
    width = min(max(ROOM // size, LEAST_WIDTH), MOST_WIDTH)
    plans = [search(job, width, by_wishes=by_wishes) for by_wishes in (False, True)]
    return min(plans, key=lambda plan: cost(job, plan))


def followed(job: Workload, order: Sequence[tuple[int, int]]) -> tuple[Placed, ...]:
    """The plan in an order of parts, each step no sooner than a sample; () where it cannot be.

    order: by step its line and that sample.
    """
    table = tables(job)
    steps, one = [_empty(job, table)], np.zeros(1, dtype=np.int64)
    for line, sample in order:
        state = steps[-1]
        base = np.maximum(_base(table, state), min(sample, job.count))
        start, again = _enough_clamps(job, table, state, *_starts(table, state, base))
        if start[0, line] >= job.count:
            return ()
        steps.append(_after(table, state, one, one + line, start[:, line], again[:, line]))
    return _traced(job, table, steps, 0)
