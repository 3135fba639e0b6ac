"""A part backwards from a wish, in virtual garages: how often what was foretold came true."""

from __future__ import annotations

import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import partial
from zoneinfo import ZoneInfo

import numpy as np

from curewatch.climate.outlook import outlook
from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure import belief, equivalent_age
from curewatch.cure.inputs import Mix
from curewatch.starts import courses, products
from curewatch.starts.courses import Courses
from curewatch.starts.reached import ages
from curewatch.starts.windows import COURSES, SEED
from curewatch.ways.answer import Work, plan
from curewatch.ways.hands import ASSUMED
from curewatch.ways.hours import Hours, parse_week, spells
from curewatch.ways.left import hands_factors
from curewatch.ways.walk import HANDS_SD, Evenings, Link, walk
from curewatch.ways.way import WayStep, generic_ways
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

GARAGES, WORKERS, DAYS = 600, 2, 7
ZONE = ZoneInfo("America/New_York")
HOURS = Hours(parse_week("Mon-Fri 18:00-22:30, Sat-Sun 9-18"))
SLOWER = 1.2
BINS = ((0.7, 0.85, 0.12), (0.85, 0.95, 0.06), (0.95, 1.01, None))
LEAST_SURE = 0.92


@dataclass(frozen=True)
class Foretold:
    """What was said for an evening, and what came of it; cost: of the question [ms]."""

    chance: float
    happened: bool
    cost_ms: float


def _true_weeks(hour: int) -> Courses:
    """The week as it truly came, alone."""
    weather = year()
    hours = np.arange(0.0, 24.0 * DAYS + 1 / 12, 1 / 12)
    values = weather.garage_c[hour : hour + 24 * DAYS + 2]
    surface = np.interp(hours, np.arange(values.size), values)
    row = surface[None, :]
    start = weather.start + timedelta(hours=hour)
    return Courses(start, 300.0, surface, row, row, np.full_like(row, 60.0))


def _needs(rng: np.random.Generator, product: Product, milestone: str) -> float:
    scatter = rng.normal(0.0, product.world.batch_sd) + rng.normal(0.0, product.world.milestone_sd)
    return float(product.true_min[milestone] * np.exp(product.ln_slow + scatter))


def true_link(
    rng: np.random.Generator, step: WayStep, product: Product | None, week: Courses
) -> Link:
    """A step as it truly goes: hands a fifth slower than the way says, and scattering."""
    hands = np.array([SLOWER * np.exp(rng.normal(0.0, HANDS_SD))])
    if product is None or not step.waits_for:
        return Link(step, hands)
    speed = product.speed(step.waits_for, week.surface_c)
    minutes = np.arange(speed.shape[1]) * week.step_s / 60
    age: FloatArray = equivalent_age.cumulative(minutes, speed) + 1e-9 * minutes
    need = np.array([_needs(rng, product, step.waits_for)])
    return Link(step, hands, age, need, MINIMUM_C, 38.0)


def _foretold(step: WayStep, product: Product | None, index: int, weeks: Courses) -> Link:
    """The step in the drawn weeks."""
    hands = hands_factors(index, ASSUMED)
    if product is None or not step.waits_for:
        return Link(step, hands)
    rng = np.random.default_rng((SEED, index))
    known = belief.learned(product.sheet)
    drawn = products.drawn(product.sheet, Mix(weeks.start), known, step.waits_for, COURSES, rng)
    running = ages(product.sheet, weeks, drawn, step.waits_for)
    return Link(step, hands, running, drawn.need_min, MINIMUM_C, 38.0)


def one(seed: int, world: World) -> list[Foretold]:
    """One garage's part: a patch bonded, filled and primed by some day of the week."""
    rng, weather = np.random.default_rng(seed), year()
    hour = int(rng.integers(HISTORY_H, weather.garage_c.size - 24 * (DAYS + 2)))
    if weather.garage_c[hour] < MINIMUM_C:
        return []
    readings = hourly(
        weather.garage_c, hour - HISTORY_H, hour, weather.start, "panel", "surface_temperature"
    )
    now = weather.start + timedelta(hours=hour)
    ahead = outlook(readings, now, assumed_c=REFERENCE_C, hours=24.0 * DAYS, old_after_min=90.0)
    steps = [
        replace(step, waits_for="" if step.kind == "primer" else step.waits_for)
        for step in generic_ways()["bond-a-patch"].steps
    ]
    made = {step.kind: draw_product(rng, world) for step in steps if step.waits_for}
    by = now + timedelta(hours=float(rng.uniform(48.0, 24.0 * DAYS)))
    there = tuple(spells(HOURS, now, now + timedelta(days=DAYS), ZONE))
    began = time.process_time()
    weeks = courses.drawn(ahead, COURSES, np.random.default_rng(SEED))
    links = tuple(
        _foretold(step, made.get(step.kind), index, weeks) for index, step in enumerate(steps)
    )
    work = Work(links, weeks, np.zeros(COURSES), there, ASSUMED, by)
    evenings = plan(work, ZONE, {}).evenings
    cost_ms = 1000 * (time.process_time() - began)
    week = _true_weeks(hour)
    true_links = [true_link(rng, step, made.get(step.kind), week) for step in steps]
    forecasts = []
    for evening in evenings:
        ready = np.array([week.sample(evening.start)])
        done = walk(true_links, Evenings(week, there), ASSUMED, ready).done[0]
        forecasts.append(Foretold(evening.chance, bool(done <= week.sample(by)), cost_ms))
    return forecasts


def report(world: World, garages: int) -> None:
    """Print what was foretold beside what happened."""
    with ProcessPoolExecutor(WORKERS) as pool:
        every = [
            foretold
            for some in pool.map(partial(one, world=world), range(garages), chunksize=10)
            for foretold in some
        ]
    print(f"\n{garages} garages, {world.name} world: six steps within a week, slow hands")
    for least, most, within in BINS:
        forecasts = [e for e in every if least <= e.chance < most]
        if not forecasts:
            print(f"  foretold {least:g} to {min(most, 1.0):g}: none")
            continue
        value = float(np.mean([e.chance for e in forecasts]))
        true = float(np.mean([e.happened for e in forecasts]))
        wanted = f"at least {LEAST_SURE:g}" if within is None else f"within {within:g}"
        good = true >= LEAST_SURE if within is None else abs(true - value) <= within
        mark = "met" if good else "NOT MET"
        print(
            f"  foretold {value:.2f}: happened {true:.2f} of {len(forecasts)}  ({wanted}: {mark})"
        )
    costs = [e.cost_ms for e in every]
    print(f"  one question: {np.median(costs):.0f} ms of processor in the median")


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else GARAGES
    for each_world in WORLDS.values():
        report(each_world, count)
