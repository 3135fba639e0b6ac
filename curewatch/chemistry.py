"""How fast each chemistry goes, relative to its label's reference.

Notes
-----
Speed r = r_T * r_H [-], and the label's time is stretched by hardener and film:

    r_T = exp(-(Ea/R) (1/T - 1/T_ref))                      Arrhenius, T in kelvin
    r_H = a / a_ref for moisture cure (a: absolute humidity), 1 for the others
    waterborne: 1/r = share/(d/d_ref) + (1 - share)/r_T     d: vapour-pressure deficit
    stretch = (h_ref/h)^p (film/film_ref)^n

Above 40 C the speed is held at its 40 C value; below the sheet's minimum it is 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from curewatch import air
from curewatch.air import KELVIN, FloatArray

GAS_CONSTANT_KJ = 8.314462618e-3
HOLD_ABOVE_C = 40.0
SILENT_MINIMUM_C = 5.0
SILENT_HUMIDITY_PCT = 50.0
HARDENER_EXPONENT, HARDENER_EXPONENT_SD = 0.75, 0.25
ONE_PART = ("solvent-1k", "waterborne", "moisture-urethane")

Humidity = Literal["none", "widens", "absolute", "deficit"]


@dataclass(frozen=True)
class Chemistry:
    """What is known of a family of products before any of them was tried.

    ea_kj, ea_sd_kj: activation energy, mean and standard deviation [kJ/mol].
    assumed: no published study stands behind ea_kj. hardener_varies: the label may allow a range.
    hardener_exponent, film_exponent and their _sd: powers of the stretch [-].
    humidity: how the air's water enters. can_contain: the hazards that a product of this family
    can hold at worst (common practice, no source: the safety data sheet decides). words, source:
    for people.
    """

    name: str
    words: str
    ea_kj: float
    ea_sd_kj: float
    assumed: bool
    source: str
    can_contain: tuple[str, ...]
    hardener_varies: bool = False
    hardener_exponent: float = 0.0
    hardener_exponent_sd: float = 0.0
    film_exponent: float = 0.0
    film_exponent_sd: float = 0.0
    humidity: Humidity = "none"


CHEMISTRIES: dict[str, Chemistry] = {
    each.name: each
    for each in (
        Chemistry(
            "epoxy-amine",
            "two-part epoxy",
            50.0,
            12.0,
            False,
            "published gel-time studies: 46.5, 53.2, 58.2 (J. Appl. Polym. Sci. 83:78, 2002), "
            "58.5 +- 1.3 (92:1190, 2004), 42.9 kJ/mol",
            ("flammable_solvent", "sensitiser", "dust"),
        ),
        Chemistry(
            "methacrylate",
            "two-part methacrylate",
            55.0,
            15.0,
            True,
            "assumed; no published figure was found",
            ("peroxide", "flammable_solvent", "sensitiser", "dust"),
            hardener_varies=True,
        ),
        Chemistry(
            "polyester-peroxide",
            "polyester with peroxide hardener",
            50.0,
            12.0,
            False,
            "redox-cured polyester 40 to 60 kJ/mol; hardener exponent 0.75 +- 0.25 assumed",
            ("styrene", "peroxide", "flammable_solvent", "sensitiser", "dust"),
            hardener_varies=True,
            hardener_exponent=HARDENER_EXPONENT,
            hardener_exponent_sd=HARDENER_EXPONENT_SD,
        ),
        Chemistry(
            "urethane-2k",
            "two-part urethane",
            52.0,
            12.0,
            False,
            "neat systems 50, 56, 70, 77 kJ/mol",
            ("isocyanate", "flammable_solvent", "sensitiser", "dust"),
            humidity="widens",
        ),
        Chemistry(
            "moisture-urethane",
            "moisture-cure urethane",
            45.0,
            12.0,
            True,
            "assumed; cured depth grows as the square root of time",
            ("isocyanate", "flammable_solvent", "sensitiser", "dust"),
            film_exponent=2.0,
            humidity="absolute",
        ),
        Chemistry(
            "solvent-1k",
            "one-part solvent-borne",
            40.0,
            6.0,
            False,
            "vapour pressure of toluene, styrene and butyl acetate rises 1.5 to 1.8 times per 10 K "
            "(DIPPR correlations)",
            ("flammable_solvent", "sensitiser", "dust"),
            film_exponent=1.5,
            film_exponent_sd=0.5,
        ),
        Chemistry(
            "waterborne",
            "waterborne",
            40.0,
            12.0,
            True,
            "drying by the vapour-pressure deficit, ratios only; the later stage is assumed",
            ("sensitiser", "dust"),
            film_exponent=1.5,
            film_exponent_sd=0.5,
            humidity="deficit",
        ),
    )
}


def inverse_temperature(temperature_c: FloatArray, reference_c: float) -> FloatArray:
    """(1/T - 1/T_ref)/R with T held at 40 C. [mol/kJ]; temperature_c, reference_c [C]"""
    kelvin = np.minimum(temperature_c, max(HOLD_ABOVE_C, reference_c)) + KELVIN
    return (1 / kelvin - 1 / (reference_c + KELVIN)) / GAS_CONSTANT_KJ


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
    offered = air.absolute_humidity_g_m3(air_c, humidity_pct)
    return offered / air.absolute_humidity_g_m3(reference_c, reference_pct)


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
    usual = air.vapour_pressure_deficit_kpa(reference_c, min(reference_pct, 99.0))
    return air.vapour_pressure_deficit_kpa(air_c, humidity_pct, surface_c) / usual


def stretch_hardener(chemistry: Chemistry, usual_pct: float, hardener_pct: float) -> float:
    """How many times longer another share of hardener makes it. [-]; both in [%]

    >>> round(stretch_hardener(CHEMISTRIES["polyester-peroxide"], 2.0, 1.0), 2)
    1.68
    """
    return float((usual_pct / hardener_pct) ** chemistry.hardener_exponent)


def stretch_film(chemistry: Chemistry, thicker: float) -> float:
    """How many times longer curing through takes; thicker: this film over the label's. [-]"""
    return float(thicker**chemistry.film_exponent)
