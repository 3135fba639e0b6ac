"""A typed value that may be a slip: further from the last than a sensor may go. Pure.

Notes
-----
* The same limits as for a sensor (`single_sensor.within_step_limits`), from the nearest reading of
  that quantity at that place within twelve hours.
* Metal and air may go far in half an hour, so a value that is half of the most a sensor may go away
  is asked about too where the other unit fits: beside 8 C, 45 F is 7.2 C.
* With nothing to compare: a garage lies within 20 K of 15 C (assumed).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta

from curewatch.climate.reading import Quantity, Reading
from curewatch.errors import QuantityError
from curewatch.frozen import frozen
from curewatch.quality.single_sensor import FORGOTTEN_S, STEP_LIMITS, within_step_limits
from curewatch.units import other_unit, parse_temperature

USUAL_C, WITHIN_K = 15.0, 20.0
REMEMBERED = timedelta(seconds=FORGOTTEN_S)


@frozen
class Slip:
    """A typed reading to be asked about, and the last one it is so far from, None without one.

    meant: the same number in the other unit, as text, and what that is [C]; empty and None where
    it does not fit either.
    """

    reading: Reading
    last: Reading | None
    meant: str = ""
    meant_c: float | None = None


def slips(
    readings: Sequence[Reading], texts: Mapping[Quantity, str], others: Sequence[Reading]
) -> list[Slip]:
    """Those of the typed readings that may be slips.

    texts: as they were typed; others: what else was measured around then.
    """
    candidates = (
        _slip(reading, texts.get(reading.quantity, ""), _nearest(reading, others))
        for reading in readings
    )
    return [slip for slip in candidates if slip is not None]


def _nearest(reading: Reading, others: Sequence[Reading]) -> Reading | None:
    thing = (reading.place, reading.quantity)
    same_quantity = (other for other in others if (other.place, other.quantity) == thing)
    close = (other for other in same_quantity if abs(other.at - reading.at) <= REMEMBERED)
    return min(close, key=lambda other: abs(other.at - reading.at), default=None)


def _slip(reading: Reading, text: str, last: Reading | None) -> Slip | None:
    in_other_unit, meant_c = _meant(text)
    if _fits(reading, reading.value, last) and not _mistaken(reading, meant_c, last):
        return None
    if meant_c is None or not _fits(reading, meant_c, last):
        return Slip(reading, last)
    return Slip(reading, last, in_other_unit, meant_c)


def _mistaken(reading: Reading, meant_c: float | None, last: Reading | None) -> bool:
    if last is None or meant_c is None:
        return False
    far = abs(reading.value - last.value) > STEP_LIMITS[reading.quantity].most / 2
    return far and within_step_limits(reading.quantity, 0.0, meant_c - last.value)


def _fits(reading: Reading, value: float, last: Reading | None) -> bool:
    if last is not None:
        return within_step_limits(
            reading.quantity, (reading.at - last.at).total_seconds(), value - last.value
        )
    return reading.quantity == "relative_humidity" or abs(value - USUAL_C) <= WITHIN_K


def _meant(text: str) -> tuple[str, float | None]:
    in_other_unit = other_unit(text)
    try:
        return in_other_unit, parse_temperature(in_other_unit) if in_other_unit else None
    except QuantityError:
        return "", None
