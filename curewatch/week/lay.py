"""What is left of several parts, laid on a grid of ten minutes: the search's job, and the same
steps in the drawn weeks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.forecast import closing_cap_min
from curewatch.order.job import IntArray, PartTasks, Task, Workload
from curewatch.products.sheet import Sheet
from curewatch.starts.courses import Courses
from curewatch.starts.reached import BoolArray
from curewatch.walltime import evening_of
from curewatch.ways.hours import Spell
from curewatch.ways.left import Left, hands_factors, waited
from curewatch.ways.walk import Evenings, Link
from curewatch.ways.way import WayStep
from curewatch.week.draws import COATS, STEP_MIN, Draws, quantile, reached_by

Again = Literal["", "scuff", "clean"]
AGAIN_MIN, SETTLES_MIN = 20.0, 30.0
LATE, EARLY = 0.95, 0.05
OPENS, CLOSES = "recoat_opens", "recoat_closes"
AGAIN, SETTLES = round(AGAIN_MIN / STEP_MIN), round(SETTLES_MIN / STEP_MIN)


@dataclass(frozen=True, eq=False)
class Planned:
    """What a step is planned with: the evenings, its panel's drawn weeks, how long the hands are on
    it, and how many samples later it is mixed."""

    evenings: Evenings
    draws: Draws
    hands: int
    mixed_after: int

    @property
    def here(self) -> IntArray:
        """The samples at which somebody is there."""
        return np.flatnonzero(self.evenings.left > 0)

    def mixes(self) -> FloatArray:
        """When it is mixed, begun at each of them."""
        at: FloatArray = np.minimum(self.here + self.mixed_after, self.evenings.count - 1.0)
        return at

    def spread(self, values: NDArray[np.floating[Any]]) -> IntArray:
        """Values at those as a table of all samples, never elsewhere."""
        count = self.evenings.count
        table = np.full(count, count)
        table[self.here] = np.minimum(np.ceil(np.where(np.isfinite(values), values, count)), count)
        return table


@dataclass(frozen=True, eq=False)
class LaidStep:
    """A step of a part: as its way says it, its product, the step in the drawn weeks, and what it
    is planned with; task: the same for the search; again: what a missed window before it costs."""

    left: Left
    step: WayStep
    sheet: Sheet | None
    link: Link
    planned: Planned
    task: Task
    again: Again = ""


@dataclass(frozen=True, eq=False)
class Laid:
    """All parts on the grid, in the job's order; ready: when each one's first step may begin, by
    week [-]; spells: when somebody is there."""

    job: Workload
    lines: tuple[tuple[LaidStep, ...], ...]
    ready: tuple[FloatArray, ...]
    spells: tuple[Spell, ...]

    @property
    def weeks(self) -> Courses:
        """The drawn weeks of the first part's place: all are on the same grid."""
        return self.lines[0][0].planned.draws.weeks


def _allowed(link: Link, planned: Planned, again: int) -> BoolArray:
    """Whether a step may begin: somebody stays long enough, it may be loud, the likely panel is
    within the label's limits."""
    evenings, hands = planned.evenings, planned.hands + again
    airing = int(np.ceil(link.step.airing_min / STEP_MIN - 1e-6))
    may: BoolArray = evenings.left >= hands + airing
    if link.step.loud:
        may &= evenings.left_loud >= hands
    if link.age_min is not None:
        likely_c = planned.draws.weeks.likely_c
        may &= (likely_c >= link.least_c) & (likely_c <= link.most_c)
    return may


def _hands(left: Left, step: WayStep) -> int:
    """How long the hands are on a step, as it is planned. [-] in samples"""
    return max(1, int(np.ceil(step.hands_min * left.planned_factor / STEP_MIN - 1e-6)))


def _ready(step: WayStep, link: Link, planned: Planned) -> IntArray:
    """When the next may begin, nearly surely."""
    done = planned.here + float(planned.hands)
    if not step.waits_for:
        return planned.spread(done)
    reached = np.asarray(np.maximum(done, reached_by(link, planned.mixes(), LATE) - 1e-6))
    return planned.spread(reached)


def _window(laid: LaidStep, after: LaidStep | None, index: int) -> tuple[IntArray | None, Again]:
    """Until when the step after it may begin without preparing again, and what that would be."""
    if after is None:
        return None, ""
    planned = laid.planned
    if laid.step.bares and after.sheet is not None:
        bare_min = after.sheet.limits.bare_max_min
        if bare_min is not None:
            stands = planned.hands + bare_min // STEP_MIN
            return planned.spread(planned.here + stands), "clean"
    if laid.sheet is None or laid.step.waits_for != OPENS:
        return None, ""
    if CLOSES not in laid.sheet.reference.minutes:
        return None, ""
    closing = planned.draws.link(laid.step, laid.sheet, CLOSES, index)
    early = reached_by(closing, planned.mixes(), EARLY)
    warmest_c = float(planned.draws.weeks.likely_c.max())
    cap = planned.mixes() + closing_cap_min(laid.sheet, warmest_c) / STEP_MIN
    closes = np.asarray(np.floor(np.minimum(early, cap)))
    return planned.spread(closes), "scuff"


def _wet(step: WayStep, ready: IntArray, count: int) -> IntArray | None:
    """Until when a wet coat wants clean air: until it can be recoated, as labels say no sooner."""
    return np.where(ready < count, ready, 0) if step.kind in COATS else None


def _laid(left: Left, step: WayStep, draws: Draws, evenings: Evenings, index: int) -> LaidStep:
    """A step by itself."""
    sheet, hands = left.sheets.get(step.kind), _hands(left, step)
    link = draws.link(step, sheet, waited(step, sheet), index)
    link = replace(link, hands=hands_factors(index, left.planned_factor))
    mixed_after = round(step.mixed_after_min * left.planned_factor / STEP_MIN)
    planned = Planned(evenings, draws, hands, mixed_after)
    ready = _ready(step, link, planned)
    task = Task(
        hands,
        _allowed(link, planned, 0),
        ready,
        wet=_wet(step, ready, evenings.count),
        dusty=step.dusty,
        clamps=step.clamps,
    )
    return LaidStep(left, step, sheet, link, planned, task)


def _line(left: Left, draws: Draws, evenings: Evenings, index: int) -> list[LaidStep]:
    """A part's steps, with the windows between them; index: of the first of them."""
    steps = [_laid(left, step, draws, evenings, index + i) for i, step in enumerate(left.steps)]
    for i in range(len(steps) - 1):
        closes, again = _window(steps[i], steps[i + 1], index + i)
        if closes is None:
            continue
        after = steps[i + 1]
        may = _allowed(after.link, after.planned, AGAIN)
        steps[i] = replace(steps[i], task=replace(steps[i].task, closes=closes))
        steps[i + 1] = replace(
            after, again=again, task=replace(after.task, again=AGAIN, allowed_again=may)
        )
    return steps


def _first_window(left: Left, weeks: Courses) -> int | None:
    """Until when the next step may begin without scuffing what is on the part already."""
    view = None if left.curing is None else left.curing.by_name.get(CLOSES)
    if view is None or view.shown is None:
        return None
    return max(0, int(weeks.sample(view.shown)))


def _as_line(left: Left, steps: Sequence[LaidStep], weeks: Courses, ready: FloatArray) -> PartTasks:
    """A part for the search."""
    late = float(quantile(ready, LATE))
    first = weeks.likely_c.size if not np.isfinite(late) else int(np.ceil(late - 1e-6))
    by = None if left.wish.by is None else int(np.floor(weeks.sample(left.wish.by) + 1e-6))
    coat = left.before is not None and left.before.kind in COATS
    closes = _first_window(left, weeks)
    tasks = [step.task for step in steps]
    if closes is not None:
        may = _allowed(steps[0].link, steps[0].planned, AGAIN)
        tasks[0] = replace(tasks[0], again=AGAIN, allowed_again=may)
    return PartTasks(tuple(tasks), first, closes, by, left.clamps_on, first if coat else 0)


def _next_day(spells: Sequence[Spell], weeks: Courses, zone: ZoneInfo) -> IntArray:
    """By sample the first sample of the next day or evening on which somebody is there."""
    first: dict[date, int] = {}
    for spell in spells:
        at = max(0, int(np.ceil(weeks.sample(spell.start) - 1e-6)))
        first.setdefault(evening_of(spell.start, zone), at)
    starts = np.array(sorted(first.values()), dtype=np.int64)
    count = weeks.likely_c.size
    after = np.searchsorted(starts, np.arange(count), side="right")
    return np.append(starts, count)[after]


def lay(
    lefts: Sequence[Left],
    draws: Mapping[str, Draws],
    spells: Sequence[Spell],
    zone: ZoneInfo,
    clamps: int | None,
) -> Laid:
    """Lay what is left of several parts on the grid.

    draws: by the place whose panel it is; clamps: how many one owns, None for enough.
    """
    weeks = next(iter(draws.values())).weeks
    evenings = {place: Evenings(drawn.weeks, spells) for place, drawn in draws.items()}
    lines, ready, index = [], [], 0
    for left in lefts:
        lines.append(tuple(_line(left, draws[left.place], evenings[left.place], index)))
        ready.append(left.ready(weeks))
        index += len(left.steps)
    as_lines = tuple(
        _as_line(left, steps, weeks, at)
        for left, steps, at in zip(lefts, lines, ready, strict=True)
    )
    next_day = _next_day(spells, weeks, zone)
    job = Workload(as_lines, weeks.likely_c.size, next_day, clamps, SETTLES)
    return Laid(job, tuple(lines), tuple(ready), tuple(spells))
