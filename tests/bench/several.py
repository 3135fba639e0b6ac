"""Several parts planned in virtual garages: how often what was foretold came true."""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial

import numpy as np

from curewatch.climate.outlook import outlook
from curewatch.cure import belief
from curewatch.order.check import broken
from curewatch.order.search import planned
from curewatch.starts import courses
from curewatch.starts.courses import Courses
from curewatch.starts.windows import COURSES, LONGEST, SEED
from curewatch.ways.entered import PartWish
from curewatch.ways.hands import ASSUMED
from curewatch.ways.hours import Spell, spells
from curewatch.ways.left import Left
from curewatch.ways.walk import Evenings
from curewatch.ways.way import generic_ways
from curewatch.week.draws import Draws, on_grid
from curewatch.week.lay import Laid, LaidStep, lay
from curewatch.week.lived import done_by_week
from tests.bench.week import BINS, HOURS, LEAST_SURE, ZONE, true_link
from tests.support.virtual_garages import (
    HISTORY_H,
    MINIMUM_C,
    REFERENCE_C,
    WORLDS,
    Product,
    World,
    draw_product,
)
from tests.support.weather import hourly, year

GARAGES, WORKERS, DAYS = 100, 2, 14
WAYS = {2: ("fill-a-dent", "prime-bare-metal"), 4: ("bond-a-patch", "fill-a-dent") * 2}


@dataclass(frozen=True)
class Foretold:
    """What was said of a part by an instant, and what came of it."""

    chance: float
    happened: bool


@dataclass(frozen=True)
class Answer:
    """One garage's parts; steps; cost of the plan and its chances [s]; how many rules it broke."""

    parts: tuple[Foretold, ...]
    steps: int
    cost_s: float
    faults: int


def _true_course(like: Courses) -> Courses:
    """The fortnight as it truly came, on the same grid, alone."""
    weather = year()
    begin_h = (like.start - weather.start).total_seconds() / 3600
    hours = begin_h + np.arange(like.likely_c.size) * like.step_s / 3600
    surface = np.interp(hours, np.arange(weather.garage_c.size), weather.garage_c)
    row = surface[None, :]
    return Courses(like.start, like.step_s, surface, row, row, np.full_like(row, 60.0))


def _lefts(ways: Sequence[str], made: dict[str, Product], by: datetime) -> list[Left]:
    """The parts, a primer's own cure left out as it is the last step."""
    lefts = []
    for index, id in enumerate(ways):
        way = generic_ways()[id]
        steps = tuple(
            replace(step, waits_for="" if step.kind == "primer" else step.waits_for)
            for step in way.steps
        )
        sheets = {kind: product.sheet for kind, product in made.items()}
        wish = PartWish("", by if index % 2 else None)
        name = f"part {index}"
        lefts.append(Left(name, "", way, wish, steps, sheets, ASSUMED, "panel", None, None))
    return lefts


def _true_laid(
    rng: np.random.Generator,
    laid: Laid,
    made: dict[str, Product],
    there: Sequence[Spell],
) -> Laid:
    """The same steps as they truly go."""
    course = _true_course(laid.weeks)
    evenings = Evenings(course, there)

    def truly(held: LaidStep) -> LaidStep:
        link = true_link(rng, held.step, made.get(held.step.kind), course)
        return replace(held, link=link, planned=replace(held.planned, evenings=evenings))

    lines = tuple(tuple(map(truly, steps)) for steps in laid.lines)
    return replace(laid, lines=lines, ready=tuple(np.zeros(1) for _ in lines))


def one(seed: int, world: World, parts: int) -> Answer | None:
    """One garage, asked once; each part by two instants of the coming seven days."""
    rng, weather = np.random.default_rng(seed), year()
    hour = int(rng.integers(HISTORY_H, weather.garage_c.size - 24 * (DAYS + 2)))
    if weather.garage_c[hour] < MINIMUM_C:
        return None
    readings = hourly(
        weather.garage_c, hour - HISTORY_H, hour, weather.start, "panel", "surface_temperature"
    )
    now = weather.start + timedelta(hours=hour)
    ahead = outlook(readings, now, assumed_c=REFERENCE_C, hours=24.0 * DAYS, old_after_min=90.0)
    made = {kind: draw_product(rng, world) for kind in ("adhesive", "filler")}
    there = tuple(spells(HOURS, now, now + timedelta(days=DAYS), ZONE))
    lefts = _lefts(WAYS[parts], made, now + timedelta(days=4))
    began = time.process_time()
    weeks = on_grid(courses.drawn(ahead, COURSES, np.random.default_rng(SEED)))
    laid = lay(lefts, {"panel": Draws(weeks, belief.learned)}, there, ZONE, None)
    plan = planned(laid.job)
    done = done_by_week(laid, plan)
    cost_s = time.process_time() - began
    true = done_by_week(_true_laid(rng, laid, made, there), plan)
    forecasts = []
    for line in range(parts):
        for _ in range(2):
            by = weeks.sample(now + float(rng.uniform(0.15, 1.0)) * LONGEST)
            forecasts.append(Foretold(float((done[line] <= by).mean()), bool(true[line, 0] <= by)))
    return Answer(tuple(forecasts), laid.job.steps, cost_s, len(broken(laid.job, plan)))


def report(world: World, parts: int, garages: int) -> None:
    """Print what was foretold beside what happened."""
    with ProcessPoolExecutor(WORKERS) as pool:
        tried = pool.map(partial(one, world=world, parts=parts), range(garages), chunksize=2)
        answers = [answer for answer in tried if answer is not None]
    steps = int(np.median([answer.steps for answer in answers]))
    print(f"\n{len(answers)} garages, {world.name} world: {parts} parts, {steps} steps, slow hands")
    every = [foretold for answer in answers for foretold in answer.parts]
    for least, most, within in BINS:
        forecasts = [foretold for foretold in every if least <= foretold.chance < most]
        if forecasts:
            value = float(np.mean([foretold.chance for foretold in forecasts]))
            true = float(np.mean([foretold.happened for foretold in forecasts]))
            good = true >= LEAST_SURE if within is None else abs(true - value) <= within
            mark = "met" if good else "NOT MET"
            print(f"  foretold {value:.2f}: happened {true:.2f} of {len(forecasts)}  ({mark})")
    costs = [answer.cost_s for answer in answers]
    print(f"  plan and chances: {np.median(costs):.2f} s of processor in the median")
    print(f"  broken rules: {sum(answer.faults for answer in answers)}", flush=True)


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else GARAGES
    for each_world in WORLDS.values():
        for many in WAYS:
            report(each_world, many, count)
