"""Which source a place's temperature is from, and how old it is, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.climate.reading import AIR_PLACE, Source
from curewatch.durations import ago, duration

if TYPE_CHECKING:
    from curewatch.climate.sources import LeadingSource
    from curewatch.climate.summary import Span

HEAT = "the heat as entered, not measured"


def source_words(source: Source) -> str:
    """A source as people name it.

    >>> source_words(Source("air_temperature", "air", True))
    "the garage's air (typed)"
    """
    typed = " (typed)" if source.typed else ""
    if source.quantity == "surface_temperature":
        return f"{source.place}{typed}"
    where = "the garage's" if source.place == AIR_PLACE else f"{source.place}'s"
    what = "humidity" if source.quantity == "relative_humidity" else "air"
    return f"{where} {what}{typed}"


def span_words(span: Span, place: str) -> str:
    """Where a quantity of a stretch is from, unless from its place's own sensor, and how long it
    was not read; to hang on its figures."""
    source, words = span.source, []
    if source is not None and source.heat:
        return HEAT
    if source is not None and source != Source(source.quantity, place, typed=False):
        words.append("typed" if source.place == place and source.typed else source_words(source))
    if span.gap:
        words.append(f"not read for up to {duration(span.away_min)}")
    return ", ".join(words)


def _own(source: Source) -> str:
    how = "typed" if source.typed else "sensor's"
    if source.quantity == "surface_temperature":
        return f"{source.place}'s own {how} reading"
    return f"the {how} reading of {source_words(source)}"


def leading_source_words(leading: LeadingSource) -> str:
    """Where the surface's temperature is from and why, as a sentence."""
    if leading.source.heat:
        return f"Temperature of {leading.source.place}: {HEAT}."
    how = "typed" if leading.source.typed else "read"
    when = f"{how} just now" if leading.age_min < 1 else f"{how} {ago(leading.age_min)}"
    if leading.source.quantity == "surface_temperature":
        words = f"Temperature of {leading.source.place}: {when}"
    else:
        words = f"Temperature: taken from {source_words(leading.source)}, {when}"
    if leading.instead_of is None or leading.instead_min is None:
        return f"{words}."
    age = duration(leading.instead_min, "down")
    return f"{words}, because {_own(leading.instead_of)} is {age} old."
