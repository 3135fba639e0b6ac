"""What the model has to say, as a code with values; `notice_words` makes the sentence of it.

A temperature, a duration or an amount stays a value with its unit until it is shown, so that each
reader sees it in their own unit and marks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Literal, TypeAlias

from curewatch.durations import Rounding
from curewatch.frozen import frozen

Unit = Literal["C", "K", "%", "g", "um", "x", ""]


@frozen
class Measure:
    """A value with its unit: temperature [C], temperature difference [K], share [%], mass [g],
    film thickness [um], ratio [x], bare number."""

    value: float
    unit: Unit


@frozen
class Duration:
    """A length of time [min], and which way it is rounded when it is shown."""

    minutes: float
    rounding: Rounding = "near"


@frozen
class Count:
    """How many of what: dab checks, mixes, times."""

    number: int
    of: str


@frozen
class Term:
    """A milestone or another thing with a name of its own, by its code."""

    code: str


@frozen
class Notice:
    """A code of `notice_words.SENTENCES`, and the values its sentence names."""

    code: str
    fields: Mapping[str, Field] = field(default_factory=dict, hash=False)


Field: TypeAlias = Measure | Duration | Count | Term | Notice | str


def notice(code: str, **fields: Field) -> Notice:
    """A notice with the values its sentence names."""
    return Notice(code, fields)
