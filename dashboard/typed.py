"""What is typed on a page without its unit gets the one that stands beside the field."""

from __future__ import annotations


def with_unit(text: str, unit: str) -> str:
    """A bare number with its unit; anything else as it was typed.

    >>> with_unit("60", "m3"), with_unit("2100 ft3", "m3")
    ('60 m3', '2100 ft3')
    """
    plain = text.strip()
    bare = plain.lstrip("+-−").replace(",", ".").replace(".", "", 1).isdigit()
    return f"{plain} {unit}" if bare else plain
