"""A table of a TOML file being read: each method refuses with file, key and fix."""

from __future__ import annotations

from collections.abc import Callable
from collections.abc import Mapping as MappingType
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, TypeVar

from curewatch.errors import ConfigError, QuantityError

T = TypeVar("T")


@dataclass(frozen=True)
class Table:
    """A table of the file being read; every method refuses with file, key and fix."""

    data: MappingType[str, Any]
    file: str
    name: str = ""

    def wrong(self, key: str, what: str, fix: str) -> ConfigError:
        """The error of a key, with its whole name."""
        full = f"{self.name}.{key}" if self.name else key
        return ConfigError(f"{full} {what}", where=self.file, fix=fix)

    def only(self, allowed: tuple[str, ...]) -> Table:
        """This table, refused where it has another key."""
        for key in self.data:
            if key not in allowed:
                raise self.wrong(
                    key, "is not a key curewatch knows", f"use one of {', '.join(allowed)}"
                )
        return self

    def inner(self, key: str) -> Table:
        """The table under a key, empty where there is none."""
        value = self.data.get(key, {})
        name = f"{self.name}.{key}" if self.name else key
        if not isinstance(value, dict):
            raise self.wrong(key, "is not a table", f"write it as [{name}]")
        return Table(value, self.file, name)

    def text(self, key: str, default: str | None, example: str) -> str:
        """A text; a default of None means that it must be there."""
        value = self.data.get(key, default)
        if not isinstance(value, str) or (default is None and not value):
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
        for known in allowed:
            if value == known and type(value) is type(known):
                return known
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

    def instant(self, key: str) -> datetime:
        """A time with its zone, in UTC."""
        value = self.data.get(key)
        if not isinstance(value, datetime) or value.tzinfo is None:
            what = "is missing" if value is None else f"= {value!s} is not a time with a zone"
            raise self.wrong(key, what, f"write {key} = 2026-01-01T12:00:00Z, without quotes")
        return value.astimezone(UTC)

    def quantity(self, key: str, parse: Callable[[str], float], default: float, eg: str) -> float:
        """A quantity in quotes with its unit, in the unit of `parse`."""
        if key not in self.data:
            return default
        try:
            return parse(self.text(key, None, eg))
        except QuantityError as error:
            raise self.wrong(key, f"is wrong: {error.what}", f'write {key} = "{eg}"') from None
