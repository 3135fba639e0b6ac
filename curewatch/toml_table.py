"""A TOML file read table by table and checked key by key: settings and products alike.

Every method refuses what it cannot take with file, whole key and what to do.
"""

from __future__ import annotations

from collections.abc import Callable
from collections.abc import Mapping as MappingType
from datetime import UTC, datetime
from typing import Any, TypeVar, overload

from curewatch.errors import ConfigError, CurewatchError
from curewatch.frozen import frozen

T = TypeVar("T")


@frozen
class TomlTable:
    """A table of the file being read. name: its key from the top; error: what is raised."""

    data: MappingType[str, Any]
    file: str
    name: str = ""
    error: type[CurewatchError] = ConfigError

    def full(self, key: str) -> str:
        """A key's whole name."""
        return f"{self.name}.{key}" if self.name else key

    def wrong(self, key: str, what: str, fix: str) -> CurewatchError:
        """The error of a key, with its whole name."""
        return self.error(f"{self.full(key)} {what}", where=self.file, fix=fix)

    def only(self, allowed: tuple[str, ...]) -> TomlTable:
        """This table, refused where it has another key."""
        for key in self.data:
            if key not in allowed:
                raise self.wrong(
                    key, "is not a key curewatch knows", f"use one of {', '.join(allowed)}"
                )
        return self

    def inner(self, key: str) -> TomlTable:
        """The table under a key, empty where there is none."""
        value = self.data.get(key, {})
        if not isinstance(value, dict):
            raise self.wrong(key, "is not a table", f"write it as [{self.full(key)}]")
        return TomlTable(value, self.file, self.full(key), self.error)

    def rows(self, key: str) -> tuple[TomlTable, ...]:
        """The tables of a list, numbered from 1; none where there is no such list."""
        rows = self.data.get(key, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            raise self.wrong(key, "is not a list of tables", f"write each as [[{self.full(key)}]]")
        return tuple(
            TomlTable(row, self.file, f"{self.full(key)}.{number}", self.error)
            for number, row in enumerate(rows, 1)
        )

    def text(self, key: str, default: str | None, example: str) -> str:
        """A text; a default of None means that it must be there."""
        value = self.data.get(key, default)
        if not isinstance(value, str) or (default is None and not value.strip()):
            what = "is missing" if value is None else f"= {value!r} is not text"
            raise self.wrong(key, what, f"write {key} = {example!r}")
        return value

    def flag(self, key: str, default: bool) -> bool:
        """True or false."""
        value = self.data.get(key, default)
        if not isinstance(value, bool):
            raise self.wrong(key, f"= {value!r} is neither true nor false", "say which")
        return value

    def choice(self, key: str, default: T | None, allowed: tuple[T, ...]) -> T:
        """One of the allowed values, of their very type."""
        value = self.data.get(key, default)
        for option in allowed:
            if value == option and type(value) is type(option):
                return option
        what = "is missing" if value is None else f"= {value!r} is not allowed"
        raise self.wrong(key, what, f"use one of {', '.join(map(repr, allowed))}")

    def whole(self, key: str, default: int, low: int, high: int) -> int:
        """A whole number from low to high (dimensionless)."""
        value = self.data.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise self.wrong(
                key, f"= {value!r} is outside {low}..{high}", "give a whole number without quotes"
            )
        return value

    def number(self, key: str, default: float | None, most: float, example: str) -> float:
        """A number above nothing and at most so much (dimensionless); a default of None means that
        it must be there."""
        value = self.data.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value <= most:
            what = "is missing" if value is None else f"= {value!r} is outside 0..{most:.0f}"
            raise self.wrong(key, what, f"write {key} = {example}")
        return float(value)

    def instant(self, key: str) -> datetime:
        """A time with its zone, in UTC."""
        value = self.data.get(key)
        if not isinstance(value, datetime) or value.tzinfo is None:
            what = "is missing" if value is None else f"= {value!s} is not a time with a zone"
            raise self.wrong(key, what, f"write {key} = 2026-01-01T12:00:00Z, without quotes")
        return value.astimezone(UTC)

    @overload
    def quantity(self, key: str, parse: Callable[[str], T]) -> T | None: ...
    @overload
    def quantity(self, key: str, parse: Callable[[str], T], default: T) -> T: ...
    def quantity(self, key: str, parse: Callable[[str], T], default: T | None = None) -> T | None:
        """A quantity in quotes with its unit, in the unit of `parse`."""
        return self._quantity(key, self.data[key], parse) if key in self.data else default

    def quantities(
        self, key: str, parse: Callable[[str], T], least: int, most: int
    ) -> tuple[T, ...] | None:
        """A list of so many quantities, each in quotes with its unit; None where there is none."""
        if key not in self.data:
            return None
        values, count = self.data[key], f"{least}" if least == most else f"{least} to {most}"
        if not isinstance(values, list) or not least <= len(values) <= most:
            raise self.wrong(key, f"is not a list of {count}", f"give {count} values in [ ]")
        return tuple(self._quantity(key, value, parse) for value in values)

    def _quantity(self, key: str, value: Any, parse: Callable[[str], T]) -> T:
        if not isinstance(value, str):
            fix = "write it in quotes with its unit"
            raise self.wrong(key, f"= {value!r} has no unit", fix)
        return self.checked(key, value, parse)

    def checked(self, key: str, value: str, check: Callable[[str], T]) -> T:
        """What a check makes of a value; what it says against it is said of the key."""
        try:
            return check(value)
        except CurewatchError as error:
            raise self.wrong(key, f"is wrong: {error.what}", error.fix) from None


def load(text: str, file: str, error: type[CurewatchError] = ConfigError) -> TomlTable:
    """The whole of a TOML text, to be read. Raises `error`, also for whatever is read of it."""
    import tomllib

    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as wrong:
        raise error(f"not valid TOML: {wrong}", where=file, fix="correct that line") from None
    return TomlTable(data, file, error=error)
