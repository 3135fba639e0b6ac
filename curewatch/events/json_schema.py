"""JSON Schema (draft 2020-12) as far as ours uses it: written short, and a value held against it.

What is wrong with a value is said with its place, as in `ledger/3/body/name`, and with what may
stand there.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from curewatch.frozen import frozen

Schema = dict[str, Any]
YEARS = (1970, 2199)
LARGEST = 10**12
LONGEST = 10_000
_WHOLE = r"^[^\ud800-\udfff]*$"
_SPAN = f"between {YEARS[0]} and {YEARS[1]}"
TIME: Schema = {"type": "string", "format": "date-time", "description": f"RFC 3339, {_SPAN}"}
DAY: Schema = {"type": "string", "format": "date", "description": f"a day {_SPAN}"}
FLAG: Schema = {"type": "boolean"}
NULL: Schema = {"type": "null"}
_NAMES = {
    "boolean": "yes or no (true or false)",
    "null": "nothing",
    "array": "a list",
    "object": "a group of named values",
}
_TYPES: dict[str, tuple[type, ...]] = {
    "boolean": (bool,),
    "null": (type(None),),
    "array": (list, tuple),
    "object": (Mapping,),
    "string": (str,),
    "integer": (int,),
    "number": (int, float),
}


@frozen
class Fault:
    """Where a value is not as the schema asks, what stands there and what may."""

    place: str
    what: str

    def under(self, name: object) -> Fault:
        """The same seen from what holds it under a name."""
        place = f"{str(name)[:40]}/{self.place}" if self.place else str(name)[:40]
        return Fault(place, self.what)


def text(least: int = 0, most: int = LONGEST, pattern: str = _WHOLE) -> Schema:
    """A text of so many characters, without halves of characters."""
    return {"type": "string", "minLength": least, "maxLength": most, "pattern": pattern}


def number(unit: str, least: float | None = None, most: float = LARGEST) -> Schema:
    """A number with its unit."""
    schema: Schema = {"type": "number", "description": unit, "maximum": most}
    return schema | {"minimum": -LARGEST if least is None else least}


def above(unit: str, least: float = 0, most: float = LARGEST) -> Schema:
    """A number over another one."""
    return {"type": "number", "description": unit, "exclusiveMinimum": least, "maximum": most}


def whole(least: int = 0, most: int = LARGEST) -> Schema:
    """A whole number."""
    return {"type": "integer", "minimum": least, "maximum": most}


def one_of(*words: str) -> Schema:
    """One of these words."""
    return {"enum": list(words)}


def or_null(schema: Schema) -> Schema:
    """That, or null."""
    return {"anyOf": [schema, NULL]}


def list_of(items: Schema) -> Schema:
    """A list of these."""
    return {"type": "array", "items": items}


def object_of(properties: Schema, *, optional: Schema | None = None) -> Schema:
    """An object with these names; it may have others."""
    return {
        "type": "object",
        "properties": properties | (optional or {}),
        "required": list(properties),
    }


def fault(value: Any, schema: Schema) -> Fault | None:
    """The first place where a value is not as the schema asks."""
    if "anyOf" in schema:
        fits = any(fault(value, option) is None for option in schema["anyOf"])
    elif "enum" in schema:
        fits = isinstance(value, str | int) and value in schema["enum"]
    else:
        fits = _is(value, schema)
    if not fits:
        return Fault("", f"{shown(value)} is where {expected(schema, value)} belongs")
    if isinstance(value, Mapping):
        return _in_object(value, schema)
    return _in_list(value, schema) if isinstance(value, list) else None


def _in_object(value: Mapping[str, Any], schema: Schema) -> Fault | None:
    properties, other = schema.get("properties", {}), schema.get("additionalProperties", {})
    for name in schema.get("required", ()):
        if name not in value:
            return Fault(name, f"it is missing: {expected(properties[name])} belongs there")
    for name, inner in value.items():
        if _in_halves(name):
            return Fault(shown(name), "the name has a broken character")
        if wrong := fault(inner, properties.get(name, other)):
            return wrong.under(name)
    return None


def _in_list(value: Sequence[Any], schema: Schema) -> Fault | None:
    if "items" not in schema:
        return None
    for index, item in enumerate(value):
        if wrong := fault(item, schema["items"]):
            return wrong.under(index)
    return None


def _in_halves(name: str) -> bool:
    return not name.isascii() and re.search(_WHOLE, name, re.DOTALL) is None


def _is(value: Any, schema: Schema) -> bool:
    """Whether a value is of the schema's type and in its range."""
    kind = schema.get("type")
    if kind is None:
        return True
    if not isinstance(value, _TYPES[kind]) or (isinstance(value, bool) and kind != "boolean"):
        return False
    if isinstance(value, str):
        return _is_text(value, schema)
    return _in_range(value, schema) if isinstance(value, int | float) else True


def _in_range(value: float, schema: Schema) -> bool:
    if isinstance(value, bool):
        return True
    if abs(value) > LARGEST or not math.isfinite(value):
        return False
    least, over = schema.get("minimum", -LARGEST), schema.get("exclusiveMinimum", -math.inf)
    return bool(least <= value <= schema.get("maximum", LARGEST) and value > over)


def _is_text(value: str, schema: Schema) -> bool:
    if not schema.get("minLength", 0) <= len(value) <= schema.get("maxLength", LONGEST):
        return False
    pattern = schema.get("pattern", _WHOLE)
    plain = pattern is _WHOLE and value.isascii()
    if not plain and not re.search(pattern, value, re.DOTALL):
        return False
    read = {"date-time": _is_instant, "date": _is_day}.get(schema.get("format", ""))
    return read is None or read(value)


def _is_instant(value: str) -> bool:
    try:
        at = datetime.fromisoformat(value)
    except ValueError:
        return False
    return at.tzinfo is not None and YEARS[0] <= at.year <= YEARS[1]


def _is_day(value: str) -> bool:
    try:
        return YEARS[0] <= date.fromisoformat(value).year <= YEARS[1]
    except ValueError:
        return False


def shown(value: Any) -> str:
    """A value on one short line, in letters that can be shown anywhere."""
    if value is None:
        return "nothing"
    if isinstance(value, list | Mapping):
        return _NAMES["array" if isinstance(value, list) else "object"]
    if isinstance(value, int) and abs(value) > LARGEST:
        return "a number that large"
    try:
        written = json.dumps(value)
    except (TypeError, ValueError, RecursionError):
        written = type(value).__name__
    return written if len(written) <= 40 else f"{written[:37]}..."


def expected(schema: Schema, instead: Any = None) -> str:
    """What belongs somewhere, in words; instead: what stands there."""
    if "anyOf" in schema:
        return " or ".join(expected(option, instead) for option in schema["anyOf"])
    if "enum" in schema:
        return "one of " + ", ".join(map(str, schema["enum"]))
    kind = schema.get("type", "")
    if kind in ("number", "integer"):
        return _number_words(schema)
    if kind == "string":
        return _text_words(schema, instead)
    return _NAMES.get(kind, "anything else")


def _number_words(schema: Schema) -> str:
    head = "a whole number" if schema["type"] == "integer" else "a number"
    least, most = schema.get("minimum", -LARGEST), schema.get("maximum", LARGEST)
    low = f"above {schema['exclusiveMinimum']:,}" if "exclusiveMinimum" in schema else ""
    low = low or ("" if least == -LARGEST else f"of at least {least:,}")
    high = "" if most == LARGEST else f"of at most {most:,}"
    unit = f" (in {schema['description']})" if "description" in schema else ""
    return " ".join(filter(None, (head, " and ".join(filter(None, (low, high)))))) + unit


def _text_words(schema: Schema, instead: Any) -> str:
    if schema.get("format") == "date-time":
        return f"a date and time with its time zone, {_SPAN}, like 2026-11-14T17:00:00Z"
    if schema.get("format") == "date":
        return f"a day {_SPAN}, like 2026-11-25"
    if schema.get("pattern", _WHOLE) != _WHOLE:
        return str(schema.get("description", f"a text like {schema['pattern']}"))
    if not isinstance(instead, str):
        return "text"
    if not instead:
        return "text that is not empty"
    most = schema.get("maxLength", LONGEST)
    return f"text of at most {most:,} characters" if len(instead) > most else "whole text"
