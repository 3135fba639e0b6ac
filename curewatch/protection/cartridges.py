"""Cartridges and filters: opened when, worn how long, and when to throw them away.

Notes
-----
The rule for vapour cartridges: gone at the end of the day they were opened, or after 8 hours worn,
or after the maker's figure, whichever comes first; the hours are halved where the air was damper
than 85 % while they were worn [1]_. Never minutes left: for mixtures of vapours there is no
accepted method, model and test differ by 40 % for one solvent, and smell is no gauge.
A particulate filter goes when it is dirty, damaged or harder to breathe through [2]_, or after the
maker's figure; it stops no vapour.

Hours worn come from the steps whose respirator reminder was answered while the cartridge was the
one in use: from that touch to the end of the working time, or to the end of the step if that comes
first (the longest span anyone would stand over the wet work; a choice of ours). Spells that overlap
count once. What was worn besides is entered by hand.

References
----------
.. [1] OSHA, Respirator Change Schedules, "Rule of Thumb", after AIHA, The Occupational Environment,
   chapter 36 (8 hours; above 85 % half). The end of the day is common practice.
.. [2] US National Library of Medicine, Respirator Use (N95: dirty, damaged, hard to breathe).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, get_args
from zoneinfo import ZoneInfo

from curewatch.durations import duration
from curewatch.errors import StepError
from curewatch.events.bodies import CartridgeKind as Kind
from curewatch.events.events import Entry
from curewatch.frozen import frozen
from curewatch.store.ledger import Ledger

SUBJECT = "cartridge"
KINDS: tuple[Kind, ...] = get_args(Kind)
MOST_H, DAMP_PCT = 8.0, 85.0
LONGEST_NAME = 60
VAPOUR_SOURCE = (
    "OSHA, Respirator Change Schedules, rule of thumb after AIHA (8 h, half above 85 % humidity); "
    "end of the day: common practice"
)
DUST_SOURCE = "US National Library of Medicine, Respirator Use: dirty, damaged or hard to breathe"
SMELL = "you cannot judge it by smell"


@frozen
class Worn:
    """A spell it was worn. damp: the air was above 85 %."""

    start: datetime
    end: datetime
    damp: bool = False


@frozen
class Cartridge:
    """One set: its name, what it stops, opened when; maker_h: the maker's figure [h]; told_h: hours
    worn as entered by hand [h]; gone: thrown away when."""

    name: str
    kind: Kind
    opened: datetime
    maker_h: float | None = None
    told_h: float = 0.0
    gone: datetime | None = None


@frozen
class State:
    """A cartridge as of now: worn_h [h], most_h: its limit in hours worn [h], None where it has
    none; discard: whether it is to go; words why."""

    cartridge: Cartridge
    worn_h: float
    most_h: float | None
    discard: bool
    words: str
    source: str


def _next(cartridge: Cartridge | None, entry: Entry) -> Cartridge | None:
    body: Any = entry.body
    if entry.kind == "opened":
        return Cartridge(body["name"], body["kind"], entry.at, body.get("maker_h"))
    if cartridge is None:
        return None
    if entry.kind == "worn":
        return replace(cartridge, told_h=cartridge.told_h + body["hours"])
    return replace(cartridge, gone=entry.at) if entry.kind == "discarded" else cartridge


def _replaced(cartridge: Cartridge, at: datetime) -> Cartridge:
    return cartridge if cartridge.gone else replace(cartridge, gone=at)


def cartridges(store: Ledger) -> list[Cartridge]:
    """Every set ever opened, the newest last; one opened again under its name is a new one."""
    replaced: list[Cartridge] = []
    open_ones: dict[str, Cartridge] = {}
    for entry in store.entries(SUBJECT):
        now_is = _next(open_ones.get(entry.name), entry)
        if now_is is None:
            continue
        if entry.kind == "opened" and entry.name in open_ones:
            replaced.append(_replaced(open_ones.pop(entry.name), entry.at))
        open_ones[entry.name] = now_is
    return sorted([*replaced, *open_ones.values()], key=lambda cartridge: cartridge.opened)


def _key(name: str) -> str:
    return " ".join(name.split()).casefold()[:LONGEST_NAME]


def find(store: Ledger, name: str) -> Cartridge:
    """The set in use under a name. Raises StepError."""
    for cartridge in reversed(cartridges(store)):
        if _key(cartridge.name) == _key(name) and cartridge.gone is None:
            return cartridge
    fix = "list them with: curewatch mask list"
    raise StepError(f"no cartridge {name[:40]!r} is in use", fix=fix)


def open_new(
    store: Ledger, name: str, kind: str, *, now: datetime, maker_h: float | None = None
) -> Cartridge:
    """Record that a set was opened; one in use under the name is replaced. maker_h [h]"""
    shown = " ".join(name.split())[:LONGEST_NAME]
    if not shown:
        raise StepError("the cartridge has no name", fix="name it, like 'mask'")
    if kind not in KINDS:
        raise StepError(
            f"{kind[:40]!r} is not a kind of cartridge", fix=f"use {' or '.join(KINDS)}"
        )
    if maker_h is not None and not 0 < maker_h <= 1000:
        raise StepError(f"the maker's {maker_h:g} h cannot be", fix="check the leaflet")
    body = {"name": shown, "kind": kind, "maker_h": maker_h}
    store.add_entry(SUBJECT, _key(shown), "opened", now, now, body)
    return find(store, shown)


def worn(store: Ledger, name: str, hours: float, *, now: datetime) -> Cartridge:
    """Add hours worn that no step tells of. hours [h]"""
    cartridge = find(store, name)
    if not 0 < hours <= 24:
        raise StepError(f"{hours:g} h worn cannot be", fix="write it like '1.5 h'")
    store.add_entry(SUBJECT, _key(cartridge.name), "worn", now, now, {"hours": hours})
    return find(store, name)


def discard(store: Ledger, name: str, *, now: datetime) -> None:
    """Record that a set was thrown away."""
    store.add_entry(SUBJECT, _key(find(store, name).name), "discarded", now, now, {})


def hours(spells: Sequence[Worn]) -> float:
    """Length of spells, where they overlap once. [h]"""
    total, until = timedelta(), None
    for wear in sorted(spells, key=lambda spell: spell.start):
        start = wear.start if until is None else max(wear.start, until)
        if wear.end > start:
            total += wear.end - start
            until = wear.end
    return total / timedelta(hours=1)


def within(cartridge: Cartridge, spells: Sequence[Worn], now: datetime) -> list[Worn]:
    """Those of the spells in which this set was the one in use, cut to its days and to now."""
    end = min(now, cartridge.gone) if cartridge.gone else now
    cut = [
        replace(wear, start=max(wear.start, cartridge.opened), end=min(wear.end, end))
        for wear in spells
    ]
    return [wear for wear in cut if wear.end > wear.start]


def limit_h(cartridge: Cartridge, damp: bool) -> float | None:
    """Most hours worn. [h]; None for a dust filter without a maker's figure"""
    if cartridge.kind == "dust":
        return cartridge.maker_h
    most = min(MOST_H, cartridge.maker_h or MOST_H)
    return most / 2 if damp else most


def state(cartridge: Cartridge, spells: Sequence[Worn], now: datetime, zone: ZoneInfo) -> State:
    """Whether a set is to be thrown away by the rule, and why; never how long it still lasts."""
    worn_in = within(cartridge, spells, now)
    damp = any(wear.damp for wear in worn_in)
    total, most = hours(worn_in) + cartridge.told_h, limit_h(cartridge, damp)
    source = VAPOUR_SOURCE if cartridge.kind == "vapour" else DUST_SOURCE
    past_day = now.astimezone(zone).date() > cartridge.opened.astimezone(zone).date()
    why = _why(cartridge, total, most, damp, past_day)
    words = f"worn {duration(60 * total, 'up')}" if total else "not worn yet"
    if why:
        words += f": discard it, {why}"
    elif cartridge.kind == "vapour":
        words += f": discard it at the end of the day, or after {duration(60 * (most or 0))} worn"
        words += ", halved in damp air" if damp else ""
        words += f"; {SMELL}"
    else:
        words += ": discard it when dirty, damaged or harder to breathe through; stops no vapour"
    return State(cartridge, total, most, bool(why), words, source)


def _why(
    cartridge: Cartridge, total_h: float, most_h: float | None, damp: bool, past_day: bool
) -> str:
    if most_h is not None and total_h >= most_h:
        halved = " (halved: the air was above 85 %)" if damp and cartridge.kind == "vapour" else ""
        return f"{duration(60 * most_h, 'down')} worn is the most{halved}"
    if cartridge.kind == "vapour" and past_day:
        return "the day it was opened is over"
    return ""


def as_json(state: State) -> dict[str, Any]:
    """A cartridge's state as plain data; hours worn, and no hours left."""
    cartridge = state.cartridge
    return {
        "name": cartridge.name,
        "kind": cartridge.kind,
        "opened": cartridge.opened.isoformat(),
        "discarded": cartridge.gone.isoformat() if cartridge.gone else None,
        "worn_h": round(state.worn_h, 2),
        "most_h": state.most_h,
        "discard": state.discard,
        "words": state.words,
        "source": state.source,
    }
