"""Bare steel against the clock: hours since it was cleaned, counted faster when it is damp.

Notes
-----
The humidity that counts is that at the metal: the air's vapour pressure over the saturation
pressure at the metal's temperature, so metal colder than the air is damper than the air.

    w(U) = 1                          U <= 50 %
    w(U) = 1 + (U - 50)/30            50 % < U <= 80 %       (2 at 80 %)
    w(U) = 2 + (U - 80)/10            80 % < U <= 100 %      (4 at 100 % and under the dew point)
    bare hours = integral of w dt

Read: below 50 % clean carbon steel corrodes much slower [1]_; ISO 9223 counts as time of wetness
what is above 80 % and 0 C, as [2]_ quotes it. That the clock turns at 50 and at 80 % rests on
these; the weights 1, 2 and 4 are ours and have no source. Frost is weighed like wet metal, for it
thaws. Salt, sweat or a cleaner that left something behind are faster than any of this.

References
----------
.. [1] CoatingsPro Magazine, March 2016, p. 30, summing up NACE 6A192/SSPC-TR 3, which was not
   opened itself.
.. [2] Abstract of the chapter on surface moisture in "Service Life Prediction: Methodology and
   Metrologies", ACS Symposium Series; the standard was not opened itself.
"""

from __future__ import annotations

import numpy as np

from curewatch.climate import psychrometrics
from curewatch.climate.conditions import Conditions
from curewatch.climate.psychrometrics import FloatArray

SLOW_PCT, WET_PCT = 50.0, 80.0
WEIGHTS = (1.0, 2.0, 4.0)


def surface_humidity_pct(
    surface_c: FloatArray, air_c: FloatArray, humidity_pct: FloatArray
) -> FloatArray:
    """Relative humidity of the air where it touches the metal. [%]

    Parameters
    ----------
    surface_c : array, shape (n,)
        Temperature of the metal. [C]
    air_c : array, shape (n,)
        Temperature of the air. [C]
    humidity_pct : array, shape (n,)
        Relative humidity of the air. [%]

    Returns
    -------
    array, shape (n,)
        Relative humidity at the metal, 100 where dew falls. [%]
    """
    pressure = psychrometrics.vapour_pressure_hpa(air_c, humidity_pct)
    humidity_at_metal_pct: FloatArray = (
        100 * pressure / psychrometrics.saturation_pressure_magnus(surface_c)
    )
    return np.clip(humidity_at_metal_pct, 0.0, 100.0)


def weight(humidity_pct: FloatArray) -> FloatArray:
    """How many times faster bare steel ages at a humidity of its surface. [-]

    Parameters
    ----------
    humidity_pct : array, shape (n,)
        Relative humidity at the metal. [%]

    Returns
    -------
    array, shape (n,)
        1 in dry air to 4 where the metal is wet. [-]
    """
    corners_pct = np.array([SLOW_PCT, WET_PCT, 100.0])
    weights: FloatArray = np.interp(humidity_pct, corners_pct, np.array(WEIGHTS))
    return weights


def bare_hours(conditions: Conditions) -> float:
    """Hours bare, counted faster while it is damp. [h]

    Parameters
    ----------
    conditions : Conditions
        What the metal and the air were, from cleaning until now.

    Returns
    -------
    float
        The integral of `weight` over time, see the module's notes. [h]
    """
    humidity_at_metal_pct = surface_humidity_pct(
        conditions.surface_c, conditions.air_c, conditions.humidity_pct
    )
    return float(np.trapezoid(weight(humidity_at_metal_pct), dx=conditions.step_s / 3600))
