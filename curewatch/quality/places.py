"""The places that have a name: one that nobody named may be a slip of the keyboard."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from difflib import get_close_matches

from curewatch.climate.reading import USUAL_PLACES, check_place
from curewatch.errors import ReadingError
from curewatch.settings.mapping import Mapping
from curewatch.settings.settings import Settings
from curewatch.store.store import Store

NEW, ALIKE = "new ", 0.7


def heard_places(store: Store, named: Iterable[str], mappings: Iterable[Mapping]) -> set[str]:
    """The places whose readings are taken in: the usual ones, those in the settings (`named`) and
    in the mappings, those with readings, and those of open steps."""
    return {*USUAL_PLACES, *named, *(mapping.place for mapping in mappings), *store.places()}


def known_places(store: Store, settings: Settings) -> set[str]:
    """The places that a person may name: those, and those of every step."""
    return heard_places(store, settings.places, settings.mappings) | store.step_places()


def place_named(text: str, known_names: Collection[str], *, own: bool = False) -> str:
    """The place that a person names, or a new one where the word 'new' stands before its name.

    own: it was asked for a place of its own, so that only a near miss of a known one is refused.

    >>> place_named("panel", {"panel"}), place_named("new lamp", {"panel"})
    ('panel', 'lamp')

    Raises ReadingError with the nearest names where nobody named it yet.
    """
    plain = text.strip()
    if plain.lower().startswith(NEW):
        return check_place(plain[len(NEW) :].strip())
    place = check_place(plain)
    close = get_close_matches(place, sorted(known_names), n=3, cutoff=ALIKE)
    if place in known_names or (own and not close):
        return place
    question = f"did you mean {' or '.join(map(repr, close))}? " if close else ""
    raise ReadingError(
        f"no place is called {place!r}; the places are {', '.join(sorted(known_names)[:12])}",
        fix=f"{question}For a place of its own write 'new {place}'",
    )
