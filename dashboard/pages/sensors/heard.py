"""Every number that the broker heard for a while, and as what a number is taken: plain data."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping as Values
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, get_args

from curewatch.climate.reading import Quantity, check_place
from curewatch.errors import ReadingError
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.settings.settings import HUMIDITY_UNITS, TEMPERATURE_UNITS, Mapping, load_settings
from curewatch.text import plain
from curewatch.wording import words
from dashboard.context.listener import BrokerListener
from dashboard.context.page_context import PageContext

if TYPE_CHECKING:
    from sensors.mqtt.discovery import Leaf

QUANTITIES: tuple[Quantity, ...] = get_args(Quantity)
UNITS = {"C": "°C", "F": "°F", "K": "K", "%": "%", "fraction": "0 to 1"}
NAMED: dict[str, str] = {
    "surface_temperature": "the temperature of a surface",
    "air_temperature": "the temperature of the air",
    "relative_humidity": "humidity",
}
_SENT = {"C": "in °C", "F": "in °F", "K": "in K", "%": "in %", "fraction": "as 0 to 1"}
_OWN = "One of curewatch's own topics, taken as it is where its place is known."


@frozen
class HeardNumber:
    """A number as the page shows it. at: where it stands in its topic's messages; seems: what it
    may be, or as what it is taken; taken: already; ours: the mapping is for this topic alone, so
    that it can be let go of."""

    leaf: Leaf
    id: str
    topic: str
    at: str
    seems: str
    taken: bool
    ours: bool

    @property
    def values(self) -> tuple[str, ...]:
        """The last values, the newest at the end."""
        return tuple(f"{value:.6g}" for value in self.leaf.last)


@frozen
class HeardNumbers:
    """The numbers heard: those that may be of use, those taken already, and the rest."""

    useful: Sequence[HeardNumber]
    taken: Sequence[HeardNumber]
    rest: Sequence[HeardNumber]

    def __iter__(self) -> Any:
        yield from (*self.useful, *self.taken, *self.rest)


def id_of(leaf: Leaf) -> str:
    """A number's name on the page, whatever its topic is made of."""
    whole = f"{leaf.topic}\0{leaf.pointer}\0{leaf.record}".encode(errors="replace")
    return f"h{hashlib.sha256(whole).hexdigest()[:12]}"


def _guessed(leaf: Leaf, say: ReaderFormat) -> str:
    """What a number seems to be, in this reader's units."""
    if leaf.guess is None:
        return ""
    quantity, unit = leaf.guess
    value = leaf.read(leaf.mapping("here", quantity, unit))
    now = "" if value is None else f": {words.value(say, quantity, value)}"
    return f"may be {NAMED[quantity]}{now}, sent {_SENT[unit]}"


def taken_as(leaf: Leaf, mapping: Mapping, say: ReaderFormat) -> str:
    """As what a number is taken, with its value."""
    value, named = leaf.read(mapping), f"{mapping.place} {words.QUANTITY[mapping.quantity]}"
    return named if value is None else f"{named}: {words.value(say, mapping.quantity, value)}"


def _number(leaf: Leaf, mappings: Sequence[Mapping], say: ReaderFormat) -> HeardNumber:
    mapping = next((mapping for mapping in mappings if leaf.fits(mapping)), None)
    levels = leaf.topic.split("/")
    own = levels[0] == "curewatch" and len(levels) == 3
    seems = _OWN if own else _guessed(leaf, say)
    if mapping is not None:
        seems = taken_as(leaf, mapping, say)
    at, ours = (
        plain(leaf.record or leaf.pointer),
        mapping is not None and (mapping.topic == leaf.topic),
    )
    return HeardNumber(leaf, id_of(leaf), plain(leaf.topic), at, seems, own or bool(mapping), ours)


def heard_numbers(context: PageContext, say: ReaderFormat) -> HeardNumbers:
    """What was heard so far. Raises ConfigError where curewatch.toml cannot be read."""
    mappings = load_settings(context.settings.folder).mappings
    numbers = [_number(leaf, mappings, say) for leaf in context.listener.leaves]
    free = [number for number in numbers if not number.taken]
    return HeardNumbers(
        [number for number in free if number.seems],
        [number for number in numbers if number.taken],
        [number for number in free if not number.seems],
    )


def leaf_of(listener: BrokerListener, id: str) -> Leaf:
    """The number of that name on the page. Raises ReadingError."""
    for leaf in listener.leaves:
        if id_of(leaf) == id:
            return leaf
    raise ReadingError("that sensor is heard no more", fix="touch Listen again")


def chosen(leaf: Leaf, values: Values[str, Any]) -> Mapping:
    """The mapping that a form asks for. Raises CurewatchError in the user's words."""
    place = str(values.get("send") or values.get("own") or "").strip().lower()
    if not place:
        raise ReadingError("no place was named", fix="touch one, or write its name")
    quantity = next((name for name in QUANTITIES if name == values.get("quantity")), None)
    unit = next((name for name in UNITS if name == values.get("unit")), None)
    if leaf.guess is None and quantity is None:
        raise ReadingError("it is not said what that number measures", fix="choose it first")
    mapping = leaf.mapping(check_place(place), quantity, unit)
    humid = mapping.quantity == "relative_humidity"
    if mapping.unit not in (HUMIDITY_UNITS if humid else TEMPERATURE_UNITS):
        raise ReadingError(
            f"{NAMED[mapping.quantity]} is not measured in {UNITS[mapping.unit]}",
            fix="choose another unit",
        )
    return mapping
