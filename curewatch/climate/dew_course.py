"""How a garage's dew point goes with its temperature, learned from its own days.

Notes
-----
A leaky garage has the dew point of the air outdoors, whatever its temperature does. In a massive
one walls and things give water off as it warms and take it up as it cools, so that the relative
humidity stays and the dew point goes along. One slope carries both:

    dew point(t) = dew point(now) + slope (T(t) - T(now))

It is the least-squares slope of the changes over six hours on the last fortnight, pooled with a
first guess. What the changes of the gap between air and dew point scatter about it is the doubt six
hours ahead; a warning of dew takes half of it off the gap, see `tests/bench/outlook`.
"""

from __future__ import annotations

import numpy as np

from curewatch.climate.psychrometrics import (
    FloatArray,
    dew_point_c,
    saturation_pressure_magnus,
)
from curewatch.frozen import frozen

SPAN_H = 6
GUESS_SLOPE, GUESS_K2 = 0.6, 100.0
MOST_SLOPE = 1.3
LEAST_HOURS = 48
GUESS_SD_K = 2.0
MARGIN_SHARE = 0.5


@frozen
class DewCourse:
    """slope: of the dew point on the temperature [-]; sd_k: doubt of the gap between them six hours
    ahead [K]."""

    slope: float = GUESS_SLOPE
    sd_k: float = GUESS_SD_K

    def humidity_pct(self, air_c: FloatArray, now_pct: float) -> FloatArray:
        """Relative humidity ahead. [%]

        Parameters
        ----------
        air_c : FloatArray
            The air, from now [C], shape (n,).
        now_pct : float
            Relative humidity now [%].

        Returns
        -------
        FloatArray
            Relative humidity [%], shape (n,), at most 100.
        """
        now_c = dew_point_c(float(air_c[0]), max(1.0, now_pct))
        dew_c = now_c + self.slope * (air_c - air_c[0])
        share = saturation_pressure_magnus(dew_c) / saturation_pressure_magnus(air_c)
        ahead: FloatArray = np.minimum(100.0, 100.0 * share)
        return ahead

    def margin_k(self, ahead_h: FloatArray) -> FloatArray:
        """What a warning of dew takes off the gap. [K]; ahead_h [h]"""
        grown: FloatArray = np.sqrt(np.clip(ahead_h / SPAN_H, 0.0, 1.0))
        return MARGIN_SHARE * self.sd_k * grown


def learned(temperature_c: FloatArray, humidity_pct: FloatArray) -> DewCourse:
    """The course of a garage from its last days.

    Parameters
    ----------
    temperature_c : FloatArray
        By the hour, nan where none was measured [C], shape (n,).
    humidity_pct : FloatArray
        The same of the relative humidity [%], shape (n,).

    Returns
    -------
    DewCourse
        The first guess where fewer than two days of changes were measured.
    """
    dew_c = np.asarray(dew_point_c(temperature_c, np.clip(humidity_pct, 1.0, 100.0)))
    warmer = temperature_c[SPAN_H:] - temperature_c[:-SPAN_H]
    damper = dew_c[SPAN_H:] - dew_c[:-SPAN_H]
    both = np.isfinite(warmer) & np.isfinite(damper)
    if both.sum() < LEAST_HOURS:
        return DewCourse()
    warmer, damper = warmer[both], damper[both]
    together = float(warmer @ damper) + GUESS_K2 * GUESS_SLOPE
    slope = float(np.clip(together / (float(warmer @ warmer) + GUESS_K2), 0.0, MOST_SLOPE))
    return DewCourse(slope, float(np.std(damper - slope * warmer)))
