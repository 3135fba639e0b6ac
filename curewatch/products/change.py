"""Single values of a label's text put in, changed or taken out; comments and all else stay."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from curewatch.errors import SheetError

EXAMPLE = "write it like 'mix_ratio=2:1 by volume' or 'times.1.working_time=5 min'"


def changed(text: str, assignments: Iterable[str], file: str) -> str:
    """A label's text with each KEY=VALUE put in; nothing behind the = takes the key out.

    A key is written as in the label, a table's name first, the rows of times and the values of a
    list counted from 1. Raises SheetError.

    >>> changed('mix_ratio = "1:1"', ["mix_ratio=2:1", "limits.humidity_max=85 %"], "mine.toml")
    'mix_ratio = "2:1"\\n\\n[limits]\\nhumidity_max = "85 %"\\n'
    """
    document = tomlkit.parse(text if text.endswith("\n") else f"{text}\n")
    for assignment in assignments:
        key, equals, value = (part.strip() for part in assignment.partition("="))
        if not equals or not key:
            raise SheetError(f"{assignment[:60]!r} is not KEY=VALUE", where=file, fix=EXAMPLE)
        try:
            _put(document, key.split("."), value)
        except (TOMLKitError, AttributeError, LookupError, TypeError, ValueError):
            what = f"{assignment[:60]!r} does not fit the label"
            raise SheetError(what, where=file, fix=EXAMPLE) from None
    return tomlkit.dumps(document)


def _put(document: Any, path: list[str], text: str) -> None:
    """Put a value at its place, or take out what stands there. Raises what tomlkit raises."""
    table = document
    for name in path[:-1]:
        table = _inner(table, name)
    at = int(path[-1]) - 1 if isinstance(table, list) else path[-1]
    if isinstance(at, int) and not 0 <= at < len(table):
        raise IndexError(at)
    if text:
        table[at] = _value(text, table[at] if isinstance(at, int) else table.get(at))
    elif isinstance(at, int) or at in table:
        del table[at]


def _inner(table: Any, name: str) -> Any:
    """The table, list or row of that name; a new one where there is none."""
    if not isinstance(table, list):
        if name not in table:
            table[name] = tomlkit.aot() if name == "times" else tomlkit.table()
        return table[name]
    number = int(name)
    if number == len(table) + 1:
        table.append(tomlkit.table() if isinstance(table, AoT) else tomlkit.inline_table())
    if not 1 <= number <= len(table):
        raise IndexError(number)
    return table[number - 1]


def _value(text: str, before: Any) -> Any:
    """A value as typed: a text, but for what TOML writes with brackets or quotes, true and false,
    and a number where a number stood."""
    if text[0] in "[{\"'" or text in ("true", "false"):
        return tomlkit.value(text)
    if isinstance(before, int | float) and not isinstance(before, bool):
        return float(text)
    return text
