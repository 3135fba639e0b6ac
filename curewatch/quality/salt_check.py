"""The salt check of a hygrometer: the humidity over wet table salt in a closed box. Pure.

Notes
-----
Over a slurry of sodium chloride that still holds undissolved salt, the air of a closed box settles
at a humidity that hardly depends on temperature [1]_:

    RH = 75.5164 + 0.0398321 t - 0.00265459 t^2 + 2.848e-5 t^3        t [C], RH [%], 0..80 C

Of [1]_ the title page and abstract were read; the coefficients are those that three independent
programs give for it, and they agree among each other. Two further sources were read and are within
0.7 %: 74.9 % at 0 C and 75.6 % at 30 C [2]_, 69.20 exp(25/(t + 273.15)) for 10..40 C, accurate to
2 % [3]_. For kitchen salt in a box at home 1 % is taken (common practice). The box must have one
temperature: air that is 1 K warmer than the slurry holds 4.5 % less at 20 C (derived).

References
----------
.. [1] L. Greenspan, Humidity fixed points of binary saturated aqueous solutions, J. Res. NBS 81A
   (1977) 89-96.
.. [2] A. Wexler and S. Hasegawa, Relative humidity-temperature relationships of some saturated salt
   solutions in the temperature range 0 to 50 C, J. Res. NBS 53 (1954) 19-26; abstract.
.. [3] A. Wexler, Constant humidity solutions, CRC Handbook of Chemistry and Physics, section 15.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from curewatch.climate.reading import Reading
from curewatch.errors import ReadingError
from curewatch.units import span_as_typed

COEFFICIENTS = (75.5164, 0.0398321, -0.00265459, 2.848e-5)
RANGE_C = (5.0, 40.0)
UNCERTAINTY_PCT = 1.0
SETTLING, STILL_PCT = timedelta(hours=2), 1.0
SOURCE = "Greenspan, J. Res. NBS 81A (1977) 89"
WALK = (
    "Put two spoons of table salt into a bottle cap or small cup, and drip water on it until it is "
    "a wet slurry with grains still in it; a clear solution is too wet.",
    "Close it with the hygrometer into a small box or bag that does not leak. The salt must not "
    "touch the sensor.",
    "Leave it where the temperature stays the same, out of sun and draught: one degree between "
    "salt and sensor is almost five per cent of humidity.",
    "Wait eight hours or a night. It has settled when the reading has not moved by one per cent in "
    "two hours.",
    "Read the hygrometer and the temperature in the box without opening it, and type both here.",
)
TAPE = (
    "An infrared thermometer sees the glow of a surface, and bare or shiny metal glows little and "
    "mirrors what is around it. Stick masking tape on the metal, give it two minutes, and measure "
    "the tape."
)


def humidity_over_salt(temperature_c: float, typed: str = "") -> float:
    """Relative humidity over wet table salt. [%]

    Parameters
    ----------
    temperature_c : float
        Of the salt and the air over it, 5 to 40 C. [C]
    typed : str
        The temperature as it was typed, for the error.

    Returns
    -------
    float
        To a hundredth. [%]

    Raises
    ------
    ReadingError
        Where the temperature is outside that range.

    References
    ----------
    Greenspan, see the module's [1]_.

    Examples
    --------
    >>> round(humidity_over_salt(25.0), 1)
    75.3
    """
    low, high = RANGE_C
    typed = typed or f"{temperature_c:g} C"
    if not low <= temperature_c <= high:
        raise ReadingError(
            f"the salt check at {typed} is outside {span_as_typed(low, high, typed)}",
            fix="do it indoors, at room temperature",
        )
    return round(
        sum(coefficient * temperature_c**power for power, coefficient in enumerate(COEFFICIENTS)), 2
    )


def unsettled(readings: Sequence[Reading], source: str, now: datetime) -> str:
    """What is said where a hygrometer still moved in the last hours; empty where it did not.

    Parameters
    ----------
    readings : sequence of Reading
        Of the last hours, of any sensor.
    source : str
        The hygrometer.
    now : datetime

    Returns
    -------
    str
        A clause with how far it moved [%] within SETTLING.
    """
    values = [
        reading.value
        for reading in readings
        if reading.source == source
        and reading.quantity == "relative_humidity"
        and now - reading.at <= SETTLING
    ]
    moved = max(values, default=0.0) - min(values, default=0.0)
    if moved <= STILL_PCT:
        return ""
    return f"it moved by {moved:.0f} % in the last two hours: wait, and check it again"
