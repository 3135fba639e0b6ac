"""Mappings and plain values written into curewatch.toml; comments and all else stay."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit import TOMLDocument

from curewatch.files.private import write_owned
from curewatch.settings.settings import FILE, Settings, load_settings, parse_settings
from curewatch.settings.settings import Mapping as SensorMapping

_KEYS = ("topic", "pointer", "unit", "place", "quantity", "time", "record")
_ONE_AT_A_TIME = threading.Lock()


def keep(folder: Path, mapping: SensorMapping) -> None:
    """Write a mapping into curewatch.toml; one of the same value is replaced.

    Raises ConfigError where the file or the mapping is wrong; the file is then untouched.
    """
    with _ONE_AT_A_TIME:
        document = _read(folder)
        rows = document.setdefault("mappings", tomlkit.aot())
        _take_out(rows, mapping)
        rows.append(_row(mapping))
        _write(folder, document)


def let_go(folder: Path, mapping: SensorMapping) -> None:
    """Take the mapping of a value out of curewatch.toml. Raises ConfigError as `keep` does."""
    with _ONE_AT_A_TIME:
        document = _read(folder)
        rows = document.get("mappings", [])
        _take_out(rows, mapping)
        if not rows:
            document.pop("mappings", None)
        _write(folder, document)


def set_values(folder: Path, values: Mapping[str, str | int]) -> Settings:
    """Write values of the file's first part, like the zone; the settings from then on.

    Raises ConfigError as `keep` does.
    """
    with _ONE_AT_A_TIME:
        document = _read(folder)
        for key, value in values.items():
            document[key] = value
        _write(folder, document)
        return load_settings(folder)


def _read(folder: Path) -> TOMLDocument:
    load_settings(folder)
    path = folder / FILE
    return tomlkit.parse(path.read_text(encoding="utf-8") if path.exists() else "")


def _take_out(rows: Any, mapping: SensorMapping) -> None:
    same = [number for number, row in enumerate(rows) if value_of(row) == _value(mapping)]
    for number in reversed(same):
        del rows[number]


def value_of(row: Any) -> tuple[str, str, str | None]:
    """Which value of which message a row of the file maps."""
    return str(row.get("topic")), str(row.get("pointer", "")), row.get("record")


def _value(mapping: SensorMapping) -> tuple[str, str, str | None]:
    return mapping.topic, mapping.pointer, mapping.record


def _row(mapping: SensorMapping) -> Any:
    row = tomlkit.table()
    for key in _KEYS:
        value = getattr(mapping, key)
        if value and not (key in ("pointer", "time") and mapping.record):
            row[key] = value
    return row


def _write(folder: Path, document: TOMLDocument) -> None:
    text = tomlkit.dumps(document)
    parse_settings(text, folder, str(folder / FILE))
    write_owned(folder / FILE, text)
