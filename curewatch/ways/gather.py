"""From the garage's readings, products and log to the work that is left of a part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from curewatch.bench.bench import Bench
from curewatch.cure.belief import learned
from curewatch.cure.inputs import Mix
from curewatch.cure.thermal_history import minimum_c
from curewatch.errors import StepError
from curewatch.gate.alternatives import owned_sheets
from curewatch.products.sheet import Sheet
from curewatch.products.solvents import leaving, most_c
from curewatch.starts import courses, products
from curewatch.starts.courses import Courses
from curewatch.starts.reached import ages
from curewatch.starts.windows import COURSES, LONGEST, SEED
from curewatch.units import minutes
from curewatch.warmth import panel
from curewatch.warmth.heated import lamp_rise_k
from curewatch.warmth.owned import heaters
from curewatch.ways.answer import Help, Plan, Work, plan
from curewatch.ways.entered import PartWish
from curewatch.ways.hours import Spell, spells
from curewatch.ways.left import Left, body_part, hands_factors, hours_of, left_of, suits, waited
from curewatch.ways.walk import Evenings, Link
from curewatch.ways.way import WayStep

ASSUMED_C = 21.0


@dataclass(frozen=True, eq=False)
class PartPlan:
    """The plan of one part: what is left of it, by which way, wish and products; the answer."""

    left: Left
    plan: Plan
    now: datetime

    @property
    def products(self) -> dict[str, str]:
        """The name of each kind's product."""
        return {kind: sheet.name for kind, sheet in self.left.sheets.items()}


def _link(
    bench: Bench, step: WayStep, sheet: Sheet | None, index: int, weeks: Courses, planned: float
) -> Link:
    """A step in the drawn weeks."""
    factors = hands_factors(index, planned)
    milestone = waited(step, sheet)
    if sheet is None or not milestone:
        return Link(step, factors)
    belief = learned(sheet, bench.reader.observed_steps(sheet))
    rng = np.random.default_rng((SEED, index))
    drawn = products.drawn(sheet, Mix(weeks.start), belief, milestone, COURSES, rng)
    running = ages(sheet, weeks, drawn, milestone)
    return Link(step, factors, running, drawn.need_min, minimum_c(sheet), most_c(sheet))


@dataclass(frozen=True, eq=False)
class _Case:
    """What all variants of a part's work share."""

    bench: Bench
    left: Left
    weeks: Courses
    spells: tuple[Spell, ...]
    _links: dict[tuple[int, str], Link] = field(default_factory=dict)

    def _link(self, index: int, sheet: Sheet | None, weeks: Courses) -> Link:
        """A step's link, worked out once for each product in the weeks as they are."""
        step, planned = self.left.steps[index], self.left.planned_factor
        if weeks is not self.weeks:
            return _link(self.bench, step, sheet, index, weeks, planned)
        key = (index, "" if sheet is None else sheet.id)
        if key not in self._links:
            self._links[key] = _link(self.bench, step, sheet, index, weeks, planned)
        return self._links[key]

    def work(self, sheets: dict[str, Sheet], weeks: Courses | None = None) -> Work:
        """The work with these products, in these weeks."""
        weeks, left = weeks or self.weeks, self.left
        links = tuple(
            self._link(index, sheets.get(step.kind), weeks) for index, step in enumerate(left.steps)
        )
        return Work(
            links,
            weeks,
            left.ready(self.weeks),
            self.spells,
            left.planned_factor,
            left.wish.by,
            left.hands_off is not None,
        )


def _with_lamps(case: _Case, sheets: dict[str, Sheet]) -> Iterator[tuple[str, Work]]:
    """The work with each lamp on the panel while somebody is there and once the clamps are on, but
    for what dries by solvent: a cautious part of its rise, which it has after some minutes."""
    heated = {kind: sheet for kind, sheet in sheets.items() if leaving(sheet) is None}
    lamps = [heater for heater in heaters(case.bench.store) if heater.on == "panel"]
    if not heated or not lamps:
        return
    plain, weeks = case.work(sheets), case.weeks
    there = Evenings(weeks, case.spells).left > 0
    most = min(most_c(sheet) for sheet in heated.values())
    for lamp in lamps:
        rise_k = lamp_rise_k(lamp, float(weeks.air_c.mean()))
        sure_k = rise_k * (1 - panel.ASSUMED_SD if lamp.probed_k is None else 1.0)
        warm = weeks.warmed(np.where(there, sure_k, 0.0)[None, :], most, room=False)
        links = tuple(
            replace(cold, warm_min=hot.age_min, sample_s=weeks.step_s)
            for hot, cold in zip(case.work(heated, warm).links, plain.links, strict=True)
        )
        yield lamp.name, replace(plain, links=links)


def _others(case: _Case, sheets: dict[str, Sheet]) -> dict[tuple[Help, str], Work]:
    """The work with each other own product of a kind, and with each lamp."""
    works: dict[tuple[Help, str], Work] = {
        ("lamp", name): work for name, work in _with_lamps(case, sheets)
    }
    for kind, sheet in sheets.items():
        for other in owned_sheets(case.bench, sheet.id):
            if other.kind == kind and suits(case.left.steps, other):
                works[("product", other.name)] = case.work(sheets | {kind: other})
    return works


def part_plan(
    bench: Bench, part: str, job: str, wish: PartWish | None, now: datetime, zone: ZoneInfo
) -> PartPlan:
    """The plan of a part. wish: instead of the one that was entered. Raises StepError where a thing
    is missing, or where nobody can say."""
    part, job = body_part(bench, part, job, now)
    hours = hours_of(bench)
    left = left_of(bench, part, job, wish, now)
    by = left.wish.by
    if by is not None and not now < by <= now + LONGEST:
        raise StepError(
            "the wish is not within the coming seven days",
            fix="further ahead the forecast tells no chance; ask again nearer to it",
        )
    end = now + LONGEST
    snapshot = bench.reader.snapshot(now, now)
    ahead = bench.reader.ahead(snapshot, left.place, ASSUMED_C, minutes(LONGEST) / 60)
    weeks = courses.drawn(ahead, COURSES, np.random.default_rng(SEED))
    there = tuple(spells(hours, now, end, zone))
    case = _Case(bench, left, weeks, there)
    return PartPlan(left, plan(case.work(left.sheets), zone, _others(case, left.sheets)), now)
