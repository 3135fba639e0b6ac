"""What happened to each sensor: checks against a reference, and moves from place to place.

A sensor is known by its source: the MQTT topic it publishes on, with the pointer or name behind it
where one topic carries the same quantity more than once. All stands in the ledger under the subject
"sensor"; a later check replaces an earlier one from the moment it was entered, and no stored
reading is ever changed.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any, Literal

from curewatch.climate.reading import TYPED as TYPED
from curewatch.climate.reading import UNITS, Quantity, check_quantity
from curewatch.errors import ReadingError
from curewatch.events.events import SENSOR, Entry
from curewatch.frozen import frozen
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


@frozen
class SensorCheck:
    """A sensor held against a reference. Values in [C] or [%].

    at: when both were read; recorded_at: from when on its readings are corrected; read: what the
    sensor itself gave, before any correction; offset: what is added to it since; uncertainty: of
    the reference, as far as known; who: by whom, as typed; how: against a reference or by the salt.
    """

    source: str
    quantity: Quantity
    at: datetime
    recorded_at: datetime
    reference: float
    read: float
    offset: float
    uncertainty: float | None = None
    who: str = ""
    how: How = "reference"


@frozen
class Move:
    """A sensor that first reported at another place; `both`: it still reports at the old one."""

    source: str
    quantity: Quantity
    before: str
    after: str
    at: datetime
    both: bool


@frozen
class StuckSpell:
    """A spell in which a sensor was stuck before that was known: from its last change (`since`) to
    the first reading that was flagged."""

    source: str
    place: str
    quantity: Quantity
    since: datetime
    until: datetime


def checks(store: Ledger, source: str | None = None) -> list[SensorCheck]:
    """Every check of one sensor, or of all, in the order entered; a sensor that took up another
    topic keeps those it had under its former one."""
    by_sensor: dict[str, list[SensorCheck]] = {}
    for entry in store.entries(SUBJECT):
        own = by_sensor.setdefault(entry.name, [])
        if entry.kind == "checked":
            own.append(_check(entry))
        elif entry.kind == "renamed":
            former = by_sensor.get(entry.body["from"], [])
            own[:0] = [replace(check, source=entry.name) for check in former]
    groups = by_sensor.values() if source is None else [by_sensor.get(source, [])]
    return sorted(
        (check for group in groups for check in group), key=lambda check: check.recorded_at
    )


def moves(store: Ledger, source: str | None = None) -> list[Move]:
    """Every move of one sensor, or of all, in the order they were noticed."""
    return [_move(entry) for entry in store.entries(SUBJECT, source) if entry.kind == "moved"]


def _check(entry: Entry) -> SensorCheck:
    body = entry.body
    return SensorCheck(
        entry.name,
        check_quantity(body["quantity"]),
        entry.at,
        entry.recorded_at,
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


def stuck_spells(store: Ledger, source: str | None = None) -> list[StuckSpell]:
    """The spells in which one sensor, or any, was stuck and not yet flagged, in order."""
    return [
        StuckSpell(
            entry.name,
            entry.body["place"],
            check_quantity(entry.body["quantity"]),
            entry.at,
            entry.recorded_at,
        )
        for entry in store.entries(SUBJECT, source)
        if entry.kind == "stuck"
    ]


def add_stuck_spell(store: Ledger, flat: StuckSpell) -> None:
    """Keep such a spell, unless it is kept already."""
    recorded = stuck_spells(store, flat.source)
    spell = (flat.place, flat.quantity, flat.since)
    if all((stuck.place, stuck.quantity, stuck.since) != spell for stuck in recorded):
        body: dict[str, Any] = {"place": flat.place, "quantity": flat.quantity}
        store.add_entry(SUBJECT, flat.source, "stuck", flat.since, flat.until, body)


def add_move(store: Ledger, move: Move, recorded_at: datetime) -> None:
    """Keep a move, unless it is the last one kept already."""
    last = [moved for moved in moves(store, move.source) if moved.quantity == move.quantity][-1:]
    if last and (last[0].before, last[0].after) == (move.before, move.after):
        return
    body: dict[str, Any] = {
        "quantity": move.quantity,
        "from": move.before,
        "to": move.after,
        "both": move.both,
    }
    store.add_entry(SUBJECT, move.source, "moved", move.at, recorded_at, body)


def add_rename(store: Ledger, former: str, source: str, now: datetime) -> None:
    """Keep that a sensor publishes on another topic from now on; its checks go with it."""
    store.add_entry(SUBJECT, source, "renamed", now, now, {"from": former})


class Offsets:
    """What is added to each sensor's readings, by when they were measured."""

    def __init__(self, checked: Sequence[SensorCheck]) -> None:
        self._by_sensor: dict[tuple[str, str], tuple[list[float], list[float]]] = {}
        for check in sorted(checked, key=lambda check: check.recorded_at):
            since, offsets = self._by_sensor.setdefault((check.source, check.quantity), ([], []))
            since.append(check.recorded_at.timestamp())
            offsets.append(check.offset)

    def at(self, source: str, quantity: str, at_s: float) -> tuple[float, float]:
        """The correction of a sensor at an instant. [C or %]

        Parameters
        ----------
        source, quantity : str
            The sensor and what it measures.
        at_s : float
            When it was measured, since 1970. [s]

        Returns
        -------
        offset : float
            Added to what the sensor gives; 0 where it was not checked by then. [C or %]
        checked_s : float
            When the check was entered, since 1970; minus infinity where there was none. [s]
        """
        since_and_offsets = self._by_sensor.get((source, quantity))
        if since_and_offsets is None:
            return 0.0, float("-inf")
        index = bisect_right(since_and_offsets[0], at_s) - 1
        return (
            (since_and_offsets[1][index], since_and_offsets[0][index])
            if index >= 0
            else (0.0, float("-inf"))
        )


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
) -> SensorCheck:
    """Record a check; from now on readings of that sensor are corrected by what it was off.

    Parameters
    ----------
    store : Ledger
    source, quantity : str
        The sensor and what it measures.
    reference : float
        What the reference shows. [C or %]
    read : float
        What the sensor gives without any correction. [C or %]
    now : datetime
        From when on it counts.
    read_at : datetime, optional
        When both were read; now where left out.
    uncertainty : float, optional
        Of the reference, as far as known. [C or %]
    who : str
        By whom.
    how : {"reference", "salt"}

    Returns
    -------
    SensorCheck

    Raises
    ------
    ReadingError
        Where the sensor is off by so much that it is broken.
    """
    offset, most, unit = round(reference - read, 3), MOST_OFFSET[quantity], UNITS[quantity]
    if not abs(offset) <= most:
        raise ReadingError(
            f"{read:g} {unit} beside a reference of {reference:g} {unit} is off by more than "
            f"{most:g} {unit}",
            where=source,
            fix="check both again; a sensor that far off is broken",
        )
    check = SensorCheck(
        source, quantity, read_at or now, now, reference, read, offset, uncertainty,
        " ".join(who.split())[:LONGEST_WHO], how,
    )  # fmt: skip
    body = {
        "quantity": quantity,
        "reference": reference,
        "read": read,
        "offset": offset,
        "uncertainty": uncertainty,
        "who": check.who,
        "how": how,
    }
    store.add_entry(SUBJECT, source, "checked", check.at, now, body)
    return check
