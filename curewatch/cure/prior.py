"""What is held of a product before any look: energies, the steeper law in the cold, label rows.

Notes
-----
Each milestone has an activation energy of its own about a mean that all of a product share:

    Ea ~ N(mean, sd'),  Ea_m ~ N(Ea, 0.7 sd),  sd'^2 + (0.7 sd)^2 = sd^2

so that one row says of every milestone what it always said, and a second row of one milestone
informs the others only as far as their energies go together. The 0.7 is assumed: pot life, drying
and curing of published charts differ by 5 to 25 kJ/mol.

Past the gel an epoxy or a urethane hardens by its glass transition rising, and what is hard at room
temperature has it at about room temperature. A colder resin turns to glass before it gets there,
and the rest goes by diffusion: below T_glass = 20 C the speed falls more steeply, by
exp(-D (1/T - 1/T_glass)/R). The time to gel keeps to Arrhenius' law, the time to turn to glass
passes through a minimum, and a resin that is cold enough turns to glass before it gels [1]_; an
epoxy adhesive at 5 to 10 C is much slowed by vitrification and diffusion [2]_, and its strength
comes only after vitrification [3]_. How steeply depends on the product and no label says it, so D
is carried on four levels. Levels, weights and 20 C are assumed.

References
----------
.. [1] Isothermal transitions of a thermosetting system (abstract read).
.. [2] Effects of low-temperature curing on physical behavior of cold-curing epoxy adhesives in
   bridge construction (abstract read).
.. [3] Moussa, Vassilopoulos, Keller: Int. J. Adhes. Adhes. 35 (2012) 9 (abstract read).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.equivalent_age import Steeper
from curewatch.cure.grid import X
from curewatch.cure.kinetics import GLASS_C, inverse_below_glass
from curewatch.cure.thermal_history import (
    ThermalHistory,
    first_stage_share,
    reference_pct,
    speed_over,
    stalls,
)
from curewatch.products import label
from curewatch.products.chemistries import CHEMISTRIES, Chemistry

if TYPE_CHECKING:
    from curewatch.products.sheet import Sheet, TimesRow

PRODUCT_SD, LABEL_SD = 0.17, 0.10
EA_COUNT, EA_REACH_SD, EA_LEAST = 21, 3.5, 2.0
OWN_EA_SHARE = 0.7

STEEP_KJ = np.array([0.0, 30.0, 60.0, 90.0])
STEEP_WEIGHTS = np.array([0.60, 0.15, 0.15, 0.10])
EARLY_STEEP_WEIGHTS = np.array([0.90, 0.04, 0.03, 0.03])
"""By these the early bound is asked, which is not to move for a slowness that may not be. [-]"""
STEEP_PART: Mapping[str, float] = {"clamp_time": 0.4, "sand_ready": 1.0, "full_cure": 1.0}
"""How much of D a milestone feels. Handling strength comes before it is all glass: of a published
urethane, 29 kJ/mol to 1 N/mm2 against 72 to 10 N/mm2. [-]"""


def energies(family: Chemistry) -> FloatArray:
    """The grid of activation energies.

    Parameters
    ----------
    family : Chemistry
        The chemistry.

    Returns
    -------
    FloatArray
        Energies [kJ/mol], shape (21,).
    """
    reach = EA_REACH_SD * family.ea_sd_kj
    return np.linspace(max(EA_LEAST, family.ea_kj - reach), family.ea_kj + reach, EA_COUNT)


def levels(family: Chemistry) -> FloatArray:
    """The levels of D, one of 0 where a family does not turn to glass.

    Parameters
    ----------
    family : Chemistry
        The chemistry.

    Returns
    -------
    FloatArray
        Levels [kJ/mol], shape (levels,).
    """
    return STEEP_KJ if family.vitrifies else STEEP_KJ[:1]


def steep_part(family: Chemistry, milestone: str) -> float:
    """Share of D that a milestone of a family feels.

    Parameters
    ----------
    family : Chemistry
        The chemistry.
    milestone : str
        Name of the milestone.

    Returns
    -------
    float
        Share [-].
    """
    return STEEP_PART.get(milestone, 0.0) if family.vitrifies else 0.0


def steeper(sheet: Sheet, values_c: FloatArray, part: float) -> Steeper | None:
    """The steeper law along a thermal history for a milestone that feels a part of it.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    values_c : FloatArray
        The material's temperature [C], shape (paths, n).
    part : float
        Share of D that it feels [-].

    Returns
    -------
    Steeper | None
        None where it is not felt.
    """
    reference_c = sheet.reference.temperature_c
    if part == 0.0 or min(float(values_c.min()), reference_c) >= GLASS_C:
        return None
    family = CHEMISTRIES[sheet.chemistry]
    return Steeper(part * levels(family), inverse_below_glass(values_c, reference_c))


def prior(family: Chemistry, ea_kj: FloatArray) -> FloatArray:
    """Weights before any label row or look.

    Parameters
    ----------
    family : Chemistry
        The chemistry.
    ea_kj : FloatArray
        Activation energies, evenly spaced [kJ/mol], shape (energies,).

    Returns
    -------
    FloatArray
        Weights [-], shape (61, levels, 21).
    """
    slow = np.exp(-0.5 * (X / PRODUCT_SD) ** 2)
    sd_kj = family.ea_sd_kj * sqrt(1 - OWN_EA_SHARE**2)
    energy = np.exp(-0.5 * ((ea_kj - family.ea_kj) / sd_kj) ** 2)
    steep = STEEP_WEIGHTS[: levels(family).size]
    weights: FloatArray = slow[:, None, None] * steep[None, :, None] * energy[None, None, :]
    weights /= weights.sum()
    return weights


@lru_cache(maxsize=16)
def own_energy(family: Chemistry) -> FloatArray:
    """Matrix whose row e spreads the product's energy e over those of a milestone.

    Parameters
    ----------
    family : Chemistry
        The chemistry.

    Returns
    -------
    FloatArray
        Rows that sum to 1 [-], shape (21, 21), read-only.
    """
    ea_kj = energies(family)
    sd_kj = OWN_EA_SHARE * family.ea_sd_kj
    rows = np.exp(-0.5 * ((ea_kj[None, :] - ea_kj[:, None]) / sd_kj) ** 2)
    spread: FloatArray = rows / rows.sum(axis=1, keepdims=True)
    spread.setflags(write=False)
    return spread


@dataclass(frozen=True, eq=False)
class RowEvidence:
    """What further label rows of one milestone say [-], shape (levels, 21): own of its own energy,
    shared of the product's."""

    own: FloatArray
    shared: FloatArray


def _row_speed(
    sheet: Sheet, row: TimesRow, milestone: str, ea_kj: FloatArray, steep_kj: FloatArray
) -> FloatArray:
    """Speed at a row's temperature and humidity. [-], shape (levels, 21)"""
    humidity = reference_pct(sheet) if row.humidity_pct is None else row.humidity_pct
    one = np.full((1, 1), row.temperature_c)
    history = ThermalHistory(np.zeros(1), one, one, np.full((1, 1), humidity), np.ones(1), 0.0, 0.0)
    share = first_stage_share(sheet, milestone)
    part = steep_part(CHEMISTRIES[sheet.chemistry], milestone)

    def at(level_kj: float) -> FloatArray:
        stalling = stalls(milestone)
        speed = speed_over(sheet, history, one, share, stalling=stalling, steep_kj=part * level_kj)
        return speed(ea_kj)[0, :, 0]

    return np.array([at(float(level_kj)) for level_kj in steep_kj])


def label_rows(sheet: Sheet) -> dict[str, RowEvidence]:
    """What further rows of the label say.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.

    Returns
    -------
    dict[str, RowEvidence]
        By milestone [-].

    Notes
    -----
    Where a colder row is faster and the sheet does not own to it, what must be waited for is left
    out: a slip there would have clamps off early.
    """
    family = CHEMISTRIES[sheet.chemistry]
    ea_kj, steep_kj = energies(family), levels(family)
    logs: dict[str, FloatArray] = {}
    unlikely = {row.milestone for row in label.faster_colder(sheet) if stalls(row.milestone)}
    for row in sheet.times[1:]:
        for name in (row.minutes.keys() & sheet.reference.minutes.keys()) - unlikely:
            speed = _row_speed(sheet, row, name, ea_kj, steep_kj)
            if (speed > 0).all():
                ratio = np.log(row.minutes[name] / sheet.reference.minutes[name])
                log = -0.5 * ((ratio + np.log(speed)) / LABEL_SD) ** 2
                logs[name] = logs.get(name, np.zeros(log.shape)) + log
    spread = own_energy(family)
    evidence = {}
    for name, log in logs.items():
        own = np.maximum(np.exp(log - log.max()), 1e-200)
        evidence[name] = RowEvidence(own, own @ spread.T)
    return evidence
