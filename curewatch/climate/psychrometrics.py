"""Dew point, absolute humidity and what the air can still take up.

Notes
-----
Saturation over water by the Magnus form [1]_, also below 0 C, because sensors report humidity
over water. Between 0 and 40 C with the dew point above 0 C it is within 0.04 K of the ASHRAE
formulas.

References
----------
.. [1] WMO-No. 8, Guide to Instruments and Methods of Observation (2023), vol. I, annex 4.B:
   6.112 hPa, 17.62, 243.12 C.
"""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Number = TypeVar("Number", float, FloatArray)

MAGNUS_HPA, MAGNUS_A, MAGNUS_B_C = 6.112, 17.62, 243.12
VAPOUR_GAS_CONSTANT = 461.5
KELVIN = 273.15
GAS_CONSTANT_KJ = 8.314462618e-3
DRIEST_PCT = 0.01
NEAR_DEW_K = 3.0


def _plain(value: Any) -> Any:
    return float(value) if np.ndim(value) == 0 else value


def saturation_pressure_magnus(temperature_c: Number) -> Number:
    """Saturation vapour pressure over water. [hPa]

    Parameters
    ----------
    temperature_c : float or array
        [C]

    Returns
    -------
    float or array of the same shape
        [hPa]

    References
    ----------
    WMO-No. 8, see the module's [1]_.

    Examples
    --------
    >>> round(saturation_pressure_magnus(20.0), 2)
    23.33
    """
    exponent = MAGNUS_A * temperature_c / (MAGNUS_B_C + temperature_c)
    pressure: Number = _plain(MAGNUS_HPA * np.exp(exponent))
    return pressure


def vapour_pressure_hpa(temperature_c: Number, humidity_pct: Number) -> Number:
    """Partial pressure of water in the air. [hPa]

    Parameters
    ----------
    temperature_c, humidity_pct : float or array
        Of the air. [C], [%]

    Returns
    -------
    float or array of the same shape
        [hPa]
    """
    pressure: Number = _plain(saturation_pressure_magnus(temperature_c) * humidity_pct / 100)
    return pressure


def dew_point_c(temperature_c: Number, humidity_pct: Number) -> Number:
    """Temperature at which this air is saturated. [C]

    Parameters
    ----------
    temperature_c, humidity_pct : float or array
        Of the air; drier than 0.01 % is taken as 0.01 %. [C], [%]

    Returns
    -------
    float or array of the same shape
        [C]

    Examples
    --------
    >>> round(dew_point_c(20.0, 50.0), 2)
    9.26
    """
    share = np.log(np.maximum(humidity_pct, DRIEST_PCT) / 100)
    gamma = share + MAGNUS_A * temperature_c / (MAGNUS_B_C + temperature_c)
    dew_point: Number = _plain(MAGNUS_B_C * gamma / (MAGNUS_A - gamma))
    return dew_point


def dew_point_spread_c(surface_c: Number, temperature_c: Number, humidity_pct: Number) -> Number:
    """How far a surface is above the air's dew point. [K]

    Parameters
    ----------
    surface_c : float or array
        Temperature of the surface. [C]
    temperature_c, humidity_pct : float or array
        Of the air. [C], [%]

    Returns
    -------
    float or array of the same shape
        Negative where dew falls. [K]

    Examples
    --------
    >>> round(dew_point_spread_c(12.0, 20.0, 50.0), 2)
    2.74
    """
    spread: Number = _plain(surface_c - dew_point_c(temperature_c, humidity_pct))
    return spread


def absolute_humidity_g_m3(temperature_c: Number, humidity_pct: Number) -> Number:
    """Water in a cubic metre of air. [g/m3]

    Parameters
    ----------
    temperature_c, humidity_pct : float or array
        Of the air. [C], [%]

    Returns
    -------
    float or array of the same shape
        [g/m3]

    Examples
    --------
    >>> round(absolute_humidity_g_m3(20.0, 50.0), 2)
    8.62
    """
    pascal = vapour_pressure_hpa(temperature_c, humidity_pct) * 100
    absolute: Number = _plain(1000 * pascal / (VAPOUR_GAS_CONSTANT * (temperature_c + KELVIN)))
    return absolute


def vapour_pressure_deficit_kpa(
    temperature_c: Number, humidity_pct: Number, surface_c: Number | None = None
) -> Number:
    """Vapour pressure at a wet surface less that of the air, at least 0. [kPa]

    Parameters
    ----------
    temperature_c, humidity_pct : float or array
        Of the air. [C], [%]
    surface_c : float or array, optional
        Temperature of the surface, the air's if None. [C]

    Returns
    -------
    float or array of the same shape
        [kPa]

    Examples
    --------
    >>> round(vapour_pressure_deficit_kpa(20.0, 50.0), 2)
    1.17
    """
    surface = temperature_c if surface_c is None else surface_c
    lack = saturation_pressure_magnus(surface) - vapour_pressure_hpa(temperature_c, humidity_pct)
    deficit: Number = _plain(np.maximum(lack, 0.0) / 10)
    return deficit
