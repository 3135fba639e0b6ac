"""Virtual garages: true products in real weather, cheap sensors, a person who looks.

Two worlds: `MILD` has the scatter that the belief assumed at first, labels that are the truth and
a person who never slips. `HARSH` has more of each, and labels as makers print them; how much more
is assumed. Neither follows the belief's spreads, so that a change there is tried against the same
worlds; energies and the steeper law in the cold are drawn from the model's own prior.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from curewatch.climate.conditions import Conditions, resampled
from curewatch.climate.outlook import Outlook, outlook
from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import Reading
from curewatch.cure import equivalent_age
from curewatch.cure.belief import PastStep
from curewatch.cure.inputs import Mix, Sighting, turned_between
from curewatch.cure.kinetics import inverse_below_glass, speed_arrhenius
from curewatch.cure.prior import OWN_EA_SHARE, STEEP_WEIGHTS, levels, steep_part
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.sheet import Sheet, parse_sheet
from curewatch.vocabulary import TURNS
from tests.support.weather import hourly, year

FAMILIES = ("epoxy-amine", "urethane-2k", "polyester-peroxide", "methacrylate")
CLAMP_MIN = (40.0, 90.0, 240.0, 480.0)
MINIMUM_C, REFERENCE_C = 5.0, 21.0
NOISE_C, BIAS_C, QUANTUM_C, EVERY_MIN = 0.2, 0.3, 0.1, 5
HISTORY_H, AHEAD_H, LOOK_H = 336, 96, 30
SLIPS = ("workable", "stringy", "hard", "sands")
ROUND_TO_MIN = ((30.0, 1.0), (120.0, 5.0), (360.0, 15.0), (math.inf, 60.0))
MILESTONES = {"working_time": 0.25, "clamp_time": 1.0, "sand_ready": 1.5}


@dataclass(frozen=True)
class World:
    """How much of what scatters, as sd of ln [-]: product about its label, batch about its product,
    milestone about its batch, a look; slips: share of looks answered at random [-]; careful: by how
    much longer a label's times are than the product's, which is careful for clamps and careless for
    working time [-]; rounded: whether it then prints round figures."""

    name: str
    product_sd: float
    batch_sd: float
    milestone_sd: float
    look_sd: float
    slips: float = 0.0
    careful: float = 0.0
    rounded: bool = False


MILD = World("mild", 0.15, 0.08, 0.08, 0.08)
HARSH = World("harsh", 0.18, 0.10, 0.10, 0.12, slips=0.03, careful=0.12, rounded=True)
WORLDS = {world.name: world for world in (MILD, HARSH)}


@dataclass(frozen=True, eq=False)
class Product:
    """A product as it truly is: sheet (its label), energies by milestone, how much more of it
    below the glass [kJ/mol], ln slowness [-] and the times that its label should give [min]."""

    world: World
    sheet: Sheet
    energies_kj: dict[str, float]
    steep_kj: float
    ln_slow: float
    true_min: dict[str, float]

    def speed(self, milestone: str, panel_c: FloatArray) -> FloatArray:
        """True speed towards a milestone. [-]; panel_c [C]"""
        part = steep_part(CHEMISTRIES[self.sheet.chemistry], milestone)
        slowing = np.exp(-part * self.steep_kj * inverse_below_glass(panel_c, REFERENCE_C))
        speed = speed_arrhenius(panel_c, REFERENCE_C, self.energies_kj[milestone])
        true: FloatArray = speed * slowing * (panel_c >= MINIMUM_C)
        return true


@dataclass(frozen=True, eq=False)
class Batch:
    """One mix as it truly goes: hour of the year it starts at, minutes and, by milestone, true
    ages and the true age at which each milestone is reached [min], and the sensor's offset [K]."""

    hour: int
    minutes: FloatArray
    ages_min: dict[str, FloatArray]
    needs: dict[str, float]
    bias_c: float
    world: World

    def truth(self, name: str) -> float | None:
        """When a milestone is truly reached. [min]"""
        return equivalent_age.reached(self.minutes, self.ages_min[name], self.needs[name])


def printed_min(world: World, true_min: float) -> float:
    """What a label prints for a milestone of this length. [min]"""
    value = true_min * math.exp(world.careful)
    if not world.rounded:
        return value
    step = next(step for below, step in ROUND_TO_MIN if value < below)
    return step * round(value / step)


def label(family: str, minutes: Mapping[str, float]) -> Sheet:
    """A label with three milestones at 21 C. minutes: by milestone [min]"""
    times = "\n".join(f'{name} = "{value:g} min"' for name, value in minutes.items())
    return parse_sheet(
        f'name = "virtual"\nkind = "adhesive"\nchemistry = "{family}"\n[[times]]\n'
        f'temperature = "{REFERENCE_C} C"\n{times}\n'
        f'[limits]\ntemperature = ["{MINIMUM_C} C", "38 C"]\n',
        "virtual",
    )


def draw_product(rng: np.random.Generator, world: World) -> Product:
    """A product drawn from a world's scatter and its chemistry's energies."""
    family = CHEMISTRIES[FAMILIES[rng.integers(len(FAMILIES))]]
    clamp_min = CLAMP_MIN[rng.integers(len(CLAMP_MIN))]
    true = {name: share * clamp_min for name, share in MILESTONES.items()}
    sheet = label(family.name, {name: printed_min(world, value) for name, value in true.items()})
    sd_kj = family.ea_sd_kj
    shared = rng.normal(family.ea_kj, sd_kj * math.sqrt(1 - OWN_EA_SHARE**2))
    energies = {name: max(5.0, rng.normal(shared, OWN_EA_SHARE * sd_kj)) for name in MILESTONES}
    values = levels(family)
    chances = STEEP_WEIGHTS[: values.size] / STEEP_WEIGHTS[: values.size].sum()
    steep = float(rng.choice(values, p=chances))
    return Product(world, sheet, energies, steep, rng.normal(0.0, world.product_sd), true)


def draw_batch(rng: np.random.Generator, product: Product) -> Batch:
    """A mix at some hour of the year in a garage not too cold to start."""
    weather = year()
    while True:
        hour = int(rng.integers(HISTORY_H, weather.garage_c.size - AHEAD_H))
        if not MINIMUM_C + 2 <= weather.garage_c[hour] <= 35.0:
            continue
        minutes = np.arange(60.0 * AHEAD_H + 1)
        panel = np.interp(minutes / 60, np.arange(AHEAD_H + 1), panel_c(hour))
        ages = {
            name: equivalent_age.cumulative(minutes, product.speed(name, panel))
            for name in MILESTONES
        }
        ln_batch = product.ln_slow + rng.normal(0.0, product.world.batch_sd)
        needs = {
            name: minutes_ * math.exp(ln_batch + rng.normal(0.0, product.world.milestone_sd))
            for name, minutes_ in product.true_min.items()
        }
        batch = Batch(hour, minutes, ages, needs, rng.normal(0.0, BIAS_C), product.world)
        if batch.truth("clamp_time") is not None:
            return batch


def panel_c(hour: int) -> FloatArray:
    """True panel temperature by the hour from a start. [C], shape (AHEAD_H + 1,)"""
    return year().garage_c[hour : hour + AHEAD_H + 1]


def mixed_at(batch: Batch) -> datetime:
    """The instant of mixing."""
    return year().start + timedelta(hours=batch.hour)


def sensed(rng: np.random.Generator, batch: Batch, until_min: float) -> list[Reading]:
    """What a cheap sensor reported of the step so far, every five minutes. until_min [min]"""
    minutes = np.arange(0.0, until_min + 1e-9, EVERY_MIN)
    true = np.interp(minutes / 60, np.arange(AHEAD_H + 1), panel_c(batch.hour))
    values = true + batch.bias_c + rng.normal(0.0, NOISE_C, minutes.size)
    rounded = np.round(values / QUANTUM_C) * QUANTUM_C
    start = mixed_at(batch)
    return [
        Reading("panel", "surface_temperature", float(c), start + timedelta(minutes=float(m)))
        for m, c in zip(minutes, rounded, strict=True)
    ]


def felt(rng: np.random.Generator, batch: Batch, until_min: float) -> Conditions:
    """Conditions of a batch as curewatch knows them. until_min [min]"""
    start = mixed_at(batch)
    end = start + timedelta(minutes=until_min)
    return resampled(sensed(rng, batch, until_min), start, end, assumed_c=REFERENCE_C)


def foreseen(batch: Batch, now_min: float, hours: float = 48.0) -> Outlook:
    """The outlook after now_min [min] over some hours, from two weeks of hourly readings with its
    offset. hours [h]"""
    weather = year()
    last = batch.hour + math.floor(now_min / 60)
    readings = hourly(
        weather.garage_c + batch.bias_c,
        last - HISTORY_H,
        last,
        weather.start,
        "panel",
        "surface_temperature",
    )
    now = mixed_at(batch) + timedelta(minutes=now_min)
    return outlook(readings, now, assumed_c=REFERENCE_C, hours=hours, old_after_min=90.0)


def state_of(rng: np.random.Generator, batch: Batch, minute: float) -> str:
    """What a person says the dab does. minute [min]"""
    if rng.random() < batch.world.slips:
        return SLIPS[rng.integers(len(SLIPS))]
    noise = rng.normal(0.0, batch.world.look_sd, 3)
    working, clamp, sand = (
        math.log(max(float(equivalent_age.at(batch.minutes, ages, minute)), 1e-6)) + n
        >= math.log(batch.needs[name])
        for n, (name, ages) in zip(noise, batch.ages_min.items(), strict=True)
    )
    if sand and clamp and working:
        return "sands"
    if clamp and working:
        return "hard"
    return "stringy" if working else "workable"


def turn(rng: np.random.Generator, batch: Batch, name: str) -> Sighting | None:
    """A turn as a person saw it who looks within ten minutes of it: "just now", "5 min ago" or
    "10 min ago"; a slip has it anywhere. None where it never comes."""
    need = batch.needs[name] * math.exp(rng.normal(0.0, batch.world.look_sd))
    seen = equivalent_age.reached(batch.minutes, batch.ages_min[name], need)
    if seen is None or seen > 60.0 * LOOK_H:
        return None
    if rng.random() < batch.world.slips:
        seen = rng.uniform(0.0, 2 * seen)
    ago = rng.uniform(0.0, 10.0)
    value = min((0.0, 5.0, 10.0), key=lambda chip: abs(chip - ago))
    state = next(state for state, turns in TURNS.items() if turns == name)
    return Sighting(1, seen + ago, state, turned=turned_between(seen + ago, value))


def looks(
    rng: np.random.Generator, batch: Batch, count: int, until: str = "clamp_time"
) -> list[Sighting]:
    """Looks at haphazard moments, even over the time until a milestone is truly reached."""
    last = min(batch.truth(until) or batch.minutes[-1], 60.0 * LOOK_H)
    times = np.sort(rng.uniform(0.0, last, count))
    return [Sighting(i, float(t), state_of(rng, batch, float(t))) for i, t in enumerate(times)]


def earlier(rng: np.random.Generator, product: Product, mixes: int, each: int) -> list[PastStep]:
    """Earlier mixes of a product with `each` looks at every one, until it could be sanded."""
    steps = []
    for number in range(mixes):
        batch = draw_batch(rng, product)
        seen = looks(rng, batch, each, "sand_ready")
        past = felt(rng, batch, max(s.after_min for s in seen))
        steps.append(PastStep(number, Mix(mixed_at(batch)), past, tuple(seen)))
    return steps


def first_looks(steps: Sequence[PastStep], count: int) -> list[PastStep]:
    """The same mixes with only the first `count` looks in all."""
    kept = []
    for step in steps:
        few = step.sightings[: max(0, count)]
        count -= len(few)
        if few:
            kept.append(replace(step, sightings=few))
    return kept
