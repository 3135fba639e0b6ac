"""Pot life of a mass, how hot it gets, and the mass that leaves enough minutes.

The rate constant is fitted so that the label's own pot gels at the label's pot life. How much
sooner a larger pot gels rests on two published figures of one epoxy and is assumed for the other
families, so every answer carries 30 %.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from math import exp, log
from typing import TYPE_CHECKING

from curewatch.climate.psychrometrics import GAS_CONSTANT_KJ
from curewatch.cure.exotherm import (
    STILL_AIR,
    TIMING,
    Pot,
    PotLaw,
    cooling_per_min,
    follow,
    isothermal_gel,
)
from curewatch.frozen import frozen
from curewatch.notice import Measure, Notice, notice
from curewatch.products.chemistries import CHEMISTRIES

if TYPE_CHECKING:
    from curewatch.products.sheet import Sheet

HEAT_J_G = {
    "epoxy-amine": 300.0,
    "methacrylate": 300.0,
    "polyester-peroxide": 120.0,
    "urethane-2k": 150.0,
}
USUAL_MASS_G = 100.0
HEAT_FROM_G = 100.0
SPREAD = 0.30
SPREAD_SD = log(1 + SPREAD) / 1.645
HOT_C = 80.0
LEAST_MASS_G, MOST_MASS_G = 1.0, 5000.0


@frozen
class PotLife:
    """Pot life of one mass: early, likely, late [min], peak temperature [C], and warnings."""

    mass_g: float
    early_min: float
    likely_min: float
    late_min: float
    peak_c: float
    warnings: tuple[Notice, ...]


def relax_min(mass_g: float | None) -> float:
    """How long a pot stored warm or cold keeps that.

    Parameters
    ----------
    mass_g : float | None
        Mass in the pot, the usual one if None [g].

    Returns
    -------
    float
        Time constant [min].
    """
    return 1 / cooling_per_min(mass_g or USUAL_MASS_G)


def _pot(
    sheet: Sheet, mass_g: float, air_c: float, start_c: float, k_min: float, law: PotLaw
) -> Pot:
    return Pot(
        mass_g,
        air_c,
        start_c,
        sheet.reference.temperature_c,
        k_min,
        CHEMISTRIES[sheet.chemistry].ea_kj,
        HEAT_J_G.get(sheet.chemistry, 0.0),
        law,
    )


@lru_cache(maxsize=64)
def _fit(label: Pot, life_min: float) -> float:
    """The rate constant at which the label's own pot gels at the label's pot life. [1/min]"""
    isothermal = log(isothermal_gel(1.0, label.law.seed) / life_min)
    low, high = isothermal - 4.0, isothermal + 0.1
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


def rate(sheet: Sheet, law: PotLaw = TIMING) -> float | None:
    """The sheet's rate constant by one of the laws.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    law : PotLaw, optional
        Of timing or of heat.

    Returns
    -------
    float | None
        At the reference [1/min]; None where it gives neither pot life nor working time.

    Notes
    -----
    Where there is no pot life, the working time is taken as that of the usual mass in a pot.
    """
    row = sheet.reference
    life = row.minutes.get("pot_life")
    if life is None and sheet.chemistry in HEAT_J_G:
        life = row.minutes.get("working_time")
    if life is None:
        return None
    mass_g, reference_c = row.pot_mass_g or USUAL_MASS_G, row.temperature_c
    return _fit(_pot(sheet, mass_g, reference_c, reference_c, 1.0, law), life)


@lru_cache(maxsize=512)
def _life(pot: Pot) -> float:
    slow = _slower(pot, min(pot.air_c, pot.start_c))
    limit = 1.05 * isothermal_gel(pot.k_min, pot.law.seed) * max(slow, 1.0)
    run = follow(pot, limit, stop_at_gel=True)
    return run.gel_min if run.gel_min is not None else limit


def life_min(
    sheet: Sheet, mass_g: float, air_c: float, product_c: float | None = None
) -> float | None:
    """Pot life of a mass at an air temperature.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    mass_g : float
        Mass in one pot [g].
    air_c : float
        Around the pot [C].
    product_c : float | None, optional
        The temperature it was stored at, the air's if None [C].

    Returns
    -------
    float | None
        Pot life [min], None where the sheet gives none.

    Notes
    -----
    A pot life twice as long for 10 K less is published for epoxy and urethane (UFGS 09971), which
    is Arrhenius' law: how much sooner a larger pot gels is taken as at the label's temperature. How
    long a pot keeps the warmth of its storage goes by still air, not by the fitted loss.
    """
    k_min = rate(sheet)
    if k_min is None:
        return None
    reference_c = sheet.reference.temperature_c
    timed = _pot(sheet, mass_g, reference_c, reference_c, k_min, TIMING)
    gel_min = _life(timed) * _slower(timed, air_c)
    if product_c is None or product_c == air_c:
        return gel_min
    warm, even = (_still(sheet, mass_g, air_c, start_c) for start_c in (product_c, air_c))
    return gel_min * _life(warm) / _life(even)


def _slower(pot: Pot, air_c: float) -> float:
    """How many times longer than at the pot's reference, by Arrhenius. [-]; air_c [C]"""
    inverse = 1 / (air_c + 273.15) - 1 / (pot.reference_c + 273.15)
    return exp(pot.ea_kj / GAS_CONSTANT_KJ * inverse)


def _still(sheet: Sheet, mass_g: float, air_c: float, start_c: float) -> Pot:
    """A pot in still air, as it keeps its warmth: how hot it gets, not when it gels."""
    k_min = rate(sheet, STILL_AIR)
    assert k_min is not None
    return _pot(sheet, mass_g, air_c, start_c, k_min, STILL_AIR)


def amount_factor(sheet: Sheet, mass_g: float | None) -> float:
    """Pot life of this mass over that of the sheet's own.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    mass_g : float | None
        Mass in the pot, the sheet's if None [g].

    Returns
    -------
    float
        Factor [-].
    """
    if mass_g is None:
        return 1.0
    usual = sheet.reference.pot_mass_g or USUAL_MASS_G
    if mass_g == usual or HEAT_J_G.get(sheet.chemistry, 0.0) == 0.0:
        return 1.0
    mass = min(max(mass_g, LEAST_MASS_G), MOST_MASS_G)
    reference_c = sheet.reference.temperature_c
    mine, label = (life_min(sheet, grams, reference_c) for grams in (mass, usual))
    return 1.0 if mine is None or label is None else mine / label


def _warnings(sheet: Sheet, mass_g: float, peak_c: float) -> tuple[Notice, ...]:
    warnings = [notice("pot-life-reckoned")]
    if sheet.reference.pot_mass_g is None:
        warnings.append(notice("no-pot-mass", mass=Measure(USUAL_MASS_G, "g")))
    if mass_g >= HEAT_FROM_G or peak_c > HOT_C:
        mass, peak = Measure(mass_g, "g"), Measure(peak_c, "C")
        warnings.append(notice("pot-heats", mass=mass, peak=peak))
    return tuple(warnings)


def predict(
    sheet: Sheet, mass_g: float, air_c: float, product_c: float | None = None
) -> PotLife | None:
    """Pot life and peak temperature of a mass.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    mass_g : float
        Mass in one pot [g].
    air_c : float
        Around the pot [C].
    product_c : float | None, optional
        The temperature it was stored at, the air's if None [C].

    Returns
    -------
    PotLife | None
        Early, likely, late [min] and peak [C]; None where the sheet gives no pot life.
    """
    gel = life_min(sheet, mass_g, air_c, product_c)
    if gel is None:
        return None
    still = _still(sheet, mass_g, air_c, air_c if product_c is None else product_c)
    peak = follow(still, 6 * _life(still)).peak_c
    return PotLife(
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
    """Largest mass that still leaves the wanted minutes by the early bound.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    wanted_min : float
        Minutes to work [min].
    air_c : float
        Around the pot [C].
    product_c : float | None, optional
        The temperature it was stored at, the air's if None [C].

    Returns
    -------
    float | None
        Mass [g]; None where not even 1 g does, or no pot life is given.
    """
    needed = wanted_min * (1 + SPREAD)

    def enough(mass_g: float) -> bool:
        life = life_min(sheet, mass_g, air_c, product_c)
        return life is not None and life >= needed

    return _largest(enough)


def coolest_mass(
    sheet: Sheet, limit_c: float, air_c: float, product_c: float | None = None
) -> float | None:
    """Largest mass that does not get hotter than a limit.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    limit_c : float
        The limit [C].
    air_c : float
        Around the pot [C].
    product_c : float | None, optional
        The temperature it was stored at, the air's if None [C].

    Returns
    -------
    float | None
        Mass [g]; None where even 1 g does, or no time is given.
    """

    def enough(mass_g: float) -> bool:
        life = predict(sheet, mass_g, air_c, product_c)
        return life is not None and life.peak_c <= limit_c

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
