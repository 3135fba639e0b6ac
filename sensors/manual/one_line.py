"""One line of typed readings: "14.5", "14.5 air 16 62 %", "outdoors 3"."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from curewatch.climate.reading import AIR_PLACE, Quantity
from curewatch.errors import ReadingError
from curewatch.frozen import frozen
from curewatch.units import with_unit

PANEL, _OUTDOORS = "panel", "outdoors"
_ONE = re.compile(
    r"(?:(?P<name>(?:new\s+)?[^\W\d_][\w-]{0,39})[\s:=]+)?"
    r"(?P<number>[+\-−]?(?:\d+(?:[.,]\d+)?|[.,]\d+))"
    r"\s*(?P<unit>%|(?:°\s*|deg\s*)?[CFKcfk](?![\w])|℃|℉)?"
)
_BETWEEN = re.compile(r"[\s,;]*(?:and\b|[,;])?[\s,;]*")
_SHOWN = 60
_FIX = "type a number, like 14.5, or several: surface 14.5 air 16 62 %"


@frozen
class TypedValue:
    """One value of a line, as text with its unit."""

    place: str
    quantity: Quantity
    text: str


def _meant(name: str, unit: str) -> tuple[str, Quantity]:
    """What a name and a unit stand for: a place and what was measured there."""
    plain = name.casefold()
    if unit == "%" or plain in ("humidity", "rh"):
        return (AIR_PLACE if plain in ("", "humidity", "rh") else plain), "relative_humidity"
    if plain in ("", "surface", "metal"):
        return PANEL, "surface_temperature"
    if plain in (AIR_PLACE, _OUTDOORS):
        return plain, "air_temperature"
    return plain, "surface_temperature"


def _parts(line: str) -> Iterator[re.Match[str]]:
    """The values of a line, nothing else being in it. Raises ReadingError."""
    at = 0
    while at < len(line):
        match = _ONE.match(line, at)
        if match is None:
            rest = line[at:].strip()[:_SHOWN]
            raise ReadingError(f"“{rest}” isn't a reading", fix=_FIX)
        yield match
        gap = _BETWEEN.match(line, match.end())
        at = gap.end() if gap else match.end()


def in_line(line: str, unit: str) -> list[TypedValue]:
    """The readings of a line, each thing once; a bare number has the reader's unit, C or F.

    Raises ReadingError in the user's words.

    >>> [(each.place, each.text) for each in in_line("14,5 air 16 62 %", "C")]
    [('panel', '14,5 C'), ('air', '16 C'), ('air', '62 %')]
    """
    values: dict[tuple[str, Quantity], TypedValue] = {}
    for part in _parts(line.strip()):
        place, quantity = _meant(part["name"] or "", part["unit"] or "")
        if (place, quantity) in values:
            raise ReadingError("the same thing is there twice", fix=_FIX)
        bare = "%" if quantity == "relative_humidity" else unit
        text = with_unit(f"{part['number']} {part['unit'] or ''}".strip(), bare)
        values[place, quantity] = TypedValue(place, quantity, text)
    if not values:
        raise ReadingError("nothing was typed", fix=_FIX)
    return list(values.values())


def by_place(values: list[TypedValue]) -> dict[str, Mapping[Quantity, str]]:
    """The values under their places."""
    by_place: dict[str, dict[Quantity, str]] = {}
    for value in values:
        by_place.setdefault(value.place, {})[value.quantity] = value.text
    return dict(by_place)
