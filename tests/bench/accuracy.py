"""A thousand virtual garages: how far off, and how often inside the bounds."""

from __future__ import annotations

import math
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from curewatch.cure.forecast import Forecast, PastStep, forecast
from curewatch.cure.inputs import Mix, Sighting
from tests.support.virtual_garages import (
    LOOK_H,
    REFERENCE_C,
    Batch,
    Product,
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
)

GARAGES, WORKERS = 1000, 2
COUNTS, PER_MIX = (0, 1, 3, 6), 3
TARGETS = {0: 0.16, 1: 0.12, 3: 0.10, 6: 0.09}
INSIDE, WORKING_LATE_MOST = (0.86, 0.94), 0.07


@dataclass(frozen=True)
class Score:
    """One garage at one count of witnesses: |ln error| of clamps-off for three ways [-], whether
    the truth was inside, and whether working time ended before its early bound."""

    error: float
    inside: bool
    working_violated: bool
    label: float
    halving: float


def _ln_error(told: float | None, truth: float) -> float:
    return math.inf if told is None else abs(math.log(told / truth))


def score(batch: Batch, product: Product, found: Forecast) -> Score:
    """Hold a forecast against what truly happened."""
    clamp, working = found.by_name["clamp_time"], found.by_name["working_time"]
    truth = batch.truth("clamp_time") or math.nan
    early = clamp.early_min is None or clamp.early_min > truth
    late = clamp.late_min is not None and clamp.late_min < truth
    true_working = batch.truth("working_time") or math.inf
    label_min = product.sheet.reference.minutes["clamp_time"]
    cold = REFERENCE_C - float(panel_c(batch.hour)[0] + batch.bias_c)
    return Score(
        _ln_error(clamp.likely_min, truth),
        not early and not late,
        working.early_min is None or working.early_min > true_working,
        _ln_error(label_min, truth),
        _ln_error(label_min * 2 ** (cold / 10), truth),
    )


def next_mix(number: int) -> list[Score]:
    """Looks at earlier mixes only, three to a mix; the forecast is made at mixing."""
    rng = np.random.default_rng([2013, number])
    product = draw_product(rng)
    batch = draw_batch(rng, product)
    others = earlier(rng, product, max(COUNTS) // PER_MIX, PER_MIX)
    past, ahead = felt(rng, batch, 0.0), foreseen(batch, 0.0)
    mix = Mix(mixed_at(batch))
    return [
        score(
            batch,
            product,
            forecast(product.sheet, mix, past, ahead, (), first_looks(others, count)),
        )
        for count in COUNTS
    ]


def asked(number: int) -> list[Score]:
    """One look at each earlier mix, about when its clamps were likely to come off; the forecast
    is made at mixing."""
    rng = np.random.default_rng([2016, number])
    product = draw_product(rng)
    batch = draw_batch(rng, product)
    others: list[PastStep] = []
    while len(others) < max(COUNTS):
        others.append(asked_step(rng, product, draw_batch(rng, product), others))
    past, ahead = felt(rng, batch, 0.0), foreseen(batch, 0.0)
    mix = Mix(mixed_at(batch))
    return [
        score(batch, product, forecast(product.sheet, mix, past, ahead, (), others[:count]))
        for count in COUNTS
    ]


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


def same_mix(number: int) -> list[Score]:
    """Looks at this very mix until its clamps come off; the forecast is made at the last."""
    rng = np.random.default_rng([2014, number])
    product = draw_product(rng)
    batch = draw_batch(rng, product)
    scores = []
    for count in COUNTS:
        seen = looks(rng, batch, count)
        now = seen[-1].after_min if seen else 0.0
        past, ahead = felt(rng, batch, now), foreseen(batch, now)
        found = forecast(product.sheet, Mix(mixed_at(batch)), past, ahead, seen)
        scores.append(score(batch, product, found))
    return scores


def table(title: str, every: list[list[Score]]) -> None:
    """Print one way of looking."""
    print(f"\n{title} ({len(every)} garages); median |ln error| of clamps-off")
    print("witnesses   ours  label alone  halving  inside  working over   target")
    for i, count in enumerate(COUNTS):
        column = [scores[i] for scores in every]
        error, label, halving = (
            float(np.median([getattr(each, key) for each in column]))
            for key in ("error", "label", "halving")
        )
        inside = float(np.mean([each.inside for each in column]))
        over = float(np.mean([each.working_violated for each in column]))
        met = error <= TARGETS[count] and INSIDE[0] <= inside <= INSIDE[1]
        met = met and over <= WORKING_LATE_MOST
        print(
            f"{count:9d} {error:6.1%} {label:12.1%} {halving:8.1%} {inside:7.1%} {over:13.1%} "
            f"{TARGETS[count]:8.0%}  {'met' if met else 'not met'}"
        )


def main() -> None:
    """Print the tables; an argument is the number of garages."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 and sys.argv[1].isdigit() else GARAGES
    ways = {
        "Haphazard looks at earlier mixes, forecast at mixing": next_mix,
        "Asked at each earlier mix's likely clamps-off, forecast at mixing": asked,
        "Haphazard looks at this mix, forecast at the last look": same_mix,
    }
    with ProcessPoolExecutor(WORKERS) as pool:
        for title, way in ways.items():
            table(title, list(pool.map(way, range(count), chunksize=25)))


if __name__ == "__main__":
    main()
