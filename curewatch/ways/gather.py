"""From the garage's readings, products and log to the work that is left of a part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from curewatch.bench.bench import Bench
from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.belief import learned
from curewatch.cure.inputs import Mix
from curewatch.cure.thermal_history import minimum_c
from curewatch.errors import StepError
from curewatch.garage import parts
from curewatch.garage.joint import NO_TIME, name_of
from curewatch.garage.part_history import key_of
from curewatch.garage.shelf import shelf
from curewatch.garage.step import DamagedStep, Step
from curewatch.garage.steps import steps
from curewatch.gate.alternatives import owned_sheets
from curewatch.notice_words import sentence
from curewatch.plan.next_action import follower
from curewatch.products.sheet import Sheet
from curewatch.products.solvents import leaving, most_c
from curewatch.starts import courses, products
from curewatch.starts.courses import Courses
from curewatch.starts.products import even_normal, even_shares
from curewatch.starts.reached import ages
from curewatch.starts.windows import COURSES, LONGEST, SEED
from curewatch.units import minutes
from curewatch.warmth import panel
from curewatch.warmth.heated import lamp_rise_k
from curewatch.warmth.owned import heaters
from curewatch.ways import entered, hands
from curewatch.ways.answer import Help, Plan, Work, plan
from curewatch.ways.entered import PartWish
from curewatch.ways.hours import Hours, Spell, spells
from curewatch.ways.walk import HANDS_SD, Evenings, Link
from curewatch.ways.way import Way, WayStep

MOST_STEPS = 500
PLACE, ASSUMED_C = "panel", 21.0


@dataclass(frozen=True, eq=False)
class PartPlan:
    """The plan of one part: which way, what is wished, what is left and of which products."""

    part: str
    job: str
    way: Way
    wish: PartWish
    left: tuple[WayStep, ...]
    products: dict[str, str]
    plan: Plan
    now: datetime


def known_part(bench: Bench, part: str, job: str, now: datetime) -> tuple[str, str]:
    """The name and job of a part as it is known; as they were typed where it is new."""
    if not name_of(part):
        raise StepError("the part has no name", fix="name it, like 'rear corner'")
    known = None if job else parts.existing(bench.reader, part, job, now)
    return (part.strip(), job.strip()) if known is None else (known.name, known.job)


def _asked(bench: Bench, part: str, job: str) -> tuple[Hours, Way]:
    """What was entered; asks for the one thing that is missing."""
    hours = entered.hours(bench.store)
    if hours is None:
        raise StepError(
            "when are you there?",
            fix="enter it once: curewatch plan hours 'Mon-Fri 18:00-22:30, Sat 9-18'",
        )
    way = entered.way_of(bench.store, part, job)
    if way is None:
        raise StepError(
            f"how is {part} worked on?",
            fix=f"choose a way: curewatch plan way '{part}' bond-a-patch",
        )
    return hours, way


def _worked(bench: Bench, part: str, job: str) -> list[Step]:
    """The steps on a part that did not fail, the first first."""
    wanted = key_of(part, job)
    held = [step for step in steps(bench.store, most=MOST_STEPS) if step.state != "abandoned"]
    return [step for step in reversed(held) if key_of(step.part, step.job) == wanted]


def matched(way: tuple[WayStep, ...], kinds: list[str]) -> int:
    """How many of a way's steps are behind the part whose mixes were of these kinds, in order."""
    behind = 0
    for kind in kinds:
        ahead = [i for i in range(behind, len(way)) if way[i].kind == kind]
        if ahead:
            behind = ahead[0] + 1
    return behind


def _ready(
    bench: Bench, step: Step | None, waits_for: str, now: datetime, start: Courses
) -> FloatArray:
    """When the next step may begin by what is still curing, by week. [-] in samples"""
    nothing = np.zeros(COURSES)
    if step is None or not waits_for:
        return nothing
    try:
        milestone = bench.reader.step_view(step, now).by_name.get(waits_for)
    except DamagedStep:
        return nothing
    if milestone is None or milestone.reached:
        return nothing
    corners = (milestone.early, milestone.likely, milestone.late)
    if None in corners:
        return np.full(COURSES, np.inf)
    known = [start.sample(at) for at in corners if at is not None]
    shares = even_shares(COURSES, np.random.default_rng(SEED))
    at: FloatArray = np.interp(shares, (0.05, 0.5, 0.95), known)
    return np.maximum(at, 0.0)


def hands_factors(index: int, planned: float) -> FloatArray:
    """Factors on a step's hands-on time by week. [-]; planned: their mean [-]"""
    z = even_normal(COURSES, np.random.default_rng((SEED, 7, index)))
    factors: FloatArray = planned * np.exp(HANDS_SD * z - HANDS_SD**2 / 2)
    return factors


def _link(
    bench: Bench, step: WayStep, sheet: Sheet | None, index: int, weeks: Courses, planned: float
) -> Link:
    """A step in the drawn weeks."""
    factors = hands_factors(index, planned)
    if sheet is None or step.waits_for not in sheet.reference.minutes:
        return Link(step, factors)
    known = learned(sheet, bench.reader.observed_steps(sheet))
    rng = np.random.default_rng((SEED, index))
    drawn = products.drawn(sheet, Mix(weeks.start), known, step.waits_for, COURSES, rng)
    running = ages(sheet, weeks, drawn, step.waits_for)
    return Link(step, factors, running, drawn.need_min, minimum_c(sheet), most_c(sheet))


def _sheets(bench: Bench, left: tuple[WayStep, ...]) -> dict[str, Sheet]:
    """The product of each kind: the one mixed last, else one with a can, else any of the shelf."""
    held = shelf(bench.store)
    chosen = {}
    for kind in dict.fromkeys(step.kind for step in left if step.kind):
        id = follower(bench, kind) or next(
            (sheet.id for sheet in held.values() if sheet.kind == kind), ""
        )
        if id:
            chosen[kind] = held[id]
    return chosen


@dataclass(frozen=True, eq=False)
class _Case:
    """What all variants of a part's work share."""

    bench: Bench
    left: tuple[WayStep, ...]
    weeks: Courses
    ready: FloatArray
    spells: tuple[Spell, ...]
    planned: float
    by: datetime | None
    _links: dict[tuple[int, str], Link] = field(default_factory=dict)

    def _link(self, index: int, sheet: Sheet | None, weeks: Courses) -> Link:
        """A step's link, worked out once for each product in the weeks as they are."""
        step = self.left[index]
        if weeks is not self.weeks:
            return _link(self.bench, step, sheet, index, weeks, self.planned)
        key = (index, "" if sheet is None else sheet.id)
        if key not in self._links:
            self._links[key] = _link(self.bench, step, sheet, index, weeks, self.planned)
        return self._links[key]

    def work(self, sheets: dict[str, Sheet], weeks: Courses | None = None) -> Work:
        """The work with these products, in these weeks."""
        weeks = weeks or self.weeks
        links = tuple(
            self._link(index, sheets.get(step.kind), weeks) for index, step in enumerate(self.left)
        )
        return Work(links, weeks, self.ready, self.spells, self.planned, self.by)


def _with_lamps(case: _Case, sheets: dict[str, Sheet]) -> Iterator[tuple[str, Work]]:
    """The work with each lamp on the panel while somebody is there, but for what dries by solvent:
    a cautious part of its rise, which it has after some minutes."""
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
            hot if hot.age_min is not None else cold
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
            if other.kind == kind:
                works[("product", other.name)] = case.work(sheets | {kind: other})
    return works


def _planned(bench: Bench, way: Way, worked: list[Step]) -> float:
    """What to stretch the way's hands-on times by. [-]"""
    way_min = {step.kind: step.hands_min - step.mixed_after_min for step in way.steps if step.kind}
    ratios = [
        seen / way_min[step.sheet.kind]
        for step in steps(bench.store, most=MOST_STEPS)
        if way_min.get(step.sheet.kind) and (seen := hands.seen_min(step)) is not None
    ]
    return hands.factor(ratios)


def part_plan(
    bench: Bench, part: str, job: str, wish: PartWish | None, now: datetime, zone: ZoneInfo
) -> PartPlan:
    """The plan of a part. wish: instead of the one that was entered. Raises StepError where a thing
    is missing, or where nobody can say."""
    part, job = known_part(bench, part, job, now)
    kind = bench.reader.joint(part, job)
    if kind != "body":
        raise StepError(sentence(NO_TIME[kind]))
    hours, way = _asked(bench, part, job)
    wish = wish or entered.wish_of(bench.store, part, job) or PartWish("", None)
    if wish.by is not None and not now < wish.by <= now + LONGEST:
        raise StepError(
            "the wish is not within the coming seven days",
            fix="further ahead the forecast tells no chance; ask again nearer to it",
        )
    worked = _worked(bench, part, job)
    wanted = way.until(wish.end)
    behind = matched(wanted, [step.sheet.kind for step in worked])
    left = wanted[behind:]
    if not left:
        raise StepError(f"{part} is as it was wished", fix="enter another wish for it")
    end = now + LONGEST
    place = next((step.place for step in reversed(worked)), PLACE)
    snapshot = bench.reader.snapshot(now, now)
    ahead = bench.reader.ahead(snapshot, place, ASSUMED_C, minutes(LONGEST) / 60)
    weeks = courses.drawn(ahead, COURSES, np.random.default_rng(SEED))
    last = worked[-1] if worked and behind else None
    ready = _ready(bench, last, wanted[behind - 1].waits_for if behind else "", now, weeks)
    there = tuple(spells(hours, now, end, zone))
    planned = _planned(bench, way, worked)
    case = _Case(bench, left, weeks, ready, there, planned, wish.by)
    sheets = _sheets(bench, left)
    answer = plan(case.work(sheets), zone, _others(case, sheets))
    chosen = {kind: sheet.name for kind, sheet in sheets.items()}
    return PartPlan(part, job, way, wish, left, chosen, answer, now)
