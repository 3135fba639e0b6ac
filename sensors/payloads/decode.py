"""Bytes to readings: a bare number, JSON by pointer, SenML; with or without a time. Pure.

A message on `curewatch/<place>/<quantity>` holds a bare number in C or %, a number with its
unit, or a SenML pack, of which the records in a fitting unit count. Any other topic needs a
mapping: which value, found by an RFC 6901 pointer or a SenML name, is which quantity at
which place, in which unit.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from typing import Any, NoReturn

from paho.mqtt.client import topic_matches_sub

from curewatch.climate.reading import Reading, check_quantity, make_reading
from curewatch.errors import QuantityError, ReadingError
from curewatch.settings.settings import Mapping
from curewatch.units import parse_humidity, parse_temperature
from sensors.payloads import senml
from sensors.payloads.timestamps import instant, relative, unix

MAX_BYTES, MOST_RECORDS = 65_536, 100
PREFIX = "curewatch"
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?", re.ASCII)
_SENML_UNITS = {"C": {"Cel": "C", "K": "K"}, "%": {"%RH": "%"}}
_WITH_UNIT = re.compile(
    rf"({_NUMBER.pattern})\s*([°º]?\s*[CFK]|%(\s*rh)?)", re.ASCII | re.IGNORECASE
)
_NOT_FINITE = re.compile(r"[+-]?(nan|inf|infinity)", re.IGNORECASE)


def decode(
    topic: str, payload: bytes, arrived: datetime, mappings: Sequence[Mapping] = ()
) -> list[Reading]:
    """The readings of one message. Raises ReadingError for the first that cannot be taken."""
    readings, refused = attempt(topic, payload, arrived, mappings)
    if refused:
        raise refused[0]
    return readings


def attempt(
    topic: str, payload: bytes, arrived: datetime, mappings: Sequence[Mapping] = ()
) -> tuple[list[Reading], list[ReadingError]]:
    """The readings of one message that can be taken, and why the others cannot."""
    readings: list[Reading] = []
    refused: list[ReadingError] = []
    fitting = tuple(mapping for mapping in mappings if topic_matches_sub(mapping.topic, topic))
    for mapping in fitting or (None,):
        try:
            makers = _makers(_source(topic, mapping, fitting), payload, arrived, mapping)
        except ReadingError as error:
            refused.append(error)
            continue
        for make in makers:
            try:
                readings.append(make())
            except ReadingError as error:
                refused.append(error)
    return readings, refused


def _source(topic: str, mapping: Mapping | None, fitting: Sequence[Mapping]) -> str:
    """What the sensor is called: its topic, and which value of it where that tells two apart."""
    if mapping is None:
        return topic
    value = (mapping.pointer, mapping.record)
    same_quantity = (candidate for candidate in fitting if candidate.quantity == mapping.quantity)
    if all((candidate.pointer, candidate.record) == value for candidate in same_quantity):
        return topic
    return f"{topic} {mapping.record or mapping.pointer}"


def _makers(
    topic: str, payload: bytes, arrived: datetime, mapping: Mapping | None
) -> list[Callable[[], Reading]]:
    """One for each reading that the message may hold; each may still refuse."""
    _check_size(payload)
    if mapping is None:
        return _plain(topic, _text(payload), arrived)
    if mapping.record is not None:
        return _recorded(topic, _text(payload), arrived, mapping)
    return [partial(_mapped, topic, _text(payload), arrived, mapping)]


def _check_size(payload: bytes) -> None:
    if len(payload) > MAX_BYTES:
        raise ReadingError(
            f"a payload of {len(payload):,} bytes is longer than {MAX_BYTES:,}",
            fix="let the sensor send its value alone",
        )


def _plain(topic: str, text: str, arrived: datetime) -> list[Callable[[], Reading]]:
    levels = topic.split("/")
    if len(levels) != 3 or levels[0] != PREFIX:
        raise ReadingError(
            f"no mapping fits the topic {topic[:100]!r}",
            fix=f"publish on {PREFIX}/<place>/<quantity> or add [[mappings]] to curewatch.toml",
        )
    place, quantity = levels[1], check_quantity(levels[2])
    if text.startswith("["):
        return _recorded(topic, text, arrived, Mapping(topic, "", "", place, quantity))
    return [lambda: make_reading(place, quantity, _with_unit(text, quantity), arrived, topic)]


def _recorded(
    topic: str, text: str, arrived: datetime, mapping: Mapping
) -> list[Callable[[], Reading]]:
    """The SenML records of the mapping's name, or of any name, in a fitting unit.

    Of a pack that is too long the first MOST_RECORDS are taken, and the rest is one refusal.
    """
    pack, too_long = _document(text), list[Callable[[], Reading]]()
    if isinstance(pack, list) and len(pack) > MOST_RECORDS:
        too_long.append(partial(_too_long, len(pack)))
        pack = pack[:MOST_RECORDS]
    named = [record for record in senml.records(pack) if mapping.record in (None, record.name)]
    units = _SENML_UNITS["%" if mapping.quantity == "relative_humidity" else "C"]
    unitless = {"": mapping.unit} if mapping.unit else {}
    fitting = [
        (record, unit)
        for record in named
        if (unit := {**units, **unitless}.get(record.unit)) is not None
    ]
    if not fitting and not too_long:
        named_text = f" named {mapping.record!r}" if mapping.record else ""
        raise ReadingError(
            f"no SenML record{named_text} has a unit for {mapping.quantity.replace('_', ' ')}",
            fix="check the names and units (Cel, K, %RH) that the sensor sends",
        )
    makers = [partial(_record, topic, record, unit, arrived, mapping) for record, unit in fitting]
    return too_long + makers


def _too_long(records: int) -> NoReturn:
    raise ReadingError(
        f"a SenML pack of {records:,} records came; only the first {MOST_RECORDS} of them were"
        " taken in",
        fix=f"set the sensor to send at most {MOST_RECORDS} records in one message",
    )


def _record(
    topic: str, record: senml.Record, unit: str, arrived: datetime, mapping: Mapping
) -> Reading:
    value = convert(_number(record.value, ""), unit)
    moment = relative if record.time_s < senml.RELATIVE_BELOW_S else unix
    at = moment(record.time_s, arrived)
    return make_reading(mapping.place, mapping.quantity, value, at, topic)


def _with_unit(text: str, quantity: str) -> float:
    """A number in C or %, or one with its unit. [C or %]"""
    parse, unit = (
        (parse_humidity, "%") if quantity == "relative_humidity" else (parse_temperature, "C")
    )
    if _NUMBER.fullmatch(text) or _NOT_FINITE.fullmatch(text):
        return convert(_finite(text), unit)
    try:
        return parse(text)
    except QuantityError as error:
        what = f"{text[:60]!r} is not a number" if not _NUMBER.match(text) else error.what
        raise ReadingError(what, fix="send a bare number like 14.2") from None


def _text(payload: bytes) -> str:
    try:
        return payload.decode("utf-8").strip("\ufeff\0 \t\r\n")
    except UnicodeDecodeError:
        raise ReadingError(
            f"a payload of {len(payload):,} bytes is not text", fix="send a bare number or JSON"
        ) from None


def _finite(text: str) -> float:
    number = float(text.replace(",", "."))
    if not math.isfinite(number):
        raise ReadingError(f"{text[:60]!r} is not a finite number", fix="check the sensor")
    return number


def convert(number: float, unit: str) -> float:
    """A number in C, F, K, % or as a fraction, in [C or %].

    >>> convert(50.0, "F"), convert(0.62, "fraction")
    (10.0, 62.0)
    """
    if unit == "fraction":
        if not 0 <= number <= 1:
            raise ReadingError(
                f"humidity {number:g} is outside 0..1", fix="check the sensor and its unit"
            )
        return round(number * 100, 9)
    if unit == "%":
        if not 0 <= number <= 100:
            raise ReadingError(f"humidity {number:g} is outside 0..100 %", fix="check the sensor")
        return number
    celsius = {"C": number, "F": (number - 32) / 1.8, "K": number - 273.15}[unit]
    return round(celsius, 9)


def _mapped(topic: str, text: str, arrived: datetime, mapping: Mapping) -> Reading:
    document = _document(text)
    node = resolve(document, mapping.pointer)
    value = with_its_unit(node, mapping.quantity)
    if value is None:
        value = convert(_number(node, mapping.pointer), mapping.unit)
    at = arrived
    if mapping.time is not None:
        at = instant(resolve(document, mapping.time), arrived)
    return make_reading(mapping.place, mapping.quantity, value, at, topic)


def with_its_unit(value: Any, quantity: str) -> float | None:
    """The value of a text that names its unit, None where it names none. [C or %]

    >>> with_its_unit("50 °F", "air_temperature"), with_its_unit("50", "air_temperature")
    (10.0, None)
    """
    if not isinstance(value, str) or not _WITH_UNIT.fullmatch(value.strip()):
        return None
    return _with_unit(value.strip(), quantity)


def document_of(payload: bytes) -> Any:
    """What a payload holds, JSON or the text of a number. Raises ReadingError for all else."""
    return _document(_text(payload))


def _document(text: str) -> Any:
    """What a payload holds: JSON, or a number that JSON would not take, as its text."""
    if any(rule.fullmatch(text) for rule in (_NUMBER, _WITH_UNIT, _NOT_FINITE)):
        return text
    try:
        return json.loads(text, parse_constant=_no_constant)
    except ReadingError:
        raise
    except (ValueError, RecursionError):
        raise ReadingError(
            f"the payload {text[:60]!r} is not valid JSON", fix="check what the sensor sends"
        ) from None


def _no_constant(name: str) -> NoReturn:
    raise ReadingError(f"{name!r} is not a finite number", fix="check the sensor")


def resolve(document: Any, pointer: str) -> Any:
    """The value that an RFC 6901 pointer finds in a JSON document.

    >>> resolve({"a": [1, {"b/c": 2}]}, "/a/1/b~1c")
    2
    """
    node = document
    for token in pointer.split("/")[1:]:
        key = token.replace("~1", "/").replace("~0", "~")
        if isinstance(node, dict) and key in node:
            node = node[key]
        elif isinstance(node, list) and _is_index(key, len(node)):
            node = node[int(key)]
        else:
            raise ReadingError(
                f"there is nothing at {pointer!r} in the payload", fix="check the mapping's pointer"
            )
    return node


def _is_index(key: str, length: int) -> bool:
    return re.fullmatch(r"0|[1-9][0-9]{0,8}", key) is not None and int(key) < length


def _number(value: Any, pointer: str) -> float:
    where = f" at {pointer!r}" if pointer else ""
    if isinstance(value, str):
        text = value.strip()
        if _NUMBER.fullmatch(text) or _NOT_FINITE.fullmatch(text):
            return _finite(text)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ReadingError(
            f"the value{where} is {_short(value)}, no number", fix="check the mapping's pointer"
        )
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ReadingError(f"the value{where} is not a finite number", fix="check the sensor")
    return number


def _short(value: Any) -> str:
    kinds = {dict: "an object", list: "an array", bool: str(value).lower(), type(None): "null"}
    return kinds.get(type(value)) or repr(value)[:60]
