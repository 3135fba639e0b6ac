"""Readings that a person typed: entered, corrected by a later one, taken back, used again.

Who types measures once: a second value for the same thing within some minutes corrects the first,
where a sensor that reports every second is averaged. What happened to each stands in the ledger
under the subject "reading"; the rows of the readings are marked by it, and none is deleted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, Literal

from curewatch.climate.flag import REPLACED, TAKEN_BACK, Flag
from curewatch.climate.reading import TYPED_SD_C, TYPED_SD_PCT, UNITS, Quantity, Reading
from curewatch.errors import ReadingError
from curewatch.events.events import UNDO, Entry, undone_by
from curewatch.frozen import frozen
from curewatch.quality.calibration import TYPED
from curewatch.quality.intake import Intake
from curewatch.quality.slips import REMEMBERED, Slip, slips
from curewatch.store.measured import Key, key_of
from curewatch.store.store import Store
from curewatch.walltime import from_ms, to_ms

SUBJECT = "reading"
CORRECTS = timedelta(minutes=10)
LIVE = timedelta(minutes=15)
"""How young a sensor's reading is that counts more than a typed one (climate/sources.py)."""
ALIKE = 0.051
_MS = timedelta(milliseconds=1)
Marks = dict[Key, tuple[Flag, Key | None]]
Change = Literal["taken_back", "used_again"]


@frozen
class BesideSensor:
    """A typed reading, and the sensor's last one of the same thing, which shows something else."""

    typed: Reading
    sensor: Reading


@frozen
class Entered:
    """What typing did: how many readings were new, and which earlier ones they replaced."""

    new: int
    replaced: tuple[Reading, ...] = ()


def _near(store: Store, readings: Sequence[Reading]) -> list[Reading]:
    """What was typed for the same things at about the same time, withdrawn ones too."""
    first, last = min(reading.at for reading in readings), max(reading.at for reading in readings)
    things = {(reading.place, reading.quantity) for reading in readings}
    typed = store.of_source(TYPED, first - CORRECTS, last + CORRECTS)
    return [reading for reading in typed if (reading.place, reading.quantity) in things]


def corrected(store: Store, readings: Sequence[Reading]) -> list[Reading]:
    """The typed readings that these correct: of the same thing, at most ten minutes away."""
    return [reading for reading in _near(store, readings) if not reading.flag]


def _new(store: Store, readings: Sequence[Reading]) -> list[Reading]:
    """The readings that do not stand in the store already, each at an instant of its own."""
    stored = {key_of(reading): reading for reading in _near(store, readings)}
    return [_apart(reading, stored) for reading in readings if not _stands(reading, stored)]


def _stands(reading: Reading, stored: dict[Key, Reading]) -> bool:
    same = stored.get(key_of(reading))
    return same is not None and not same.flag and same.value == reading.value


def _apart(reading: Reading, stored: dict[Key, Reading]) -> Reading:
    while key_of(reading) in stored:
        reading = replace(reading, at=reading.at - _MS)
    return reading


def suspects(
    store: Store,
    readings: Sequence[Reading],
    texts: Mapping[Quantity, str],
    *,
    both_right: bool = False,
) -> list[Slip]:
    """Those of the readings about to be entered that may be slips, by what else was measured.

    texts: as they were typed. What they would replace is not held against them.
    """
    first = min(reading.at for reading in readings) - REMEMBERED
    last = max(reading.at for reading in readings) + REMEMBERED
    measured = store.readings(first, last, bucket_s=60)
    replaced = [] if both_right else corrected(store, readings)
    stands = [e for e in store.of_source(TYPED, first, last) if not e.flag and e not in replaced]
    return slips(readings, texts, [*(e for e in measured if e.source != TYPED), *stands])


def enter(
    store: Store,
    intake: Intake,
    readings: Sequence[Reading],
    now: datetime,
    *,
    both_right: bool = False,
) -> Entered:
    """Store what was typed; it replaces what it corrects, unless both are right."""
    with store.together():
        fresh = _new(store, readings)
        replaced = [] if both_right or not fresh else corrected(store, fresh)
        new = intake.take(fresh)
        for reading in fresh:
            same = [
                e for e in replaced if (e.place, e.quantity) == (reading.place, reading.quantity)
            ]
            _tell(store, reading, "typed", now, replaces=[e.at.isoformat() for e in same])
        store.mark(TYPED, {key_of(reading): REPLACED for reading in replaced})
    return Entered(new, tuple(replaced))


def beside_sensors(store: Store, readings: Sequence[Reading], now: datetime) -> list[BesideSensor]:
    """Those of the typed readings that differ from a sensor which reports the same thing now, by
    more than a typed one may be off."""
    sensed = {
        (reading.place, reading.quantity): reading
        for reading in store.latest(now)
        if reading.source != TYPED and not reading.flag and now - reading.at <= LIVE
    }
    pairs = [
        BesideSensor(reading, sensed[key])
        for reading in readings
        if (key := (reading.place, reading.quantity)) in sensed and now - reading.at <= LIVE
    ]
    return [pair for pair in pairs if _differs(pair)]


def _differs(pair: BesideSensor) -> bool:
    humid = pair.typed.quantity == "relative_humidity"
    return abs(pair.typed.value - pair.sensor.value) > (TYPED_SD_PCT if humid else TYPED_SD_C)


def _tell(store: Store, reading: Reading, kind: str, now: datetime, **more: Any) -> None:
    body = {"quantity": reading.quantity, "value": reading.value, **more}
    store.add_entry(SUBJECT, reading.place, kind, reading.at, now, body)


def marks(entries: Sequence[Entry]) -> Marks:
    """Which typed readings are withdrawn, and which other one replaced them, by all that was ever
    entered of them.

    Where a correction is taken back, or its typing undone, what it had replaced stands again.
    """
    withdrawn: Marks = {}
    entries = [entry for entry in entries if not entry.damaged]
    undone_ids, entry_of = undone_by(entries), {entry.id: entry for entry in entries}
    for entry in entries:
        undone = entry_of.get(entry.body["event"]) if entry.kind == UNDO else None
        if entry.kind == "typed":
            _type(withdrawn, entry)
        elif entry.id in undone_ids:
            continue
        elif entry.kind == TAKEN_BACK.code:
            _withdraw(withdrawn, _key(entry))
        elif entry.kind == "used_again":
            withdrawn.pop(_key(entry), None)
        elif undone is not None and undone.kind == "typed":
            _withdraw(withdrawn, _key(undone))
    return withdrawn


def _key(entry: Entry) -> Key:
    return entry.name, entry.body["quantity"], to_ms(entry.at)


def _type(withdrawn: Marks, entry: Entry) -> None:
    key = _key(entry)
    withdrawn.pop(key, None)
    for text in entry.body.get("replaces", ()):
        withdrawn[key[0], key[1], to_ms(datetime.fromisoformat(text))] = (REPLACED, key)


def _withdraw(withdrawn: Marks, key: Key) -> None:
    before = withdrawn.pop(key, None)
    _give_back(withdrawn, key, before)
    withdrawn[key] = (TAKEN_BACK, None)


def _give_back(withdrawn: Marks, key: Key, before: tuple[Flag, Key | None] | None) -> None:
    for replaced in [replaced for replaced, (_, by) in withdrawn.items() if by == key]:
        if before is None:
            del withdrawn[replaced]
        else:
            withdrawn[replaced] = before


def _change(
    store: Store, readings: Sequence[Reading], kind: Change, now: datetime
) -> list[Reading]:
    with store.together():
        before = marks(store.all_entries(SUBJECT))
        for reading in readings:
            _tell(store, reading, kind, now)
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
    withdrawn = marks(entries)
    recorded = {_key(entry) for entry in entries if entry.kind != UNDO and not entry.damaged}
    store.mark(
        TYPED, {key: withdrawn.get(key, (None, None))[0] for key in recorded | set(withdrawn)}
    )


def at_instant(store: Store, place: str, quantity: str, at: datetime) -> Reading:
    """The typed reading of one thing at one instant. Raises ReadingError where there is none."""
    for reading in store.of_source(TYPED, at, at):
        if (reading.place, reading.quantity) == (place, quantity):
            return reading
    raise ReadingError("there is no such typed reading", fix="load the page again")


def history(store: Store, now: datetime, since: datetime | None = None) -> list[Reading]:
    """What was ever typed, or since an instant, withdrawn ones too, the latest first."""
    return store.of_source(TYPED, since or from_ms(0), now + CORRECTS)


def last_typed(store: Store, now: datetime, place: str | None = None) -> list[Reading]:
    """The readings typed for the latest moment that still stand, at any place or one.

    Raises ReadingError where there is none.
    """
    standing = [e for e in history(store, now) if not e.flag and place in (None, e.place)]
    if not standing:
        raise ReadingError("no typed reading stands", fix="list them with: curewatch reading list")
    return [reading for reading in standing if reading.at == standing[0].at]


def last_like(store: Store, now: datetime, typed: Reading) -> Reading:
    """The latest typed reading that stands and shows what this one does [C or %], to a tenth.

    Raises ReadingError where there is none.
    """
    thing = (typed.place, typed.quantity)
    for reading in history(store, now):
        same = (reading.place, reading.quantity) == thing and abs(
            reading.value - typed.value
        ) <= ALIKE
        if same and not reading.flag:
            return reading
    what = f"{typed.value:g} {UNITS[typed.quantity]}"
    raise ReadingError(
        f"no {typed.quantity.replace('_', ' ')} of {what} was typed for {typed.place}",
        fix="list what you typed with: curewatch reading list",
    )
