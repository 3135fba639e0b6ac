"""Flags as an earlier format kept them, in English sentences: read once, when a file is led on."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Mapping
from datetime import UTC, datetime

from curewatch.climate.flag import WAITED, Flag, text_of
from curewatch.store.migrations.tables import open_table

_UNITS = {"s": 1, "min": 60, "h": 3600, "days": 86400}
_AT = r"(\d{4}-\d\d-\d\dT\d\d:\d\dZ)"
_DAY = r"(\d{4}-\d\d-\d\d)"
_NUMBER = r"(-?[\d.]+(?:e[+-]?\d+)?)"


def _at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def _seconds(figure: str, unit: str) -> float:
    return float(figure) * _UNITS[unit]


def _above(gap: str, way: str) -> float:
    return float(gap) if way == "above" else -float(gap)


def _apart(gap: str, way: str, source: str, since: str, other: str, own: str | None) -> Flag:
    return Flag(
        "apart",
        since=_at(since),
        gap=_above(gap, way),
        source=source,
        checked=_at(own) if own else None,
        other_checked=_at(other),
    )


_FORMS: Mapping[str, Callable[..., Flag]] = {
    r"jumped by ([\d.]+) [K%] in (\d+) (s|min|h|days)": lambda gap, figure, unit: Flag(
        "jump", gap=float(gap), seconds=_seconds(figure, unit)
    ),
    r"jumped, and back again": lambda: Flag("spike"),
    r"85 C is what a thermometer gives that did not measure": lambda: Flag("failed"),
    rf"at (\d+) % since {_AT}: wet, or broken": lambda value, since: Flag(
        "end", since=_at(since), value=float(value)
    ),
    rf"stuck at {_NUMBER} [C%] since {_AT}, while others move": lambda value, since: Flag(
        "stuck", since=_at(since), value=float(value)
    ),
    r"its clock is ([\d.]+) h behind: set its time zone": lambda hours: Flag(
        "zone", seconds=_seconds(hours, "h")
    ),
    r"its clock is (\d+) (s|min|h|days) behind": lambda figure, unit: Flag(
        "clock", seconds=_seconds(figure, unit)
    ),
    rf"([\d.]+) [K%] (above|below) the (\d+) others at this place since {_AT}": (
        lambda gap, way, others, since: Flag(
            "outvoted", since=_at(since), gap=_above(gap, way), others=int(others)
        )
    ),
    rf"(?s)([\d.]+) [K%] (above|below) (.*) since {_AT}, which was checked {_DAY}"
    rf", this one (?:never|{_DAY})": _apart,
    r"it may have waited at the broker while curewatch was away, and does not tell its time": (
        lambda: WAITED
    ),
}


def flag_of_words(text: str) -> Flag:
    """The flag that a stored sentence told; one that was never written is kept as it stands."""
    for form, make in _FORMS.items():
        match = re.fullmatch(form, text)
        if match:
            try:
                return make(*match.groups())
            except (ValueError, OverflowError):
                break
    return Flag("other", text=text)


def convert(connection: sqlite3.Connection) -> None:
    """Lead the readings' flags from sentences to codes, in the transaction of a migration."""
    connection.execute("ALTER TABLE reading RENAME COLUMN doubt TO flag")

    def code(text: str) -> str:
        return text_of(flag_of_words(text))

    open_table(connection, "reading").convert("flag", code, where="flag IS NOT NULL")
