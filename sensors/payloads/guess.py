"""What a number that a sensor sends may be: every number of a payload, and a guess. Pure."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from curewatch.climate.reading import Quantity
from curewatch.errors import ReadingError
from sensors.payloads import senml
from sensors.payloads.decode import MAX_BYTES, document_of, with_its_unit

_HUMID = re.compile(r"hum|feucht|moist|(?<![a-z])rh(?![a-z])")
_SURFACE = ("surface", "panel", "probe", "skin", "metal", "object")
_WARM = re.compile(r"temp|celsius|fahrenheit|tmp|^t$")
_NO_SENSOR = re.compile(
    r"batt|volt|rssi|uptime|dew|taupunkt|target|setpoint|cpu|chip"
    r"|(?<![a-z])(link|press|lux|offset|(id|time)(?![a-z]))"
)
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
    if _NO_SENSOR.search(last):
        return None
    if (_HUMID.search(words) or last == "h") and not _WARM.search(last):
        unit = "fraction" if 0 < value <= 1 else "%"
        return ("relative_humidity", unit) if 0 <= value <= 100 else None
    if not _WARM.search(words) and not _WARM.search(last) and not _speaks_of_surface(words):
        return None
    scale = _temperature_unit(last, value)
    return (temperature_of(words), scale) if scale else None


def temperature_of(name: str) -> Quantity:
    """Whether a name speaks of a surface's temperature or the air's."""
    return "surface_temperature" if _speaks_of_surface(name) else "air_temperature"


def _speaks_of_surface(name: str) -> bool:
    return any(word in name.lower() for word in _SURFACE)


def usual_unit(quantity: Quantity, name: str, value: float) -> str:
    """The unit in which a value of this quantity is most likely sent."""
    if quantity == "relative_humidity":
        return "fraction" if 0 < value <= 1 else "%"
    return _temperature_unit(name.lower(), value) or "C"


def named_unit(name: str) -> str | None:
    """The unit of a temperature that the ending of a name in lower case tells, or None."""
    endings = (("_f", "F"), ("fahrenheit", "F"), ("_k", "K"), ("_c", "C"))
    return next((unit for ending, unit in endings if name.endswith(ending)), None)


def _temperature_unit(name: str, value: float) -> str | None:
    """The unit of a temperature by its name's ending, else by where garages are."""
    spans = (unit for low, high, unit in _SPANS if low <= value <= high)
    return named_unit(name) or next(spans, None)


def numbers(payload: bytes) -> Iterator[Number]:
    """Every number of a payload; none where it holds none.

    >>> [(each.pointer, each.value) for each in numbers(b'{"t": 14.2, "in": [{"a/b": "62"}]}')]
    [('/t', 14.2), ('/in/0/a~1b', 62.0)]
    """
    if len(payload) > MAX_BYTES:
        return
    try:
        document = document_of(payload)
    except ReadingError:
        return
    yield from _of_pack(document) or _of_json(document, "", "")


def _of_pack(document: Any) -> list[Number]:
    """The numbers of a SenML pack by their records' names; none where it is no pack."""
    try:
        records = senml.records(document)
    except ReadingError:
        return []
    return [
        Number("", record.value, record.name, _SENML.get(record.unit, ""))
        for record in records
        if isinstance(record.value, float)
    ]


def _of_json(value: Any, pointer: str, scale: str) -> Iterator[Number]:
    """The numbers in a part of a document; scale: of its temperatures, where that is said."""
    if isinstance(value, dict | list):
        scale = _named_scale(value) or scale
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in pairs:
            token = str(key).replace("~", "~0").replace("/", "~1")
            yield from _of_json(inner, f"{pointer}/{token}", scale)
        return
    number = _parsed_number(pointer, value)
    if number is not None:
        guessed = guess(f"number{pointer}", number.value) if scale and not number.unit else None
        is_temperature = guessed is not None and guessed[0] != "relative_humidity"
        yield replace(number, unit=scale) if is_temperature else number


def _parsed_number(pointer: str, value: Any) -> Number | None:
    """A number, one in a text, or one with its unit, which then is in C or %; None for all else."""
    for quantity, unit in (("air_temperature", "C"), ("relative_humidity", "")):
        with suppress(ReadingError):
            converted = with_its_unit(value, quantity)
            if converted is not None:
                return Number(pointer, converted, unit=unit)
    try:
        plain = value.replace(",", ".") if isinstance(value, str) else value
        number = float(plain) if isinstance(plain, int | float | str) else math.nan
    except (ValueError, OverflowError):
        return None
    return Number(pointer, number) if abs(number) < 1e12 and not isinstance(value, bool) else None


def _named_scale(node: dict[str, Any] | list[Any]) -> str:
    """C, F or K where an object says in which unit it is, like {"temp": 58, "unit": "F"}."""
    pairs = node.items() if isinstance(node, dict) else ()
    texts = (str(value).strip("°º ").upper() for key, value in pairs if "unit" in str(key).lower())
    return next((text for text in texts if text in ("C", "F", "K")), "")
