"""The lamps and heaters one owns, what they really did, and the price of energy, as entered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, get_args

from curewatch.errors import StepError
from curewatch.events.bodies import HeatedPlace
from curewatch.events.events import Entry
from curewatch.frozen import frozen
from curewatch.store.ledger import Ledger

SUBJECT, ENERGY = "heater", "energy"
PLACES: tuple[HeatedPlace, ...] = get_args(HeatedPlace)
LONGEST_NAME = 60
WATTS, LIT_M2, PRICE = (10.0, 20_000.0), (0.02, 10.0), (0.0, 100.0)
USUAL_LIT_M2 = 0.5
MOST_RISE_K = 60.0
LONGEST = timedelta(hours=24)


@frozen
class Run:
    """A spell in which a heater was on."""

    start: datetime
    end: datetime


@frozen
class Heater:
    """A lamp on a panel or a heater in the room: watts [W]; lit_m2: what a lamp lights [m2];
    probed_k: how much warmer a probe under it was [K], None where nobody has looked; runs: when it
    was told to be on."""

    name: str
    watts: float
    on: HeatedPlace
    lit_m2: float
    probed_k: float | None = None
    runs: tuple[Run, ...] = ()


def _next(heater: Heater | None, entry: Entry) -> Heater | None:
    body: Any = entry.body
    if entry.kind == "owned":
        kept = heater.runs if heater is not None else ()
        return Heater(body["name"], body["watts"], body["heats"], body["lit_m2"], None, kept)
    if heater is None or entry.kind == "sold":
        return None
    if entry.kind == "probed":
        return replace(heater, probed_k=body["rise_k"])
    run = Run(entry.at, datetime.fromisoformat(body["until"]))
    return replace(heater, runs=(*heater.runs, run))


def heaters(store: Ledger) -> list[Heater]:
    """What one owns, in the order it was entered."""
    owned: dict[str, Heater] = {}
    for entry in store.entries(SUBJECT):
        now_is = _next(owned.get(entry.name), entry)
        if now_is is None:
            owned.pop(entry.name, None)
        else:
            owned[entry.name] = now_is
    return list(owned.values())


def _key(name: str) -> str:
    return " ".join(name.split()).casefold()[:LONGEST_NAME]


def find(store: Ledger, name: str) -> Heater:
    """The heater of a name. Raises StepError."""
    for heater in heaters(store):
        if _key(heater.name) == _key(name):
            return heater
    raise StepError(
        f"there is no heater {name[:40]!r}", fix="list them with: curewatch heater list"
    )


def within(value: float, span: tuple[float, float], what: str, unit: str) -> float:
    """The value, where it is in its span. Raises StepError."""
    if not span[0] <= value <= span[1]:
        raise StepError(
            f"{what} of {value:g} {unit} cannot be",
            fix=f"give {span[0]:g} to {span[1]:g} {unit}",
        )
    return value


def own(
    store: Ledger,
    name: str,
    watts: float,
    heats: HeatedPlace,
    *,
    now: datetime,
    lit_m2: float = USUAL_LIT_M2,
) -> Heater:
    """Enter a lamp or heater, or correct one of that name. watts [W]; lit_m2 [m2]"""
    shown = " ".join(name.split())[:LONGEST_NAME]
    if not shown:
        raise StepError("the heater has no name", fix="name it, like 'work lamp'")
    body = {
        "name": shown,
        "watts": within(watts, WATTS, "a power", "W"),
        "heats": heats,
        "lit_m2": within(lit_m2, LIT_M2, "a lit area", "m2"),
    }
    store.add_entry(SUBJECT, _key(shown), "owned", now, now, body)
    return find(store, shown)


def probed(store: Ledger, name: str, rise_k: float, *, now: datetime) -> Heater:
    """Enter how much warmer a probe on the metal was under a lamp than before. [K]"""
    heater = find(store, name)
    if heater.on != "panel":
        raise StepError(
            f"{heater.name} heats the room", fix="enter when it was on: curewatch heater ran"
        )
    if not 0 < rise_k <= MOST_RISE_K:
        raise StepError(
            "the probe must be warmer under the lamp than before", fix="give both temperatures"
        )
    store.add_entry(SUBJECT, _key(heater.name), "probed", now, now, {"rise_k": rise_k})
    return find(store, name)


def ran(store: Ledger, name: str, start: datetime, end: datetime, *, now: datetime) -> Heater:
    """Enter from when to when a heater was on."""
    heater = find(store, name)
    if not start < end <= now or end - start > LONGEST:
        raise StepError(
            "that is no spell that is over",
            fix="give when it went on and off, like 17:00 and 21:00",
        )
    body = {"until": end.isoformat()}
    store.add_entry(SUBJECT, _key(heater.name), "ran", start, now, body)
    return find(store, name)


def sold(store: Ledger, name: str, *, now: datetime) -> None:
    """Take a heater off the list."""
    store.add_entry(SUBJECT, _key(find(store, name).name), "sold", now, now, {})


def energy_price(store: Ledger) -> float | None:
    """What a kilowatt hour costs, in the user's money, as entered last. [1/kWh]"""
    entries = store.entries(ENERGY, "price")
    return float(entries[-1].body["price"]) if entries else None


def set_energy_price(store: Ledger, value: float, *, now: datetime) -> None:
    """Keep what a kilowatt hour costs. [1/kWh]"""
    within(value, PRICE, "a price", "for each kWh")
    store.add_entry(ENERGY, "price", "told", now, now, {"price": value})


def room_runs(store: Ledger) -> Iterator[tuple[Heater, Run]]:
    """Every spell in which a heater of the room was on, as entered."""
    for heater in heaters(store):
        if heater.on == "room":
            yield from ((heater, run) for run in heater.runs)
