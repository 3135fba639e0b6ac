"""How fast each chemistry goes against its label, and how hardener, film and amount stretch it.

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

Film counts for curing through only. What happens at the surface or in the pot (skinning, working
time, pot life, the end of a recoat window) takes the label's time in any film. Sand-ready and full
cure go through the whole film. Clamps off and recoat opens ask for strength or release through the
film and for a firm surface too: a thicker film makes them later, a thinner one never sooner.
"""

from __future__ import annotations

from math import log
from typing import TYPE_CHECKING

import numpy as np

from curewatch.climate import psychrometrics
from curewatch.climate.psychrometrics import GAS_CONSTANT_KJ, KELVIN, FloatArray
from curewatch.cure import pot_life
from curewatch.cure.inputs import Mix
from curewatch.frozen import frozen
from curewatch.notice import Measure, Notice, notice
from curewatch.products.chemistries import CHEMISTRIES, Chemistry

if TYPE_CHECKING:
    from curewatch.products.sheet import Sheet

HOLD_ABOVE_C = 40.0
GLASS_C = 20.0
THROUGH = ("sand_ready", "full_cure")
THROUGH_AND_SURFACE = ("clamp_time", "recoat_opens")
FILM_SPAN = (0.25, 4.0)
DRY_SHARE = 0.5
"""Under this share of the label's water a moisture cure is said to lack it: our choice. [-]"""


def inverse_temperature(temperature_c: FloatArray, reference_c: float) -> FloatArray:
    """How far a temperature is from the reference on the scale of Arrhenius: (1/T - 1/T_ref)/R.

    Parameters
    ----------
    temperature_c : FloatArray
        Temperatures [C].
    reference_c : float
        The label's reference [C].

    Returns
    -------
    FloatArray
        Value [mol/kJ], of the shape of temperature_c; T is held at 40 C above it.
    """
    kelvin = np.minimum(temperature_c, max(HOLD_ABOVE_C, reference_c)) + KELVIN
    return (1 / kelvin - 1 / (reference_c + KELVIN)) / GAS_CONSTANT_KJ


def inverse_below_glass(temperature_c: FloatArray, reference_c: float) -> FloatArray:
    """The same where it counts for the steeper law: T and T_ref held at GLASS_C above it.

    Parameters
    ----------
    temperature_c : FloatArray
        Temperatures [C].
    reference_c : float
        The label's reference [C].

    Returns
    -------
    FloatArray
        Value [mol/kJ], of the shape of temperature_c.
    """
    kelvin = np.minimum(temperature_c, GLASS_C) + KELVIN
    return (1 / kelvin - 1 / (min(reference_c, GLASS_C) + KELVIN)) / GAS_CONSTANT_KJ


def speed_arrhenius(
    temperature_c: float | FloatArray, reference_c: float, ea_kj: float
) -> FloatArray:
    """Speed relative to the reference temperature.

    Parameters
    ----------
    temperature_c : float | FloatArray
        Temperatures [C].
    reference_c : float
        The label's reference [C].
    ea_kj : float
        Activation energy [kJ/mol].

    Returns
    -------
    FloatArray
        Speed [-], of the shape of temperature_c, held at its 40 C value above that.

    Examples
    --------
    >>> round(float(speed_arrhenius(10.0, 20.0, 55.0)), 4)
    0.4507
    """
    celsius = np.asarray(temperature_c, dtype=float)
    speed: FloatArray = np.exp(-ea_kj * inverse_temperature(celsius, reference_c))
    return speed


def speed_absolute_humidity(
    air_c: FloatArray, humidity_pct: FloatArray, reference_c: float, reference_pct: float
) -> FloatArray:
    """Water on offer relative to the label's air, for moisture cure.

    Parameters
    ----------
    air_c : FloatArray
        Air [C].
    humidity_pct : FloatArray
        Relative humidity [%].
    reference_c : float
        The label's [C].
    reference_pct : float
        The label's [%].

    Returns
    -------
    FloatArray
        Quotient of absolute humidities [-], of the shape of air_c.
    """
    offered = psychrometrics.absolute_humidity_g_m3(air_c, humidity_pct)
    return offered / psychrometrics.absolute_humidity_g_m3(reference_c, reference_pct)


def water_share(
    air_c: float, humidity_pct: float, reference_c: float, reference_pct: float
) -> float:
    """Water that the air holds over what the label's times count on.

    Parameters
    ----------
    air_c : float
        Air [C].
    humidity_pct : float
        Relative humidity [%].
    reference_c : float
        The label's [C].
    reference_pct : float
        The label's [%].

    Returns
    -------
    float
        Quotient of absolute humidities [-].
    """
    offered = np.array([air_c]), np.array([humidity_pct])
    return float(speed_absolute_humidity(*offered, reference_c, reference_pct)[0])


def speed_deficit(
    surface_c: FloatArray,
    air_c: FloatArray,
    humidity_pct: FloatArray,
    reference_c: float,
    reference_pct: float,
) -> FloatArray:
    """Drying by the vapour-pressure deficit relative to the label's air.

    Parameters
    ----------
    surface_c : FloatArray
        Surface [C].
    air_c : FloatArray
        Air [C].
    humidity_pct : FloatArray
        Relative humidity [%].
    reference_c : float
        The label's [C].
    reference_pct : float
        The label's [%].

    Returns
    -------
    FloatArray
        Quotient of deficits [-], of the shape of surface_c.
    """
    usual = psychrometrics.vapour_pressure_deficit_kpa(reference_c, min(reference_pct, 99.0))
    return psychrometrics.vapour_pressure_deficit_kpa(air_c, humidity_pct, surface_c) / usual


def stretch_hardener(chemistry: Chemistry, usual_pct: float, hardener_pct: float) -> float:
    """How many times longer another share of hardener makes it.

    Parameters
    ----------
    chemistry : Chemistry
        The chemistry.
    usual_pct : float
        The label's share [%].
    hardener_pct : float
        The share mixed in [%].

    Returns
    -------
    float
        Factor [-].

    Examples
    --------
    >>> from curewatch.products.chemistries import CHEMISTRIES
    >>> round(stretch_hardener(CHEMISTRIES["polyester-peroxide"], 2.0, 1.0), 2)
    1.68
    """
    return float((usual_pct / hardener_pct) ** chemistry.hardener_exponent)


def stretch_film(chemistry: Chemistry, thicker: float) -> float:
    """How many times longer curing through takes in another film.

    Parameters
    ----------
    chemistry : Chemistry
        The chemistry.
    thicker : float
        This film over the label's [-].

    Returns
    -------
    float
        Factor [-].
    """
    return float(thicker**chemistry.film_exponent)


@frozen
class Modifiers:
    """Factors on the label's time by hardener, film and amount [-].

    sd: doubt of ln(times) that the whole batch shares; own_sd: of this milestone alone. [-]
    """

    hardener: float = 1.0
    film: float = 1.0
    amount: float = 1.0
    sd: float = 0.0
    own_sd: float = 0.0

    @property
    def times(self) -> float:
        """All factors together. [-]"""
        return self.hardener * self.film * self.amount


def refusals(sheet: Sheet, mix: Mix) -> tuple[Notice, ...]:
    """Why no time can be given for this mix.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    mix : Mix
        How it was mixed.

    Returns
    -------
    tuple[Notice, ...]
        Codes with values; empty where a time can be given.
    """
    family, dose = CHEMISTRIES[sheet.chemistry], mix.hardener_pct
    if dose is None:
        return ()
    if not family.hardener_varies:
        return (notice("ratio-never-varied", chemistry=family.words),)
    span = sheet.limits.hardener_pct
    if span is None:
        return (notice("no-hardener-range"),)
    if not span[0] <= dose <= span[2]:
        hardener, least, most = (Measure(share, "%") for share in (dose, span[0], span[2]))
        return (notice("hardener-outside", hardener=hardener, least=least, most=most),)
    return ()


def _hardener(sheet: Sheet, mix: Mix) -> tuple[float, float]:
    family, span = CHEMISTRIES[sheet.chemistry], sheet.limits.hardener_pct
    if mix.hardener_pct is None or span is None or not family.hardener_varies:
        return 1.0, 0.0
    times = stretch_hardener(family, span[1], mix.hardener_pct)
    return times, family.hardener_exponent_sd * abs(log(span[1] / mix.hardener_pct))


def _thicker(sheet: Sheet, mix: Mix, milestone: str) -> float | None:
    """This film over the label's, where it counts for a milestone. [-]"""
    counts = CHEMISTRIES[sheet.chemistry].film_exponent > 0
    if not counts or milestone not in THROUGH + THROUGH_AND_SURFACE:
        return None
    if mix.film_um is None or sheet.film_um is None:
        return None
    return mix.film_um / sheet.film_um


def film_refusal(sheet: Sheet, mix: Mix, milestone: str) -> Notice | None:
    """Why no time can be given for a milestone in this film.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    mix : Mix
        How it was mixed.
    milestone : str
        Name of the milestone.

    Returns
    -------
    Notice or None
        None where a time can be given.
    """
    thicker = _thicker(sheet, mix, milestone)
    if thicker is None or FILM_SPAN[0] <= thicker <= FILM_SPAN[1]:
        return None
    film, label = (Measure(film_um or 0.0, "um") for film_um in (mix.film_um, sheet.film_um))
    thin = thicker < FILM_SPAN[0]
    return notice("film-too-thin" if thin else "film-too-thick", film=film, label=label)


def _film(sheet: Sheet, mix: Mix, milestone: str) -> tuple[float, float]:
    family, thicker = CHEMISTRIES[sheet.chemistry], _thicker(sheet, mix, milestone)
    if thicker is None or film_refusal(sheet, mix, milestone):
        return 1.0, 0.0
    if thicker < 1.0 and milestone in THROUGH_AND_SURFACE:
        return 1.0, 0.0
    return stretch_film(family, thicker), family.film_exponent_sd * abs(log(thicker))


def stretch(sheet: Sheet, mix: Mix, milestone: str) -> Modifiers:
    """Factors on the label's time of one milestone of a mix.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    mix : Mix
        How it was mixed.
    milestone : str
        Name of the milestone.

    Returns
    -------
    Modifiers
        Factors and their doubt in ln [-].
    """
    hardener, hardener_sd = _hardener(sheet, mix)
    if milestone != "pot_life":
        film, film_sd = _film(sheet, mix, milestone)
        return Modifiers(hardener, film, 1.0, hardener_sd, film_sd)
    amount = pot_life.amount_factor(sheet, mix.amount_g)
    sd = pot_life.SPREAD_SD if abs(log(amount)) > 1e-9 else 0.0
    return Modifiers(hardener, 1.0, amount, hardener_sd, sd)
