"""How near anybody could come: a reader who knows a world's scatter and its weather exactly.

Nothing of the belief is used, only the virtual world. For each mix a few hundred products that its
label could stand for are drawn, with earlier mixes of each. What is seen of them is seen without
error, or with the world's, and the best guess is fitted to the draws themselves. What it still
misses is left to anyone by the scatter of products, batches and milestones.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from curewatch.climate.psychrometrics import GAS_CONSTANT_KJ, KELVIN, FloatArray
from curewatch.cure.kinetics import inverse_below_glass
from curewatch.cure.prior import OWN_EA_SHARE, STEEP_WEIGHTS, levels, steep_part
from curewatch.products.chemistries import CHEMISTRIES, Chemistry
from tests.support.virtual_garages import (
    AHEAD_H,
    MILESTONES,
    MINIMUM_C,
    REFERENCE_C,
    Batch,
    Product,
    World,
    draw_batch,
    draw_product,
    panel_c,
)

DRAWS, EVERY_MIN, MIXES = 300, 10.0, 3


@dataclass(frozen=True, eq=False)
class Products:
    """Products that a label could stand for: energies by milestone and of the steeper law [kJ/mol],
    ln slowness [-], each of shape (draws,)."""

    energies_kj: Mapping[str, FloatArray]
    steep_kj: FloatArray
    ln_slow: FloatArray


def products(rng: np.random.Generator, family: Chemistry, world: World) -> Products:
    """Drawn as a virtual garage draws its one."""
    sd_kj = family.ea_sd_kj
    shared = rng.normal(family.ea_kj, sd_kj * math.sqrt(1 - OWN_EA_SHARE**2), DRAWS)
    energies = {
        name: np.maximum(5.0, rng.normal(shared, OWN_EA_SHARE * sd_kj)) for name in MILESTONES
    }
    values = levels(family)
    chances = STEEP_WEIGHTS[: values.size] / STEEP_WEIGHTS[: values.size].sum()
    steep = rng.choice(values, DRAWS, p=chances)
    return Products(energies, steep, rng.normal(0.0, world.product_sd, DRAWS))


def ln_times(
    rng: np.random.Generator, product: Product, drawn: Products, batch: Batch
) -> dict[str, FloatArray]:
    """ln of when each drawn product reaches each milestone, mixed where this batch was.
    [ln min], shape (draws,)"""
    world, family = product.world, CHEMISTRIES[product.sheet.chemistry]
    minutes = np.arange(0.0, 60.0 * AHEAD_H + 1, EVERY_MIN)
    panel = np.interp(minutes / 60, np.arange(AHEAD_H + 1), panel_c(batch.hour))
    inverse = (1 / (panel + KELVIN) - 1 / (REFERENCE_C + KELVIN)) / GAS_CONSTANT_KJ
    below = inverse_below_glass(panel, REFERENCE_C)
    ln_batch = drawn.ln_slow + rng.normal(0.0, world.batch_sd, DRAWS)
    times = {}
    for name, true_min in product.true_min.items():
        steep = steep_part(family, name) * drawn.steep_kj
        speed = np.exp(-drawn.energies_kj[name][:, None] * inverse - steep[:, None] * below)
        speed *= panel >= MINIMUM_C
        ages = np.zeros(speed.shape)
        np.cumsum((speed[:, 1:] + speed[:, :-1]) * (EVERY_MIN / 2), axis=1, out=ages[:, 1:])
        needs = true_min * np.exp(ln_batch + rng.normal(0.0, world.milestone_sd, DRAWS))
        reached = [np.interp(need, age, minutes) for need, age in zip(needs, ages, strict=True)]
        times[name] = np.log(np.maximum(reached, 1e-3))
    return times


def left_by(seen: FloatArray, truth: FloatArray) -> FloatArray:
    """What the best guess from what was seen still misses. [-]; seen: shape (draws, what)

    The guess is linear and quadratic in what was seen, fitted to the draws themselves."""
    centred = seen - seen.mean(axis=0)
    columns = np.column_stack([np.ones(truth.size), centred, centred**2])
    guess = columns @ np.linalg.lstsq(columns, truth, rcond=None)[0]
    rest: FloatArray = np.abs(truth - guess)
    return rest


def left_by_answer(seen: FloatArray, truth: FloatArray, noise: FloatArray) -> FloatArray:
    """The same from one answer, "reached" or not, at the middle of what could be seen. [-]"""
    reached = seen + noise <= np.median(seen)
    groups = np.where(reached, np.median(truth[reached]), np.median(truth[~reached]))
    rest: FloatArray = np.abs(truth - groups)
    return rest


def best(world: World, number: int) -> dict[str, FloatArray]:
    """What is left to the best reader in one garage, by what was seen. [-], shape (draws,)"""
    rng = np.random.default_rng([2019, number])
    product = draw_product(rng, world)
    drawn = products(rng, CHEMISTRIES[product.sheet.chemistry], world)
    now, *before = (
        ln_times(rng, product, drawn, draw_batch(rng, product)) for _ in range(MIXES + 1)
    )
    truth, work = now["clamp_time"], now["working_time"]
    exact, noise = np.zeros(DRAWS), rng.normal(0.0, world.look_sd, DRAWS)
    left = {"nothing but the label": np.abs(truth - np.median(truth))}
    for words, error in (("without error", exact), ("with the world's error", noise)):
        left[f"one look at the end of work, {words}"] = left_by_answer(work, truth, error)
        left[f"its turn, {words}"] = left_by((work + error)[:, None], truth)
        left[f"one look at clamps off, {words}"] = left_by_answer(truth, truth, error)
        for name, turn in (("the end of work", "working_time"), ("clamps off", "clamp_time")):
            errors = rng.normal(0.0, world.look_sd, (DRAWS, MIXES)) if error is noise else 0.0
            turns = np.column_stack([mix[turn] for mix in before]) + errors
            left[f"turns of {name} on {MIXES} earlier mixes, {words}"] = left_by(turns, truth)
    return left
