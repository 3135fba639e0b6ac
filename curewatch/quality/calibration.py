"""What happened to each sensor: checks against a reference, and moves from place to place.

A sensor is known by its source: the MQTT topic it publishes on, with the pointer or name behind it
where one topic carries the same quantity more than once. All stands in the ledger under the subject
"sensor"; a later check replaces an earlier one from the moment it was told, and no stored reading
is ever changed.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Literal

from curewatch.climate.reading import TYPED as TYPED
from curewatch.climate.reading import UNITS, Quantity, check_quantity
from curewatch.errors import ReadingError
from curewatch.events.events import SENSOR, Entry
from curewatch.store.ledger import Ledger

SUBJECT = SENSOR
FILE = "file "
MOST_OFFSET: Mapping[Quantity, float] = {
    "surface_temperature": 5.0,
    "air_temperature": 5.0,
    "relative_humidity": 20.0,
}
LONGEST_WHO = 60
How = Literal["reference", "salt"]


@dataclass(frozen=True)
class Check:
    """A sensor held against a reference. Values in [C] or [%].

    at: when both were read; told: from when on its readings are corrected; read: what the sensor
    itself gave, before any correction; offset: what is added to it since; uncertainty: of the
    reference, as far as known; who: by whom, as typed; how: against a reference or by the salt.
    """

    source: str
    quantity: Quantity
    at: datetime
    told: datetime
    reference: float
    read: float
    offset: float
    uncertainty: float | None = None
    who: str = ""
    how: How = "reference"


@dataclass(frozen=True)
class Move:
    """A sensor that first reported at another place; `both`: it still reports at the old one."""

    source: str
    quantity: Quantity
    before: str
    after: str
    at: datetime
    both: bool


@dataclass(frozen=True)
class Flat:
    """A spell in which a sensor was stuck before that was known: from its last change (`since`) to
    the first reading that was flagged."""

    source: str
    place: str
    quantity: Quantity
    since: datetime
    until: datetime


def checks(store: Ledger, source: str | None = None) -> list[Check]:
    """Every check of one sensor, or of all, in the order told; a sensor that took up another
    topic keeps those it had under its former one."""
    held: dict[str, list[Check]] = {}
    for each in store.entries(SUBJECT):
        own = held.setdefault(each.name, [])
        if each.kind == "checked":
            own.append(_check(each))
        elif each.kind == "renamed":
            former = held.get(each.body["from"], [])
            own[:0] = [replace(check, source=each.name) for check in former]
    wanted = held.values() if source is None else [held.get(source, [])]
    return sorted((each for group in wanted for each in group), key=lambda each: each.told)


def moves(store: Ledger, source: str | None = None) -> list[Move]:
    """Every move of one sensor, or of all, in the order they were noticed."""
    return [_move(each) for each in store.entries(SUBJECT, source) if each.kind == "moved"]


def _check(entry: Entry) -> Check:
    body = entry.body
    return Check(
        entry.name,
        check_quantity(body["quantity"]),
        entry.at,
        entry.told,
        body["reference"],
        body["read"],
        body["offset"],
        body.get("uncertainty"),
        body.get("who", ""),
        body.get("how", "reference"),
    )


def _move(entry: Entry) -> Move:
    body = entry.body
    quantity = check_quantity(body["quantity"])
    return Move(entry.name, quantity, body["from"], body["to"], entry.at, body["both"])


def flats(store: Ledger, source: str | None = None) -> list[Flat]:
    """The spells in which one sensor, or any, was stuck and not yet flagged, in the order told."""
    return [
        Flat(
            each.name, each.body["place"], check_quantity(each.body["quantity"]), each.at, each.told
        )
        for each in store.entries(SUBJECT, source)
        if each.kind == "stuck"
    ]


def add_flat(store: Ledger, flat: Flat) -> None:
    """Keep such a spell, unless it is kept already."""
    known = flats(store, flat.source)
    spell = (flat.place, flat.quantity, flat.since)
    if all((each.place, each.quantity, each.since) != spell for each in known):
        body: dict[str, Any] = {"place": flat.place, "quantity": flat.quantity}
        store.add_entry(SUBJECT, flat.source, "stuck", flat.since, flat.until, body)


def add_move(store: Ledger, move: Move, told: datetime) -> None:
    """Keep a move, unless it is the last one kept already."""
    last = [each for each in moves(store, move.source) if each.quantity == move.quantity][-1:]
    if last and (last[0].before, last[0].after) == (move.before, move.after):
        return
    body: dict[str, Any] = {
        "quantity": move.quantity,
        "from": move.before,
        "to": move.after,
        "both": move.both,
    }
    store.add_entry(SUBJECT, move.source, "moved", move.at, told, body)


def add_rename(store: Ledger, former: str, source: str, now: datetime) -> None:
    """Keep that a sensor publishes on another topic from now on; its checks go with it."""
    store.add_entry(SUBJECT, source, "renamed", now, now, {"from": former})


class Offsets:
    """What is added to each sensor's readings, by when they were measured."""

    def __init__(self, held: Sequence[Check]) -> None:
        self._held: dict[tuple[str, str], tuple[list[float], list[float]]] = {}
        for each in sorted(held, key=lambda each: each.told):
            since, offsets = self._held.setdefault((each.source, each.quantity), ([], []))
            since.append(each.told.timestamp())
            offsets.append(each.offset)

    def at(self, source: str, quantity: str, at_s: float) -> tuple[float, float]:
        """The offset [C or %] at an instant and when its check was told; both since 1970 [s].

        A sensor that was not checked by then has the offset 0 since minus infinity.
        """
        found = self._held.get((source, quantity))
        if found is None:
            return 0.0, float("-inf")
        index = bisect_right(found[0], at_s) - 1
        return (found[1][index], found[0][index]) if index >= 0 else (0.0, float("-inf"))


def is_sensor(source: str) -> bool:
    """Whether a source is one sensor, and not a keyboard or a file."""
    return source != TYPED and not source.startswith(FILE)


def add_check(
    store: Ledger,
    source: str,
    quantity: Quantity,
    *,
    reference: float,
    read: float,
    now: datetime,
    read_at: datetime | None = None,
    uncertainty: float | None = None,
    who: str = "",
    how: How = "reference",
) -> Check:
    """Keep a check; from now on readings of that sensor are corrected by what it was off.

    reference, read, uncertainty [C or %]; `read` is what the sensor gives without correction.
    Raises ReadingError where it is off so far that it is broken and not just off.
    """
    offset, most, unit = round(reference - read, 3), MOST_OFFSET[quantity], UNITS[quantity]
    if not abs(offset) <= most:
        raise ReadingError(
            f"{read:g} {unit} beside a reference of {reference:g} {unit} is off by more than "
            f"{most:g} {unit}",
            where=source,
            fix="check both once more; a sensor that is so far off is broken",
        )
    found = Check(
        source, quantity, read_at or now, now, reference, read, offset, uncertainty,
        " ".join(who.split())[:LONGEST_WHO], how,
    )  # fmt: skip
    body = {
        "quantity": quantity,
        "reference": reference,
        "read": read,
        "offset": offset,
        "uncertainty": uncertainty,
        "who": found.who,
        "how": how,
    }
    store.add_entry(SUBJECT, source, "checked", found.at, now, body)
    return found
