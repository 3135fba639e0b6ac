"""A thousand virtual garages: how far off, how often inside the bounds, and what is left to the
best reader there could be.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.forecast import Forecast, Milestone, PastStep, forecast
from curewatch.cure.inputs import Mix, Sighting
from tests.bench.best_reader import best
from tests.support.virtual_garages import (
    LOOK_H,
    MILESTONES,
    REFERENCE_C,
    WORLDS,
    Batch,
    Product,
    World,
    draw_batch,
    draw_product,
    earlier,
    felt,
    first_looks,
    foreseen,
    looks,
    mixed_at,
    panel_c,
    state_of,
    turn,
)

GARAGES, WORKERS, MOST_BEST = 1000, 2, 150
COUNTS, PER_MIX = (0, 1, 3, 6), 3
INSIDE, WORKING_OVER_MOST = (0.87, 0.95), 0.08
MEDIAN_SD = 0.6745
"""Median of |x| of a normal x, in its standard deviations. [-]"""


@dataclass(frozen=True)
class Score:
    """One garage after so many looks: |ln error| of clamps-off by three ways [-], of which
    milestones the truth was inside, and what was not careful: whether working time was over before
    its early bound, and whether clamps-off came after its late one."""

    error: float
    inside: Mapping[str, bool]
    working_over: bool
    clamps_late: bool
    label: float
    halving: float


def _ln_error(value: float | None, truth: float) -> float:
    return math.inf if value is None else abs(math.log(value / truth))


def _inside(milestone: Milestone, truth: float) -> bool:
    early = milestone.early_min is not None and milestone.early_min <= truth
    return early and (milestone.late_min is None or milestone.late_min >= truth)


def score(batch: Batch, product: Product, found: Forecast) -> Score:
    """Hold a forecast against what truly happened."""
    truths = {name: batch.truth(name) or math.inf for name in MILESTONES}
    label_min = product.sheet.reference.minutes["clamp_time"]
    cold = REFERENCE_C - float(panel_c(batch.hour)[0] + batch.bias_c)
    working, clamps = found.by_name["working_time"].early_min, found.by_name["clamp_time"].late_min
    return Score(
        _ln_error(found.by_name["clamp_time"].likely_min, truths["clamp_time"]),
        {name: _inside(found.by_name[name], truth) for name, truth in truths.items()},
        working is None or working > truths["working_time"],
        clamps is not None and clamps < truths["clamp_time"],
        _ln_error(label_min, truths["clamp_time"]),
        _ln_error(label_min * 2 ** (cold / 10), truths["clamp_time"]),
    )


def next_mix(world: World, number: int) -> list[Score]:
    """Looks at earlier mixes only, three to a mix; the forecast is made at mixing."""
    rng = np.random.default_rng([2013, number])
    product = draw_product(rng, world)
    batch = draw_batch(rng, product)
    others = earlier(rng, product, max(COUNTS) // PER_MIX, PER_MIX)
    return [at_mixing(rng, product, batch, first_looks(others, count)) for count in COUNTS]


def at_mixing(
    rng: np.random.Generator, product: Product, batch: Batch, others: Sequence[PastStep]
) -> Score:
    """The forecast made at mixing, after earlier mixes."""
    past, ahead = felt(rng, batch, 0.0), foreseen(batch, 0.0)
    mix = Mix(mixed_at(batch))
    return score(batch, product, forecast(product.sheet, mix, past, ahead, (), others))


def asked(world: World, number: int) -> list[Score]:
    """One look at each earlier mix, about when its clamps were likely to come off; the forecast
    is made at mixing."""
    rng = np.random.default_rng([2016, number])
    product = draw_product(rng, world)
    batch = draw_batch(rng, product)
    others: list[PastStep] = []
    while len(others) < max(COUNTS):
        others.append(asked_step(rng, product, draw_batch(rng, product), others))
    return [at_mixing(rng, product, batch, others[:count]) for count in COUNTS]


def asked_step(
    rng: np.random.Generator, product: Product, batch: Batch, others: list[PastStep]
) -> PastStep:
    """A mix looked at once, at its likely clamps-off, give or take a tenth."""
    mix = Mix(mixed_at(batch))
    found = forecast(product.sheet, mix, felt(rng, batch, 0.0), foreseen(batch, 0.0), (), others)
    likely = found.by_name["clamp_time"].likely_min or batch.truth("clamp_time") or 0.0
    minute = min(likely * math.exp(rng.normal(0.0, 0.1)), 60.0 * LOOK_H)
    seen = Sighting(1, minute, state_of(rng, batch, minute))
    return PastStep(len(others), mix, felt(rng, batch, minute), (seen,))


def same_mix(world: World, number: int) -> list[Score]:
    """Looks at this very mix until its clamps come off; the forecast is made at the last."""
    rng = np.random.default_rng([2014, number])
    product = draw_product(rng, world)
    batch = draw_batch(rng, product)
    scores = []
    for count in COUNTS:
        seen = looks(rng, batch, count)
        now = seen[-1].after_min if seen else 0.0
        past, ahead = felt(rng, batch, now), foreseen(batch, now)
        found = forecast(product.sheet, Mix(mixed_at(batch)), past, ahead, seen)
        scores.append(score(batch, product, found))
    return scores


def one_look(world: World, number: int) -> list[Score]:
    """One look at this mix: none, at the likely end of work, its turn seen, at the likely
    clamps-off; the forecast is made at the look."""
    rng = np.random.default_rng([2017, number])
    product = draw_product(rng, world)
    batch = draw_batch(rng, product)
    mix, scores = Mix(mixed_at(batch)), []

    def after(seen: Sighting | None) -> Forecast:
        now = seen.after_min if seen else 0.0
        past, ahead = felt(rng, batch, now), foreseen(batch, now)
        return forecast(product.sheet, mix, past, ahead, [seen] if seen else [])

    def look(name: str) -> Sighting | None:
        minute = bare.by_name[name].likely_min
        if minute is None or minute > 60.0 * LOOK_H:
            return None
        return Sighting(1, minute, state_of(rng, batch, minute))

    bare = after(None)
    for seen in (None, look("working_time"), turn(rng, batch, "working_time"), look("clamp_time")):
        scores.append(score(batch, product, after(seen)))
    return scores


def turns(name: str, world: World, number: int) -> list[Score]:
    """The turn of a milestone seen on each earlier mix; the forecast is made at mixing."""
    rng = np.random.default_rng([2018, number])
    product = draw_product(rng, world)
    batch = draw_batch(rng, product)
    others: list[PastStep] = []
    while len(others) < max(COUNTS):
        other = draw_batch(rng, product)
        if seen := turn(rng, other, name):
            past = felt(rng, other, seen.after_min)
            others.append(PastStep(len(others), Mix(mixed_at(other)), past, (seen,)))
    return [at_mixing(rng, product, batch, others[:count]) for count in COUNTS]


SAME_MIX = "Haphazard looks at this mix, forecast at the last look"
ONE_LOOK = "One look at this mix, forecast at the look"
ONE_LOOKS = ("none", "work's end", "its turn", "clamps off")
TURN_OF_WORK = "The end of work seen turning on each earlier mix"
TURN_OF_CLAMPS = "Clamps off seen turning on each earlier mix"
WAYS: dict[str, Callable[[World, int], list[Score]]] = {
    SAME_MIX: same_mix,
    "Asked at each earlier mix's likely clamps-off, forecast at mixing": asked,
    "Haphazard looks at earlier mixes, forecast at mixing": next_mix,
    ONE_LOOK: one_look,
    TURN_OF_WORK: partial(turns, "working_time"),
    TURN_OF_CLAMPS: partial(turns, "clamp_time"),
}
WANTED: dict[tuple[str, str], tuple[float, ...]] = {
    ("mild", SAME_MIX): (0.16, 0.12, 0.10, 0.09),
    ("harsh", ONE_LOOK): (math.inf, 0.12, 0.09, 0.12),
    ("harsh", TURN_OF_WORK): (math.inf, math.inf, 0.11, math.inf),
    ("harsh", TURN_OF_CLAMPS): (math.inf, math.inf, 0.11, math.inf),
}
"""Median |ln error| of clamps-off. [-]"""


def table(world: World, title: str, every: list[list[Score]]) -> None:
    """Print one way of looking."""
    print(f"\n{title} ({len(every)} garages); median |ln error| of clamps-off")
    print(
        "     looks   ours wanted  label alone  halving   inside: work  clamps  sand  "
        " work over  clamps late"
    )
    wanted = WANTED.get((world.name, title), (math.inf,) * len(COUNTS))
    for i, count in enumerate(ONE_LOOKS if title == ONE_LOOK else COUNTS):
        row([scores[i] for scores in every], str(count), wanted[i])


def row(column: Sequence[Score], count: str, wanted: float) -> None:
    """Print one line of it."""
    error, label, halving = (
        float(np.median([getattr(score, key) for score in column]))
        for key in ("error", "label", "halving")
    )
    inside = [float(np.mean([score.inside[name] for score in column])) for name in MILESTONES]
    over = float(np.mean([score.working_over for score in column]))
    late = float(np.mean([score.clamps_late for score in column]))
    held = over <= WORKING_OVER_MOST and INSIDE[0] <= min(inside) <= max(inside) <= INSIDE[1]
    print(
        f"{count:>10} {error:6.1%} {f'{wanted:.0%}' if wanted < 1 else '':>6} {label:12.1%} "
        f"{halving:8.1%} {inside[0]:14.1%} {inside[1]:7.1%} {inside[2]:6.1%} {over:10.1%} "
        f"{late:11.1%}  bands {'held' if held else 'not held'}"
    )


def floor(world: World, every: Sequence[Mapping[str, FloatArray]]) -> None:
    """Print what the best reader there could be still misses."""
    print(f"\nThe least that anybody could miss by ({len(every)} garages); median |ln error|")
    for words in every[0]:
        left = float(np.median(np.concatenate([garage[words] for garage in every])))
        print(f"{left:16.1%}  {words}")
    product, batch = math.hypot(world.batch_sd, world.milestone_sd), world.milestone_sd
    print(
        f"{MEDIAN_SD * product:16.1%}  the product known exactly, by its batch and milestone alone"
    )
    print(f"{MEDIAN_SD * batch:16.1%}  the batch known exactly, by its milestone alone")


def main() -> None:
    """Print the tables; the arguments are the number of garages and one world of the two."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 and sys.argv[1].isdigit() else GARAGES
    print(f"Wanted: {INSIDE[0]:.0%} to {INSIDE[1]:.0%} inside for every milestone, working time")
    print(f"over before its early bound in at most {WORKING_OVER_MOST:.0%}")
    with ProcessPoolExecutor(WORKERS) as pool:
        for world in [WORLDS[name] for name in sys.argv[2:]] or WORLDS.values():
            print(f"\n{world}", flush=True)
            for title, way in WAYS.items():
                table(world, title, list(pool.map(partial(way, world), range(count), chunksize=25)))
            floor(
                world,
                list(pool.map(partial(best, world), range(min(count, MOST_BEST)), chunksize=5)),
            )


if __name__ == "__main__":
    main()
