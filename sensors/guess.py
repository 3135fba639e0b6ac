"""What a number that a sensor sends may be: every number of a payload, and a guess. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from curewatch.errors import ReadingError
from curewatch.reading import Quantity
from sensors import senml
from sensors.payload import MAX_BYTES

_HUMID = ("hum", "rh", "moist")
_SURFACE = ("surface", "panel", "probe", "skin", "metal", "object")
_WARM = ("temp", "celsius", "fahrenheit", "tmp")
_NO_SENSOR = ("batt", "volt", "rssi", "link", "press", "time", "uptime", "lux", "id")
_SPANS = ((-40, 40, "C"), (40, 130, "F"), (223, 333, "K"))
_SENML = {"Cel": "C", "K": "K", "%RH": "%"}


@dataclass(frozen=True, slots=True)
class Number:
    """A number of a payload, at an RFC 6901 pointer or in a SenML record of this name.

    `unit`: C, K or % where the record says it.
    """

    pointer: str
    value: float
    record: str | None = None
    unit: str = ""


def guess(name: str, value: float) -> tuple[Quantity, str] | None:
    """The quantity and unit that a name and a value suggest.

    >>> guess("garage/probe/surface_temp", 14.2), guess("attic/humidity", 0.62)
    (('surface_temperature', 'C'), ('relative_humidity', 'fraction'))
    """
    words = name.lower()
    last = words.rpartition("/")[2]
    if any(word in words for word in _HUMID) and not any(word in last for word in _WARM):
        unit = "fraction" if 0 < value <= 1 else "%"
        return ("relative_humidity", unit) if 0 <= value <= 100 else None
    named = any(word in words for word in (*_WARM, *_SURFACE))
    if not named or any(word in last for word in _NO_SENSOR):
        return None
    scale = _temperature_unit(last, value)
    return (temperature_of(words), scale) if scale else None


def temperature_of(name: str) -> Quantity:
    """Whether a name speaks of a surface's temperature or the air's."""
    surface = any(word in name.lower() for word in _SURFACE)
    return "surface_temperature" if surface else "air_temperature"


def usual_unit(quantity: Quantity, name: str, value: float) -> str:
    """The unit in which a value of this quantity is most likely sent."""
    if quantity == "relative_humidity":
        return "fraction" if 0 < value <= 1 else "%"
    return _temperature_unit(name.lower(), value) or "C"


def _temperature_unit(name: str, value: float) -> str | None:
    """The unit of a temperature by its name's ending, else by where garages are."""
    for ending, unit in (("_f", "F"), ("fahrenheit", "F"), ("_k", "K"), ("_c", "C")):
        if name.endswith(ending):
            return unit
    return next((unit for low, high, unit in _SPANS if low <= value <= high), None)


def numbers(payload: bytes) -> Iterator[Number]:
    """Every number of a payload; none where it holds none.

    >>> [(each.pointer, each.value) for each in numbers(b'{"t": 14.2, "in": [{"a/b": "62"}]}')]
    [('/t', 14.2), ('/in/0/a~1b', 62.0)]
    """
    if len(payload) > MAX_BYTES:
        return
    try:
        document = json.loads(payload)
        yield from _of_pack(document) or _of_json(document, "")
    except (ValueError, RecursionError):
        return


def _of_pack(document: Any) -> list[Number]:
    """The numbers of a SenML pack by their records' names; none where it is no pack."""
    try:
        found = senml.records(document)
    except ReadingError:
        return []
    return [
        Number("", each.value, each.name, _SENML.get(each.unit, ""))
        for each in found
        if isinstance(each.value, float)
    ]


def _of_json(value: Any, pointer: str) -> Iterator[Number]:
    if isinstance(value, dict | list):
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in pairs:
            token = str(key).replace("~", "~0").replace("/", "~1")
            yield from _of_json(inner, f"{pointer}/{token}")
        return
    try:
        number = float(value) if isinstance(value, int | float | str) else None
    except (ValueError, OverflowError):
        return
    if number is not None and not isinstance(value, bool) and abs(number) < 1e12:
        yield Number(pointer, number)
