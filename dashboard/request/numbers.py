"""Whole numbers as a page sends them: of steps, events and instants [ms]."""

from __future__ import annotations

import re
from datetime import datetime

from werkzeug.routing import IntegerConverter

MOST_MS = 32_503_680_000_000
_DIGITS = re.compile(r"[0-9]{1,15}")


def number_of(text: str | None) -> int | None:
    """A whole number of at most 15 plain digits; None for all else."""
    match = _DIGITS.fullmatch((text or "").strip())
    return int(match[0]) if match else None


def ms(at: datetime) -> int:
    """An instant as the browser counts it: milliseconds since 1970. [ms]"""
    return round(at.timestamp() * 1000)


class PlainInteger(IntegerConverter):
    """The same in a path."""

    regex = _DIGITS.pattern
