"""The latest moment to mix in virtual garages: how often what was said came true."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import partial

import numpy as np

from curewatch.climate.conditions import constant
from curewatch.climate.outlook import Outlook, outlook
from curewatch.cure import belief, equivalent_age
from curewatch.cure.belief import BATCH_SD, MILESTONE_SD
from curewatch.cure.estimate import held
from curewatch.cure.forecast import forecast
from curewatch.cure.inputs import Mix
from curewatch.cure.prior import PRODUCT_SD
from curewatch.starts.windows import Starts, starts
from curewatch.warmth.room import ASSUMED, taught
from tests.support.heated_rooms import draw_room, rise_at_end
from tests.support.heated_rooms import evening as heated_evening
from tests.support.virtual_garages import (
    AHEAD_H,
    HARSH,
    HISTORY_H,
    MINIMUM_C,
    REFERENCE_C,
    WORLDS,
    Batch,
    Product,
    World,
    draw_batch,
    draw_product,
    mixed_at,
    panel_c,
)
from tests.support.weather import hourly, year

GARAGES, ROOMS, WORKERS = 1000, 200, 2
SHARES = {0.8: (0.77, 0.87), 0.9: (0.87, 0.95), 0.95: (0.92, 0.98)}
AHEAD_H_OF_WISH = (5.0, 48.0)
STOP_H = (2.0, 8.0)
COLD_EVENING_C = 10.0
BELIEVED = World("believed", PRODUCT_SD, BATCH_SD, MILESTONE_SD, HARSH.look_sd)
"""Scatters as the belief assumes, with labels that are the truth."""
HONEST = replace(HARSH, name="harsh but honestly labelled", careful=0.0, rounded=False)
ASKED_MS = 50.0


@dataclass
class Tally:
    """How often it was said, and how often it came true; chance: the sum of those of the moments
    that were said, rounded to the grid as they are [-]."""

    said: int = 0
    true: int = 0
    chance: float = 0.0

    def add(self, came_true: bool, chance: float) -> None:
        """Count one."""
        self.said += 1
        self.true += came_true
        self.chance += chance

    def merge(self, other: Tally) -> None:
        """Take in another's."""
        self.said += other.said
        self.true += other.true
        self.chance += other.chance

    @property
    def share(self) -> float:
        """Of what was said, how much came true. [-]"""
        return self.true / self.said if self.said else float("nan")


@dataclass
class Counts:
    """One garage's or all garages' tallies, by what was asked; cost: of one question [ms]."""

    tallies: dict[str, Tally] = field(default_factory=dict)
    cost_ms: list[float] = field(default_factory=list)

    def add(self, name: str, came_true: bool, chance: float = 0.0) -> None:
        """Count one of a kind."""
        self.tallies.setdefault(name, Tally()).add(came_true, chance)

    def merge(self, other: Counts) -> None:
        """Take in another's."""
        self.cost_ms += other.cost_ms
        for name, tally in other.tallies.items():
            self.tallies.setdefault(name, Tally()).merge(tally)


@dataclass(frozen=True, eq=False)
class Evening:
    """A garage before a mix: what is known, and what will be."""

    product: Product
    batch: Batch
    ahead: Outlook

    @property
    def now(self) -> datetime:
        """When the question is asked."""
        return mixed_at(self.batch)

    def starts(self, milestone: str, until: datetime) -> Starts:
        """Every start until an instant."""
        known = belief.learned(self.product.sheet)
        return starts(self.product.sheet, Mix(self.now), known, self.ahead, milestone, until)

    def reached(self, milestone: str, start: datetime) -> float:
        """When a mix of that start truly reaches a milestone, inf where it does not. [min]"""
        age = self.batch.ages_min[milestone]
        after = (start - self.now).total_seconds() / 60
        need = float(np.interp(after, self.batch.minutes, age)) + self.batch.needs[milestone]
        at = equivalent_age.reached(self.batch.minutes, age, need)
        return float("inf") if at is None else at

    def in_time(self, milestone: str, start: datetime, by: datetime) -> bool:
        """Whether that is before an instant."""
        return self.reached(milestone, start) <= (by - self.now).total_seconds() / 60

    def before_cold(self, milestone: str, start: datetime) -> bool:
        """Whether that is before the panel is truly too cold."""
        panel = np.interp(self.batch.minutes / 60, np.arange(AHEAD_H + 1), panel_c(self.batch.hour))
        after = (start - self.now).total_seconds() / 60
        cold = np.flatnonzero((panel < MINIMUM_C) & (self.batch.minutes >= after))
        first = self.batch.minutes[cold[0]] if cold.size else float("inf")
        return self.reached(milestone, start) <= first


def evening(rng: np.random.Generator, world: World, most_c: float = 35.0) -> Evening:
    """A garage drawn with a fortnight of readings behind it, not warmer than this now. [C]"""
    weather, product = year(), draw_product(rng, world)
    batch = draw_batch(rng, product)
    while weather.garage_c[batch.hour] > most_c:
        batch = draw_batch(rng, product)
    last = batch.hour
    readings = hourly(
        weather.garage_c + batch.bias_c,
        last - HISTORY_H,
        last,
        weather.start,
        "panel",
        "surface_temperature",
    )
    ahead = outlook(readings, mixed_at(batch), assumed_c=REFERENCE_C, old_after_min=90.0)
    return Evening(product, batch, ahead)


def _wish(counts: Counts, rng: np.random.Generator, evening: Evening) -> None:
    """Clamps off before an instant, five hours to two days ahead."""
    by = evening.now + timedelta(hours=float(rng.uniform(*AHEAD_H_OF_WISH)))
    began = time.process_time()
    chances = evening.starts("clamp_time", by).by(by)
    counts.cost_ms.append(1000 * (time.process_time() - began))
    for share in SHARES:
        latest = chances.latest(share)
        if latest is not None:
            chance = float(chances.chance[chances.instants.index(latest)])
            counts.add(f"{share:g}", evening.in_time("clamp_time", latest, by), chance)


def wish_alone(seed: int, world: World) -> Counts:
    """One garage's first question."""
    rng, counts = np.random.default_rng(seed), Counts()
    _wish(counts, rng, evening(rng, world))
    return counts


def _likely_start(evening: Evening, crossing: datetime) -> datetime | None:
    """The baseline: the latest start whose likely time comes before the likely cold."""
    starts_ahead = evening.starts("clamp_time", crossing)
    likely = starts_ahead.before_cold(MINIMUM_C)
    return likely.latest(0.5)


def _cold(counts: Counts, evening: Evening) -> None:
    """Mixed at the latest moment before the cold: by the table, and by the likely alone."""
    below = np.flatnonzero(evening.ahead.likely_c < MINIMUM_C)
    if below.size == 0 or below[0] == 0:
        return
    crossing = evening.ahead.start + timedelta(seconds=evening.ahead.step_s * float(below[0]))
    latest = evening.starts("clamp_time", crossing).before_cold(MINIMUM_C).latest()
    if latest is not None:
        counts.add("before the cold", evening.before_cold("clamp_time", latest))
    likely = _likely_start(evening, crossing)
    if likely is not None:
        counts.add("before the cold, even odds", evening.before_cold("clamp_time", likely))


def _card(counts: Counts, rng: np.random.Generator, evening: Evening) -> None:
    """Begun at the latest moment so that the hands are free before the stop: by the table, and by
    the late length of a mix made now."""
    stop = evening.now + timedelta(hours=float(rng.uniform(*STOP_H)))
    latest = evening.starts("working_time", stop).by(stop).latest()
    if latest is not None:
        counts.add("begun by", evening.in_time("working_time", latest, stop))
    past = constant(
        evening.now,
        0.0,
        surface_c=float(evening.ahead.likely_c[0]),
        humidity_pct=50.0,
        surface_sd_c=0.5,
    )
    sheet = evening.product.sheet
    late = (
        forecast(sheet, Mix(evening.now), past, held(past, 1440.0)).by_name["working_time"].late_min
    )
    if late is not None and evening.now + timedelta(minutes=late) <= stop:
        counts.add(
            "begun by, as long as now",
            evening.in_time("working_time", stop - timedelta(minutes=late), stop),
        )


def one(seed: int, world: World) -> Counts:
    """One garage's three questions."""
    rng, counts = np.random.default_rng(seed), Counts()
    asked = evening(rng, world)
    _wish(counts, rng, asked)
    _cold(counts, evening(rng, world, COLD_EVENING_C))
    _card(counts, rng, asked)
    return counts


def _whole(name: str, garages: int, ask: Callable[[int], Counts]) -> Counts:
    whole = Counts()
    with ProcessPoolExecutor(WORKERS) as pool:
        for counts in pool.map(ask, range(garages), chunksize=20):
            whole.merge(counts)
    print(f"\n{garages} garages, {name} world")
    for share, (least, most) in SHARES.items():
        tally = whole.tallies[f"{share:g}"]
        met = "met" if least <= tally.share <= most else "NOT MET"
        print(
            f"  clamps off in time, said {share:g} ({tally.chance / tally.said:.3f} to the grid):"
            f" held {tally.share:.3f} of {tally.said}  (wanted {least:g} to {most:g}: {met})"
        )
    return whole


def why(world: World, garages: int) -> None:
    """Print the shares of the wish alone, in a world that tells why they are as they are."""
    _whole(world.name, garages, partial(wish_alone, world=world))


def report(world: World, garages: int) -> None:
    """Print one world's shares beside what is wanted."""
    whole = _whole(world.name, garages, partial(one, world=world))
    for name, least in (("before the cold", 0.77), ("begun by", 0.90)):
        tally = whole.tallies[name]
        met = "met" if tally.share >= least else "NOT MET"
        print(f"  {name}, said 0.9: held {tally.share:.3f} of {tally.said}  ({least:g}: {met})")
    for name in ("before the cold, even odds", "begun by, as long as now"):
        tally = whole.tallies[name]
        print(f"    baseline {name}: held {tally.share:.3f} of {tally.said}")
    median = float(np.median(whole.cost_ms))
    print(f"  one question: {median:.0f} ms of processor in the median (wanted {ASKED_MS:g})")


def rooms(count: int) -> None:
    """How far off the rise at the end of an evening's heating is, after one told evening."""
    misses: dict[str, list[float]] = {"one told evening": [], "baseline, as assumed": []}
    for seed in range(count):
        rng = np.random.default_rng(seed)
        room = draw_room(rng)
        room_terms = taught([heated_evening(rng, room, 2.0, float(rng.uniform(2.0, 5.0)))])
        kw, hours = float(rng.uniform(1.0, 3.0)), float(rng.uniform(2.0, 6.0))
        true = rise_at_end(room, kw, hours)
        for name, terms in (("one told evening", room_terms), ("baseline, as assumed", ASSUMED)):
            value = float(terms.rise_k(np.array([hours]), kw, hours)[0])
            misses[name].append(abs(value / true - 1))
    print(
        f"\n{count} drawn garages with a heater: off in the median (wanted 15 % after one evening)"
    )
    for name, missed in misses.items():
        print(f"  {name}: {100 * float(np.median(missed)):.0f} %")


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else GARAGES
    for tried in WORLDS.values():
        report(tried, count)
    for tried in (BELIEVED, HONEST):
        why(tried, count)
    rooms(ROOMS)
