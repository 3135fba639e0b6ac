"""From the garage's readings, products and log to the week's plan of all wished parts."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from curewatch.bench.bench import Bench
from curewatch.cure.belief import Learned, learned
from curewatch.errors import StepError
from curewatch.products.sheet import Sheet
from curewatch.starts import courses
from curewatch.starts.windows import COURSES, SEED
from curewatch.units import minutes
from curewatch.ways import entered
from curewatch.ways.gather import ASSUMED_C
from curewatch.ways.hours import spells
from curewatch.ways.left import Left, hours_of, left_of, waited
from curewatch.week import kept
from curewatch.week.draws import Draws, on_grid
from curewatch.week.helps import WeekHelp, helps
from curewatch.week.plan import LeftOut, Wanted, WeekPlan
from curewatch.week.put import stays_put

AHEAD = timedelta(days=14)
MOST_PARTS = 20


def _left(bench: Bench, part: str, job: str, owned: int | None, now: datetime) -> Left:
    """What is left of a part. Raises StepError where it cannot be planned."""
    left = left_of(bench, part, job, None, now)
    if left.wish.by is not None and left.wish.by <= now:
        raise StepError(f"the wish for {part} is past", fix="enter a later one, or drop it")
    for step in left.steps:
        waited(step, left.sheets.get(step.kind))
        if owned is not None and step.clamps > owned:
            raise StepError(
                f"{part} takes {step.clamps} clamps, and you have {owned}",
                fix="enter how many you have: curewatch plan hours --clamps 6",
            )
    return left


def _draws(bench: Bench, place: str, now: datetime) -> Draws:
    def belief(sheet: Sheet) -> Learned:
        return learned(sheet, bench.reader.observed_steps(sheet))

    snapshot = bench.reader.snapshot(now, now)
    ahead = bench.reader.ahead(snapshot, place, ASSUMED_C, minutes(AHEAD) / 60)
    drawn = courses.drawn(ahead, COURSES, np.random.default_rng(SEED))
    return Draws(on_grid(drawn), belief)


def wanted(bench: Bench, now: datetime, zone: ZoneInfo) -> Wanted:
    """What is wished of all parts. Raises StepError where the hours were not entered."""
    hours, owned = hours_of(bench), entered.clamps(bench.store)
    lefts: list[Left] = []
    left_out: list[LeftOut] = []
    for part, job in entered.wished(bench.store)[:MOST_PARTS]:
        try:
            lefts.append(_left(bench, part, job, owned, now))
        except StepError as error:
            left_out.append(LeftOut(part, job, error))
    places = dict.fromkeys(left.place for left in lefts)
    draws = {place: _draws(bench, place, now) for place in places}
    there = tuple(spells(hours, now, now + AHEAD, zone))
    return Wanted(tuple(lefts), tuple(left_out), draws, there, owned, now, zone)


def week_plan(bench: Bench, now: datetime, zone: ZoneInfo) -> WeekPlan:
    """The plan of all wished parts: as it was shown last, unless that breaks or a wish gains by a
    new one. Raises StepError where no hours were entered."""
    wishes = wanted(bench, now, zone)
    if not wishes.lefts:
        return WeekPlan(now, zone, wishes.spells, (), (), wishes.left_out)
    return stays_put(wishes.laid(), kept.shown(bench.store), now, zone, wishes.left_out)


def week_helps(bench: Bench, now: datetime, zone: ZoneInfo) -> tuple[WeekHelp, ...]:
    """What would help the wished parts, each a plan made anew, so that it takes seconds. Raises
    StepError where no hours were entered."""
    return helps(bench, wanted(bench, now, zone))
