"""A typed value that may be a slip: further from the last than the judge allows a sensor. Pure.

Notes
-----
* The same limits as for a sensor (`doubt.near`), from the nearest reading of that quantity at that
  place within twelve hours.
* Metal and air may go far in half an hour, so a value that is half of the most a sensor may go away
  is asked about too where the other unit fits: beside 8 C, 45 F is 7.2 C.
* With nothing to compare: a garage lies within 20 K of 15 C (assumed).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from curewatch.climate.reading import Quantity, Reading
from curewatch.errors import QuantityError
from curewatch.quality.single_sensor import FORGOTTEN_S, STEPS, near
from curewatch.units import other_unit, parse_temperature

USUAL_C, WITHIN_K = 15.0, 20.0
REMEMBERED = timedelta(seconds=FORGOTTEN_S)


@dataclass(frozen=True)
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
    readings: Sequence[Reading], texts: Mapping[Quantity, str], known: Sequence[Reading]
) -> list[Slip]:
    """Those of the typed readings that may be slips.

    texts: as they were typed; known: what else was measured around then.
    """
    found = (_slip(each, texts.get(each.quantity, ""), _nearest(each, known)) for each in readings)
    return [each for each in found if each is not None]


def _nearest(reading: Reading, known: Sequence[Reading]) -> Reading | None:
    thing = (reading.place, reading.quantity)
    held = (each for each in known if (each.place, each.quantity) == thing)
    close = (each for each in held if abs(each.at - reading.at) <= REMEMBERED)
    return min(close, key=lambda each: abs(each.at - reading.at), default=None)


def _slip(reading: Reading, text: str, last: Reading | None) -> Slip | None:
    meant, meant_c = _meant(text)
    if _fits(reading, reading.value, last) and not _mistaken(reading, meant_c, last):
        return None
    if meant_c is None or not _fits(reading, meant_c, last):
        return Slip(reading, last)
    return Slip(reading, last, meant, meant_c)


def _mistaken(reading: Reading, meant_c: float | None, last: Reading | None) -> bool:
    if last is None or meant_c is None:
        return False
    far = abs(reading.value - last.value) > STEPS[reading.quantity].most / 2
    return far and near(reading.quantity, 0.0, meant_c - last.value)


def _fits(reading: Reading, value: float, last: Reading | None) -> bool:
    if last is not None:
        return near(reading.quantity, (reading.at - last.at).total_seconds(), value - last.value)
    return reading.quantity == "relative_humidity" or abs(value - USUAL_C) <= WITHIN_K


def _meant(text: str) -> tuple[str, float | None]:
    other = other_unit(text)
    try:
        return other, parse_temperature(other) if other else None
    except QuantityError:
        return "", None
