"""Readings that a person typed: entered, corrected by a later one, taken back, used again.

Who types measures once: a second value for the same thing within some minutes corrects the first,
where a sensor that reports every second is averaged. What happened to each stands in the ledger
under the subject "reading"; the rows of the readings are marked by it, and none is deleted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, Literal

from curewatch.climate.flag import REPLACED, TAKEN_BACK, Flag
from curewatch.climate.reading import UNITS, Quantity, Reading
from curewatch.errors import ReadingError
from curewatch.events.events import UNDO, Entry, undone_by
from curewatch.quality.calibration import TYPED
from curewatch.quality.intake import Intake
from curewatch.quality.slips import REMEMBERED, Slip, slips
from curewatch.store.marking import Key, key_of
from curewatch.store.store import Store
from curewatch.walltime import from_ms, to_ms

SUBJECT = "reading"
CORRECTS = timedelta(minutes=10)
ALIKE = 0.051
_MS = timedelta(milliseconds=1)
Marks = dict[Key, tuple[Flag, Key | None]]
Change = Literal["taken_back", "used_again"]


@dataclass(frozen=True)
class Entered:
    """What typing did: how many readings were new, and which earlier ones they replaced."""

    new: int
    replaced: tuple[Reading, ...] = ()


def _near(store: Store, readings: Sequence[Reading]) -> list[Reading]:
    """What was typed for the same things at about the same time, withdrawn ones too."""
    first, last = min(each.at for each in readings), max(each.at for each in readings)
    things = {(each.place, each.quantity) for each in readings}
    held = store.of_source(TYPED, first - CORRECTS, last + CORRECTS)
    return [each for each in held if (each.place, each.quantity) in things]


def corrected(store: Store, readings: Sequence[Reading]) -> list[Reading]:
    """The typed readings that these correct: of the same thing, at most ten minutes away."""
    return [each for each in _near(store, readings) if not each.flag]


def _new(store: Store, readings: Sequence[Reading]) -> list[Reading]:
    """The readings that do not stand in the store already, each at an instant of its own."""
    held = {key_of(each): each for each in _near(store, readings)}
    return [_apart(each, held) for each in readings if not _stands(each, held)]


def _stands(reading: Reading, held: dict[Key, Reading]) -> bool:
    same = held.get(key_of(reading))
    return same is not None and not same.flag and same.value == reading.value


def _apart(reading: Reading, held: dict[Key, Reading]) -> Reading:
    while key_of(reading) in held:
        reading = replace(reading, at=reading.at - _MS)
    return reading


def suspects(
    store: Store, readings: Sequence[Reading], texts: Mapping[Quantity, str], *, also: bool = False
) -> list[Slip]:
    """Those of the readings about to be entered that may be slips, by what else was measured.

    texts: as they were typed. What they would replace is not held against them.
    """
    first = min(each.at for each in readings) - REMEMBERED
    last = max(each.at for each in readings) + REMEMBERED
    heard = store.readings(first, last, bucket_s=60)
    gone = [] if also else corrected(store, readings)
    stands = [e for e in store.of_source(TYPED, first, last) if not e.flag and e not in gone]
    return slips(readings, texts, [*(e for e in heard if e.source != TYPED), *stands])


def enter(
    store: Store, intake: Intake, readings: Sequence[Reading], now: datetime, *, also: bool = False
) -> Entered:
    """Store what was typed; it replaces what it corrects, unless both are right (`also`)."""
    with store.together():
        fresh = _new(store, readings)
        gone = [] if also or not fresh else corrected(store, fresh)
        new = intake.take(fresh)
        for each in fresh:
            same = [e for e in gone if (e.place, e.quantity) == (each.place, each.quantity)]
            _tell(store, each, "typed", now, replaces=[e.at.isoformat() for e in same])
        store.mark(TYPED, {key_of(each): REPLACED for each in gone})
    return Entered(new, tuple(gone))


def _tell(store: Store, reading: Reading, kind: str, now: datetime, **more: Any) -> None:
    body = {"quantity": reading.quantity, "value": reading.value, **more}
    store.add_entry(SUBJECT, reading.place, kind, reading.at, now, body)


def marks(entries: Sequence[Entry]) -> Marks:
    """Which typed readings are withdrawn, and which other one replaced them, by all that was ever
    told of them.

    Where a correction is taken back, or its typing undone, what it had replaced stands again.
    """
    found: Marks = {}
    entries = [each for each in entries if not each.damaged]
    gone, told = undone_by(entries), {each.id: each for each in entries}
    for each in entries:
        undone = told.get(each.body["event"]) if each.kind == UNDO else None
        if each.kind == "typed":
            _type(found, each)
        elif each.id in gone:
            continue
        elif each.kind == TAKEN_BACK.code:
            _withdraw(found, _key(each))
        elif each.kind == "used_again":
            found.pop(_key(each), None)
        elif undone is not None and undone.kind == "typed":
            _withdraw(found, _key(undone))
    return found


def _key(entry: Entry) -> Key:
    return entry.name, entry.body["quantity"], to_ms(entry.at)


def _type(found: Marks, entry: Entry) -> None:
    key = _key(entry)
    found.pop(key, None)
    for text in entry.body.get("replaces", ()):
        found[key[0], key[1], to_ms(datetime.fromisoformat(text))] = (REPLACED, key)


def _withdraw(found: Marks, key: Key) -> None:
    before = found.pop(key, None)
    _give_back(found, key, before)
    found[key] = (TAKEN_BACK, None)


def _give_back(found: Marks, key: Key, before: tuple[Flag, Key | None] | None) -> None:
    for other in [other for other, (_, by) in found.items() if by == key]:
        if before is None:
            del found[other]
        else:
            found[other] = before


def _change(
    store: Store, readings: Sequence[Reading], kind: Change, now: datetime
) -> list[Reading]:
    with store.together():
        before = marks(store.all_entries(SUBJECT))
        for each in readings:
            _tell(store, each, kind, now)
        after = marks(store.all_entries(SUBJECT))
        moved = [key for key in before | after if before.get(key) != after.get(key)]
        store.mark(TYPED, {key: after.get(key, (None, None))[0] for key in moved})
    again = [key for key in moved if key not in after]
    return [at_instant(store, place, quantity, from_ms(ms)) for place, quantity, ms in again]


def take_back(store: Store, readings: Sequence[Reading], now: datetime) -> list[Reading]:
    """Take typed readings back: they were a slip. What they had replaced stands again, and is
    returned."""
    return _change(store, readings, "taken_back", now)


def use_again(store: Store, readings: Sequence[Reading], now: datetime) -> list[Reading]:
    """Let typed readings that were replaced or taken back stand again; returns them."""
    return _change(store, readings, "used_again", now)


def settle(store: Store) -> None:
    """Mark the typed readings as the ledger says, after another logbook was taken in, or after an
    undo."""
    entries = store.all_entries(SUBJECT)
    found = marks(entries)
    told = {_key(each) for each in entries if each.kind != UNDO and not each.damaged}
    store.mark(TYPED, {key: found.get(key, (None, None))[0] for key in told | set(found)})


def at_instant(store: Store, place: str, quantity: str, at: datetime) -> Reading:
    """The typed reading of one thing at one instant. Raises ReadingError where there is none."""
    for each in store.of_source(TYPED, at, at):
        if (each.place, each.quantity) == (place, quantity):
            return each
    raise ReadingError("there is no such typed reading", fix="load the page again")


def history(store: Store, now: datetime, since: datetime | None = None) -> list[Reading]:
    """What was ever typed, or since an instant, withdrawn ones too, the latest first."""
    return store.of_source(TYPED, since or from_ms(0), now + CORRECTS)


def last_typed(store: Store, now: datetime, place: str | None = None) -> list[Reading]:
    """The readings typed for the latest moment that still stand, at any place or one.

    Raises ReadingError where there is none.
    """
    held = [e for e in history(store, now) if not e.flag and place in (None, e.place)]
    if not held:
        raise ReadingError("no typed reading stands", fix="see them with: curewatch reading list")
    return [each for each in held if each.at == held[0].at]


def last_like(store: Store, now: datetime, wanted: Reading) -> Reading:
    """The latest typed reading that stands and shows what this one does [C or %], to a tenth.

    Raises ReadingError where there is none.
    """
    thing = (wanted.place, wanted.quantity)
    for each in history(store, now):
        same = (each.place, each.quantity) == thing and abs(each.value - wanted.value) <= ALIKE
        if same and not each.flag:
            return each
    what = f"{wanted.value:g} {UNITS[wanted.quantity]}"
    raise ReadingError(
        f"no {wanted.quantity.replace('_', ' ')} of {what} was typed for {wanted.place}",
        fix="see what was typed with: curewatch reading list",
    )
