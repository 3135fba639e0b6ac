"""What may be recorded of a mix, at once or later, by the names of the fields."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Generic, Protocol, TypeVar

from curewatch.events.fields import BY_NAME, FIELDS
from curewatch.text import LONGEST_TEXT

T = TypeVar("T")


class FieldValues(Protocol):
    """Something that holds values by the names of the fields."""

    @property
    def recorded(self) -> Mapping[str, Any]:
        """The values that are recorded."""


class Value(Generic[T]):
    """A field that code asks for by its name, as an attribute; `empty` while it is not recorded."""

    def __init__(self, empty: T) -> None:
        self._empty = empty

    def __set_name__(self, owner: type, name: str) -> None:
        self._name = name

    def __get__(self, instance: FieldValues, owner: type) -> T:
        value: T = instance.recorded.get(self._name, self._empty)
        return value


class Details:
    """What is entered of a mix, at once or later: a value for any field; None: not entered.

    Amounts [g], shares [%], films [um], temperatures [C], durations [min], aware instants.
    """

    part = Value[str | None](None)
    job = Value[str | None](None)
    place = Value[str | None](None)
    batch = Value[str | None](None)
    expiry = Value[str | None](None)
    applied = Value[str | None](None)
    amount_g = Value[float | None](None)
    hardener_pct = Value[float | None](None)
    film_um = Value[float | None](None)
    product_c = Value[float | None](None)
    cleaned_at = Value[datetime | None](None)

    def __init__(self, **recorded: Any) -> None:
        if unknown := recorded.keys() - BY_NAME.keys():
            raise TypeError(f"no such fields: {', '.join(sorted(unknown))}")
        self.recorded = {name: value for name, value in recorded.items() if value is not None}

    def but(self, **recorded: Any) -> Details:
        """The same with other values for these fields."""
        return Details(**(self.recorded | recorded))

    def as_body(self) -> dict[str, Any]:
        """What was entered, as an event holds it: texts trimmed, instants as RFC 3339."""
        recorded = self.recorded
        return {
            field.name: _stored(recorded[field.name]) for field in FIELDS if field.name in recorded
        }


def _stored(value: str | float | datetime) -> str | float:
    if isinstance(value, datetime):
        return value.isoformat()
    return value.strip()[:LONGEST_TEXT] if isinstance(value, str) else value
