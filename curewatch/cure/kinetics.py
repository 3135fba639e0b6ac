"""How fast each chemistry goes, relative to its label's reference.

Notes
-----
Speed r = r_T * r_H [-], and the label's time is stretched by hardener and film:

    r_T = exp(-(Ea/R) (1/T - 1/T_ref))                      Arrhenius, T in kelvin
    r_H = a / a_ref for moisture cure (a: absolute humidity), 1 for the others
    waterborne: 1/r = share/(d/d_ref) + (1 - share)/r_T     d: vapour-pressure deficit
    stretch = (h_ref/h)^p (film/film_ref)^n
    past the gel of an epoxy or urethane, below T_glass = 20 C, r_T times
          exp(-(D/R) (1/T - 1/T_glass))                      see prior.py for D

Above 40 C the speed is held at its 40 C value; below the sheet's minimum it is 0.
"""

from __future__ import annotations

import numpy as np

from curewatch.climate import psychrometrics
from curewatch.climate.psychrometrics import KELVIN, FloatArray
from curewatch.products.chemistries import Chemistry

GAS_CONSTANT_KJ = 8.314462618e-3
HOLD_ABOVE_C = 40.0
GLASS_C = 20.0


def inverse_temperature(temperature_c: FloatArray, reference_c: float) -> FloatArray:
    """(1/T - 1/T_ref)/R with T held at 40 C. [mol/kJ]; temperature_c, reference_c [C]"""
    kelvin = np.minimum(temperature_c, max(HOLD_ABOVE_C, reference_c)) + KELVIN
    return (1 / kelvin - 1 / (reference_c + KELVIN)) / GAS_CONSTANT_KJ


def inverse_below_glass(temperature_c: FloatArray, reference_c: float) -> FloatArray:
    """(1/T - 1/T_ref)/R with T and T_ref held at GLASS_C above it. [mol/kJ]

    temperature_c, reference_c [C].
    """
    kelvin = np.minimum(temperature_c, GLASS_C) + KELVIN
    return (1 / kelvin - 1 / (min(reference_c, GLASS_C) + KELVIN)) / GAS_CONSTANT_KJ


def speed_arrhenius(
    temperature_c: float | FloatArray, reference_c: float, ea_kj: float
) -> FloatArray:
    """Speed relative to the reference temperature. [-]

    temperature_c, reference_c [C]; ea_kj [kJ/mol]. Held at its 40 C value above that.

    >>> round(float(speed_arrhenius(10.0, 20.0, 55.0)), 4)
    0.4507
    """
    celsius = np.asarray(temperature_c, dtype=float)
    speed: FloatArray = np.exp(-ea_kj * inverse_temperature(celsius, reference_c))
    return speed


def speed_absolute_humidity(
    air_c: FloatArray, humidity_pct: FloatArray, reference_c: float, reference_pct: float
) -> FloatArray:
    """Water on offer relative to the label's air, for moisture cure. [-]

    air_c, reference_c [C]; humidity_pct, reference_pct [%].
    """
    offered = psychrometrics.absolute_humidity_g_m3(air_c, humidity_pct)
    return offered / psychrometrics.absolute_humidity_g_m3(reference_c, reference_pct)


def speed_deficit(
    surface_c: FloatArray,
    air_c: FloatArray,
    humidity_pct: FloatArray,
    reference_c: float,
    reference_pct: float,
) -> FloatArray:
    """Drying by the vapour-pressure deficit relative to the label's air. [-]

    surface_c, air_c, reference_c [C]; humidity_pct, reference_pct [%].
    """
    usual = psychrometrics.vapour_pressure_deficit_kpa(reference_c, min(reference_pct, 99.0))
    return psychrometrics.vapour_pressure_deficit_kpa(air_c, humidity_pct, surface_c) / usual


def stretch_hardener(chemistry: Chemistry, usual_pct: float, hardener_pct: float) -> float:
    """How many times longer another share of hardener makes it. [-]; both in [%]

    >>> from curewatch.products.chemistries import CHEMISTRIES
    >>> round(stretch_hardener(CHEMISTRIES["polyester-peroxide"], 2.0, 1.0), 2)
    1.68
    """
    return float((usual_pct / hardener_pct) ** chemistry.hardener_exponent)


def stretch_film(chemistry: Chemistry, thicker: float) -> float:
    """How many times longer curing through takes; thicker: this film over the label's. [-]"""
    return float(thicker**chemistry.film_exponent)
