"""What is typed into a box whose label names the unit."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from curewatch.errors import QuantityError
from curewatch.units import with_unit

Value = TypeVar("Value")
_EXAMPLES = {
    "C": "14.5", "F": "58", "%": "62", "g": "60", "h": "2", "min": "30", "m3": "60", "m3/h": "300",
    "m²": "0.5", "um": "100", "W": "500",
}  # fmt: skip


def in_unit(text: str, unit: str, parse: Callable[[str], Value], example: str = "") -> Value:
    """The value of a box: a number alone has the box's unit; where there is no number, the box asks
    for one as it is written there. Raises QuantityError."""
    try:
        return parse(with_unit(text, unit))
    except QuantityError:
        if any(letter.isdigit() for letter in text):
            raise
        what = f"“{text.strip()[:40]}” is not a number" if text.strip() else "nothing was typed"
        fix = f"type a number, like {example or _EXAMPLES[unit]}"
        raise QuantityError(what, fix=fix) from None
