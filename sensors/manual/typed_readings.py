"""Typed readings: "14.2 C" and "68 %", checked like a sensor's."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from curewatch.climate.reading import Quantity, Reading, make_reading
from curewatch.errors import QuantityError, ReadingError
from curewatch.quality.calibration import TYPED
from curewatch.units import parse_humidity, parse_temperature


def typed(place: str, at: datetime, texts: Mapping[Quantity, str]) -> list[Reading]:
    """The readings typed for a place at an aware instant, in [C] and [%].

    What is blank was not typed. Raises ReadingError where nothing was, or where a text is no
    temperature in C, F or K, or no humidity in %.
    """
    readings = [
        make_reading(place, quantity, _value(quantity, text), at, TYPED)
        for quantity, text in texts.items()
        if text.strip()
    ]
    if not readings:
        raise ReadingError(
            "no reading was typed", fix="give the surface, the air or the humidity, like '14.2 C'"
        )
    return readings


def _value(quantity: Quantity, text: str) -> float:
    parse = parse_humidity if quantity == "relative_humidity" else parse_temperature
    try:
        return parse(text.strip())
    except QuantityError as error:
        raise ReadingError(error.what, where=quantity.replace("_", " "), fix=error.fix) from None
