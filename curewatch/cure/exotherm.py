"""A mixed pot heats itself: pot life, peak temperature and the mass that leaves enough minutes.

Notes
-----
    m c dT/dt = m H da/dt - h A(m) (T - T_air)          energy
    da/dt = k f(a) exp(-(Ea/R)(1/T - 1/T_ref)),  f(a) = (0.05 + a)(1 - a)^2

a is the share cured, A(m) the whole surface of a cup as wide as it is high. k alone is fitted: the
sheet's pot mass, mixed and kept at its reference, must gel at the sheet's pot life. No published
series of pot life against mass was found, so every answer carries 30 %; H, c, h, the density and f
are assumed, typical of filled or unfilled resins. The step is Runge and Kutta's fourth-order one,
its length bounded by the share cured and the warming in it.

It is checked against its limits (a drop is isothermal, a great mass warms by H/c), its energy
balance and an independent integrator, not against measured pots. Published once: 500 g of an epoxy
kit reached 49 to 57 C after 12 to 17 min and then rose sharply (NAVEDTRA 14003). An epoxy maker's
page on uncontrolled cure has 100 g reach 204 C (400 F); ours ends at H/c, 188 C from 21 C.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp, log, pi
from typing import TYPE_CHECKING

from curewatch.cure.kinetics import GAS_CONSTANT_KJ
from curewatch.products.chemistries import CHEMISTRIES

if TYPE_CHECKING:
    from curewatch.products.sheet import Sheet

HEAT_J_G = {
    "epoxy-amine": 300.0,
    "methacrylate": 300.0,
    "polyester-peroxide": 120.0,
    "urethane-2k": 150.0,
}
CAPACITY_J_GK = 1.8
DENSITY_G_CM3 = 1.2
LOSS_W_M2K = 10.0
GEL_SHARE = 0.42
SEED = 0.05
USUAL_MASS_G = 100.0
HEAT_FROM_G = 100.0
SPREAD = 0.30
SPREAD_SD = log(1 + SPREAD) / 1.645
MOST_SHARE_STEP, MOST_WARMING_C = 0.004, 0.5
HOT_C = 80.0
LEAST_MASS_G, MOST_MASS_G = 1.0, 5000.0


@dataclass(frozen=True)
class Kettle:
    """One pot: mass_g [g], air_c, start_c and reference_c [C], k_min at the reference [1/min],
    ea_kj [kJ/mol], heat_j_g [J/g], loss_w_m2k [W/(m2 K)]."""

    mass_g: float
    air_c: float
    start_c: float
    reference_c: float
    k_min: float
    ea_kj: float
    heat_j_g: float
    loss_w_m2k: float = LOSS_W_M2K


@dataclass(frozen=True)
class Run:
    """A pot followed in time: gel_min [min], None if not reached; peak_c [C]; times_min [min],
    cured [-], warm_c [C]; lost_j_g: given to the air by the end [J/g]."""

    gel_min: float | None
    peak_c: float
    times_min: tuple[float, ...]
    cured: tuple[float, ...]
    warm_c: tuple[float, ...]
    lost_j_g: float


@dataclass(frozen=True)
class Pot:
    """Pot life of one mass: early, likely, late [min], peak temperature [C], and a warning."""

    mass_g: float
    early_min: float
    likely_min: float
    late_min: float
    peak_c: float
    warnings: tuple[str, ...]


def surface_cm2(mass_g: float) -> float:
    """Whole surface of a cup of that mass, as wide as it is high. [cm2]; mass_g [g]"""
    width_cm: float = (4 * mass_g / (pi * DENSITY_G_CM3)) ** (1 / 3)
    return 1.5 * pi * width_cm**2


def cooling_per_min(mass_g: float, loss_w_m2k: float = LOSS_W_M2K) -> float:
    """h A/(m c). [1/min]; mass_g [g]; loss_w_m2k [W/(m2 K)]"""
    return 60 * loss_w_m2k * surface_cm2(mass_g) * 1e-4 / (mass_g * CAPACITY_J_GK)


def relax_min(mass_g: float | None) -> float:
    """How long a pot stored warm or cold keeps that, as a time constant. [min]; mass_g [g]"""
    return 1 / cooling_per_min(mass_g or USUAL_MASS_G)


def _slopes(kettle: Kettle, cooling: float, cured: float, warm_c: float) -> tuple[float, float]:
    inverse = 1 / (warm_c + 273.15) - 1 / (kettle.reference_c + 273.15)
    left = max(0.0, 1 - cured)
    rate = kettle.k_min * (SEED + cured) * left * left
    rate *= exp(-kettle.ea_kj / GAS_CONSTANT_KJ * inverse)
    warming = kettle.heat_j_g / CAPACITY_J_GK * rate - cooling * (warm_c - kettle.air_c)
    return rate, warming


def _step(
    kettle: Kettle, cooling: float, cured: float, warm_c: float, most_min: float
) -> tuple[float, float, float]:
    a1, w1 = _slopes(kettle, cooling, cured, warm_c)
    dt = min(most_min, MOST_SHARE_STEP / max(a1, 1e-12), MOST_WARMING_C / max(abs(w1), 1e-12))
    a2, w2 = _slopes(kettle, cooling, cured + dt / 2 * a1, warm_c + dt / 2 * w1)
    a3, w3 = _slopes(kettle, cooling, cured + dt / 2 * a2, warm_c + dt / 2 * w2)
    a4, w4 = _slopes(kettle, cooling, cured + dt * a3, warm_c + dt * w3)
    return (
        dt,
        cured + dt / 6 * (a1 + 2 * a2 + 2 * a3 + a4),
        warm_c + dt / 6 * (w1 + 2 * w2 + 2 * w3 + w4),
    )


def follow(kettle: Kettle, until_min: float, *, stop_at_gel: bool = False) -> Run:
    """Follow a pot from mixing for until_min [min], or to the gel."""
    cooling = cooling_per_min(kettle.mass_g, kettle.loss_w_m2k)
    times, cured, warm = [0.0], [0.0], [kettle.start_c]
    gel: float | None = None
    excess = 0.0
    while times[-1] < until_min and cured[-1] < 0.995:
        most = min(until_min / 50, until_min - times[-1] + 1e-9, 0.2 / max(cooling, 1e-9))
        dt, share, warm_c = _step(kettle, cooling, cured[-1], warm[-1], most)
        excess += dt * ((warm_c + warm[-1]) / 2 - kettle.air_c)
        if gel is None and share >= GEL_SHARE:
            part = (GEL_SHARE - cured[-1]) / (share - cured[-1])
            gel = times[-1] + part * dt
        times.append(times[-1] + dt)
        cured.append(share)
        warm.append(warm_c)
        if gel is not None and stop_at_gel:
            break
    lost = CAPACITY_J_GK * cooling * excess
    return Run(gel, max(warm), tuple(times), tuple(cured), tuple(warm), lost)


def isothermal_gel(k_min: float) -> float:
    """Time to the gel of a drop kept at its reference. [min]; k_min [1/min]"""
    a, s = GEL_SHARE, SEED
    whole = 1 / (1 + s)
    # partial fractions of 1/((s + a)(1 - a)^2)
    area = whole**2 * log((s + a) / s) - whole**2 * log(1 - a) + whole * (1 / (1 - a) - 1)
    return area / k_min


def _kettle(sheet: Sheet, mass_g: float, air_c: float, start_c: float, k_min: float) -> Kettle:
    return Kettle(
        mass_g,
        air_c,
        start_c,
        sheet.reference.temperature_c,
        k_min,
        CHEMISTRIES[sheet.chemistry].ea_kj,
        HEAT_J_G.get(sheet.chemistry, 0.0),
    )


@lru_cache(maxsize=64)
def _fit(label: Kettle, life_min: float) -> float:
    """The rate constant at which the label's own pot gels at the label's pot life. [1/min]"""
    low, high = log(isothermal_gel(1.0) / life_min) - 4.0, log(isothermal_gel(1.0) / life_min) + 0.1
    for _ in range(40):
        middle = (low + high) / 2
        run = follow(replace(label, k_min=exp(middle)), 1.02 * life_min, stop_at_gel=True)
        if run.gel_min is None or run.gel_min > life_min:
            low = middle
        else:
            high = middle
        if high - low < 1e-5:
            break
    return exp((low + high) / 2)


def rate(sheet: Sheet) -> float | None:
    """The sheet's rate constant, None where it gives neither pot life nor working time. [1/min]

    Where there is no pot life, the working time is taken as that of the usual mass in a pot.
    """
    row = sheet.reference
    life = row.minutes.get("pot_life")
    if life is None and sheet.chemistry in HEAT_J_G:
        life = row.minutes.get("working_time")
    if life is None:
        return None
    label = _kettle(
        sheet, row.pot_mass_g or USUAL_MASS_G, row.temperature_c, row.temperature_c, 1.0
    )
    return _fit(label, life)


@lru_cache(maxsize=512)
def _life(kettle: Kettle) -> float:
    slow = exp(
        kettle.ea_kj
        / GAS_CONSTANT_KJ
        * (1 / (min(kettle.air_c, kettle.start_c) + 273.15) - 1 / (kettle.reference_c + 273.15))
    )
    limit = 1.05 * isothermal_gel(kettle.k_min) * max(slow, 1.0)
    run = follow(kettle, limit, stop_at_gel=True)
    return run.gel_min if run.gel_min is not None else limit


def life_min(
    sheet: Sheet, mass_g: float, air_c: float, product_c: float | None = None
) -> float | None:
    """Pot life of a mass at an air temperature. [min]; mass_g [g]; air_c, product_c [C]"""
    k_min = rate(sheet)
    if k_min is None:
        return None
    start = air_c if product_c is None else product_c
    return _life(_kettle(sheet, mass_g, air_c, start, k_min))


def amount_factor(sheet: Sheet, mass_g: float | None, air_c: float) -> float:
    """Pot life of this mass over that of the sheet's own, at one temperature. [-]

    mass_g [g], air_c [C].
    """
    if mass_g is None:
        return 1.0
    usual = sheet.reference.pot_mass_g or USUAL_MASS_G
    if mass_g == usual or HEAT_J_G.get(sheet.chemistry, 0.0) == 0.0:
        return 1.0
    mass = min(max(mass_g, LEAST_MASS_G), MOST_MASS_G)
    mine, label = (
        life_min(sheet, mass, round(air_c), None),
        life_min(sheet, usual, round(air_c), None),
    )
    return 1.0 if mine is None or label is None else mine / label


def _warnings(sheet: Sheet, mass_g: float, peak_c: float) -> tuple[str, ...]:
    warnings = ["pot life against mass is reckoned, not published: take it as +-30 %"]
    if sheet.reference.pot_mass_g is None:
        warnings.append(f"the label names no pot mass: {USUAL_MASS_G:g} g taken, common practice")
    if mass_g >= HEAT_FROM_G or peak_c > HOT_C:
        warnings.append(
            f"{mass_g:g} g in one cup heats itself, to about {peak_c:.0f} C: "
            "spread it thin or mix less at a time"
        )
    return tuple(warnings)


def predict(
    sheet: Sheet, mass_g: float, air_c: float, product_c: float | None = None
) -> Pot | None:
    """Pot life and peak temperature of a mass; None where the sheet gives no pot life.

    mass_g [g]; air_c: around the pot [C]; product_c: stored at, the air's if None [C].
    """
    k_min = rate(sheet)
    if k_min is None:
        return None
    start = air_c if product_c is None else product_c
    kettle = _kettle(sheet, mass_g, air_c, start, k_min)
    gel = _life(kettle)
    peak = follow(kettle, 6 * gel).peak_c
    return Pot(
        mass_g,
        gel / (1 + SPREAD),
        gel,
        gel * (1 + SPREAD),
        peak,
        _warnings(sheet, mass_g, peak),
    )


def largest_mass(
    sheet: Sheet, wanted_min: float, air_c: float, product_c: float | None = None
) -> float | None:
    """Largest mass that still leaves the wanted minutes by the early bound. [g]

    wanted_min [min]; air_c, product_c [C]. None where not even 1 g does, or no pot life is given.
    """
    needed = wanted_min * (1 + SPREAD)

    def enough(mass_g: float) -> bool:
        life = life_min(sheet, mass_g, air_c, product_c)
        return life is not None and life >= needed

    return _largest(enough)


def coolest_mass(
    sheet: Sheet, limit_c: float, air_c: float, product_c: float | None = None
) -> float | None:
    """Largest mass that does not get hotter than that. [g]

    limit_c, air_c, product_c [C]. None where even 1 g does, or no time is given.
    """

    def enough(mass_g: float) -> bool:
        found = predict(sheet, mass_g, air_c, product_c)
        return found is not None and found.peak_c <= limit_c

    return _largest(enough)


def _largest(enough: Callable[[float], bool]) -> float | None:
    """The largest mass that is still good enough, where less never is worse. [g]"""
    if not enough(LEAST_MASS_G):
        return None
    low, high = LEAST_MASS_G, MOST_MASS_G
    if enough(high):
        return high
    while high / low > 1.005:
        middle = (low * high) ** 0.5
        low, high = (middle, high) if enough(middle) else (low, middle)
    return low
