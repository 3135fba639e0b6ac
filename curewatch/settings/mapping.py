"""Which value of which message is which quantity: the rows of [[mappings]] in curewatch.toml."""

from __future__ import annotations

from collections.abc import Callable

from curewatch.climate.reading import check_place, check_quantity
from curewatch.errors import ConfigError
from curewatch.frozen import frozen
from curewatch.toml_table import TomlTable

TEMPERATURE_UNITS = ("C", "F", "K")
HUMIDITY_UNITS = ("%", "fraction")
Check = Callable[[str], str]
_MAPPING = ("topic", "pointer", "unit", "place", "quantity", "time", "record")


@frozen
class Mapping:
    """Which value of which message is which quantity at which place."""

    topic: str
    pointer: str
    unit: str
    place: str
    quantity: str
    time: str | None = None
    record: str | None = None


def check_filter(topic: str) -> str:
    """An MQTT topic filter; raises ValueError saying what is wrong with it."""
    levels = topic.split("/")
    if not topic or len(topic.encode()) > 65535 or "\0" in topic:
        raise ValueError("is not a topic")
    if any("#" in level and level != "#" for level in levels) or "#" in levels[:-1]:
        raise ValueError("has # elsewhere than as its whole last level")
    if any("+" in level and level != "+" for level in levels):
        raise ValueError("has + beside other letters of its level")
    return topic


def check_pointer(pointer: str) -> str:
    """An RFC 6901 pointer; raises ValueError saying what is wrong with it."""
    if pointer and not pointer.startswith("/"):
        raise ValueError("does not start with /")
    if "~" in pointer.replace("~0", "").replace("~1", ""):
        raise ValueError("has ~ without 0 or 1 behind it")
    return pointer


def _checked(table: TomlTable, key: str, default: str | None, eg: str, check: Check) -> str:
    value = table.text(key, default, eg)
    try:
        return table.checked(key, value, check)
    except ConfigError:
        raise
    except ValueError as error:
        raise table.wrong(key, f"= {value!r} {error}", f"write it like {eg!r}") from None


def _mapping(table: TomlTable) -> Mapping:
    table.only(_MAPPING)
    quantity = _checked(table, "quantity", None, "surface_temperature", check_quantity)
    humid = quantity == "relative_humidity"
    units = HUMIDITY_UNITS if humid else TEMPERATURE_UNITS
    time = _checked(table, "time", "", "/when", check_pointer)
    return Mapping(
        topic=_checked(table, "topic", None, "garage/+/state", check_filter),
        pointer=_checked(table, "pointer", "", "/temperature", check_pointer),
        unit=table.choice("unit", units[0], units),
        place=_checked(table, "place", None, "panel", check_place),
        quantity=quantity,
        time=time or None,
        record=_record(table),
    )


def _record(table: TomlTable) -> str | None:
    if "record" not in table.data:
        return None
    for excluded in ("pointer", "time"):
        if excluded in table.data:
            raise table.wrong(excluded, "is given beside record", f"remove {excluded} or record")
    return table.text("record", None, "urn:dev:1:temp")


def parse_mappings(table: TomlTable) -> tuple[Mapping, ...]:
    """The rows of [[mappings]]. Raises ConfigError."""
    return tuple(_mapping(row) for row in table.rows("mappings"))
