"""The cans on the shelf: bought, opened, expiry, batches, where stored, last used, used up.

Each thing told is one entry of the ledger; a can is those entries, read in order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields, replace
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any, Literal

from curewatch.days import day_words
from curewatch.errors import StepError
from curewatch.events.events import Entry, standing
from curewatch.frozen import frozen
from curewatch.garage.shelf import find_sheet

if TYPE_CHECKING:
    from curewatch.products.sheet import Sheet
    from curewatch.store.store import Store

SUBJECT = "can"
LONGEST_TEXT = 200
DAYS = ("bought", "opened", "expiry")
Why = Literal["printed", "bought", "opened"]


@frozen
class Can:
    """One can, cartridge or pair of them: its number, the sheet it is of, its batches, its days.

    stored: a place with a sensor, or words; stored_since: when it came there, as entered; moved:
    whether it stood elsewhere before.
    """

    id: int
    sheet_id: str
    batch: str = ""
    hardener_batch: str = ""
    bought: date | None = None
    opened: date | None = None
    expiry: date | None = None
    stored: str = ""
    used_up: bool = False
    last_used: datetime | None = None
    stored_since: datetime | None = None
    moved: bool = False

    @property
    def batches(self) -> str:
        """Its batches as a step keeps them."""
        texts = [self.batch, f"hardener {self.hardener_batch}" if self.hardener_batch else ""]
        return ", ".join(text for text in texts if text)


@frozen
class CanDetails:
    """What may be recorded of a can, at once or later; None: not recorded."""

    batch: str | None = None
    hardener_batch: str | None = None
    bought: date | None = None
    opened: date | None = None
    expiry: date | None = None
    stored: str | None = None

    def body(self) -> dict[str, str]:
        """The fields that were recorded, as the ledger keeps them."""
        values = {field.name: getattr(self, field.name) for field in fields(self)}
        return {
            key: value.isoformat() if isinstance(value, date) else value.strip()[:LONGEST_TEXT]
            for key, value in values.items()
            if value is not None
        }


def days_in(body: Mapping[str, str]) -> str:
    """The dates of what was recorded of a can, in words, so that one that was misread is seen."""
    days = {name: body[name] for name in DAYS if name in body}
    return ", ".join(f"{name} {day_words(date.fromisoformat(day))}" for name, day in days.items())


@frozen
class UseBy:
    """The last day a can is within its life, and whose figure that is."""

    day: date
    why: Why


def _changed(can: Can, entry: Entry) -> Can:
    changes: dict[str, Any] = {
        key: entry.body[key] for key in vars(CanDetails()) if key in entry.body
    }
    changes |= {key: date.fromisoformat(changes[key]) for key in DAYS if key in changes}
    if "stored" in changes and changes["stored"] != can.stored:
        changes["stored_since"] = entry.at
        changes["moved"] = bool(can.stored)
    if "used_up" in entry.body:
        changes["used_up"] = bool(entry.body["used_up"])
    return replace(can, **changes)


def numbered(entries: Sequence[Entry]) -> dict[int, int]:
    """The number of each can by that of the entry that added it: they are counted as they were
    added, also those undone since."""
    added = [entry.id for entry in entries if entry.kind == "added"]
    return {id: number for number, id in enumerate(added, 1)}


def _fold(entries: Sequence[Entry]) -> dict[int, Can]:
    """The cans that these entries are about; the entries are all that were ever made of cans."""
    by_number: dict[int, Can] = {}
    numbers = numbered(entries)
    for entry in standing(entries):
        if entry.kind == "added":
            number = numbers[entry.id]
            by_number[number] = _changed(Can(number, str(entry.body["sheet_id"])), entry)
        elif entry.name.isdecimal() and int(entry.name) in by_number:
            by_number[int(entry.name)] = _changed(by_number[int(entry.name)], entry)
    return by_number


def _last_used(can: Can, used: Mapping[tuple[str, str, int], datetime]) -> Can:
    names = {text.casefold() for text in (can.batch, can.batches) if text}
    at = [
        when
        for (sheet, batch, number), when in used.items()
        if sheet == can.sheet_id
        and (number == can.id or (number == 0 and batch.casefold() in names))
    ]
    return replace(can, last_used=max(at, default=None))


def cans(store: Store, sheet_id: str | None = None) -> list[Can]:
    """Every can ever entered, or those of one product, in the order they were entered."""
    used = store.batches_used()
    dict_values = _fold(store.all_entries(SUBJECT)).values()
    return [_last_used(can, used) for can in dict_values if sheet_id in (None, can.sheet_id)]


def find_can(store: Store, number: int) -> Can:
    """One can by its number. Raises StepError."""
    chosen = next((can for can in cans(store) if can.id == number), None)
    if chosen is None:
        raise StepError(f"there is no can {number}", fix="list them with: curewatch can list")
    return chosen


def used_from(candidates: Iterable[Can]) -> Can | None:
    """Of the cans of one product, the one a mix comes from: opened last, else the only one."""
    usable = [can for can in candidates if not can.used_up]
    begun = [can for can in usable if can.opened is not None or can.last_used is not None]
    if begun:
        return max(begun, key=lambda can: (can.opened or date.min, can.id))
    return usable[0] if len(usable) == 1 else None


def in_use(store: Store, sheet_id: str) -> Can | None:
    """The can that a mix of this product comes from."""
    return used_from(cans(store, sheet_id))


def picked(store: Store, sheet_id: str) -> dict[str, Any]:
    """What a mix of this product takes over from the can in use; empty where none is."""
    can = in_use(store, sheet_id)
    if can is None:
        return {}
    expiry = can.expiry.isoformat() if can.expiry else ""
    batches = {"batch": can.batch, "hardener_batch": can.hardener_batch, "expiry": expiry}
    return {"can": can.id} | {key: value for key, value in batches.items() if value}


def batch_again(store: Store, sheet_id: str, last: str) -> str:
    """The batch entered for a repeated mix: the last mix's, or '' where a can is in use,
    for then that one's is filled in."""
    return "" if in_use(store, sheet_id) else last


def use_by(can: Can, sheet: Sheet) -> UseBy | None:
    """The earliest of: the expiry printed on it, else its shelf life from the day it was bought;
    and its life once opened. None where neither can nor sheet tells one."""
    storage, last_days = sheet.storage, list[UseBy]()
    if can.expiry is not None:
        last_days.append(UseBy(can.expiry, "printed"))
    elif can.bought is not None and storage.shelf_life is not None:
        last_days.append(UseBy(storage.shelf_life.after(can.bought), "bought"))
    if can.opened is not None and storage.opened_life is not None:
        last_days.append(UseBy(storage.opened_life.after(can.opened), "opened"))
    return min(last_days, key=lambda last: last.day, default=None)


def _check(can: Can, now: datetime) -> None:
    latest = (now + timedelta(days=1)).date()
    for name in ("bought", "opened"):
        day = getattr(can, name)
        if day is not None and day > latest:
            raise StepError(f"{name} {day} is in the future", fix="check the date")
    if can.bought and can.opened and can.opened < can.bought:
        raise StepError(
            f"opened {can.opened} is before bought {can.bought}", fix="check both dates"
        )
    if can.bought and can.expiry and can.expiry < can.bought:
        raise StepError(
            f"expiry {can.expiry} is before bought {can.bought}", fix="check both dates"
        )


def _tell(store: Store, number: int, kind: str, now: datetime, body: Mapping[str, Any]) -> Can:
    entry = Entry(0, SUBJECT, str(number), kind, now, now, body)
    _check(_changed(find_can(store, number), entry), now)
    store.add_entry(SUBJECT, str(number), kind, now, now, body)
    return find_can(store, number)


def add(store: Store, sheet_id: str, details: CanDetails, *, now: datetime, who: str = "") -> Can:
    """Put a can on the shelf; returns it with its number."""
    sheet, body = find_sheet(store, sheet_id), details.body()
    _check(_changed(Can(0, sheet.id), Entry(0, SUBJECT, "", "added", now, now, body)), now)
    row = store.add_entry(SUBJECT, "", "added", now, now, body | {"sheet_id": sheet.id, "who": who})
    return find_can(store, numbered(store.all_entries(SUBJECT))[row])


def opened(store: Store, number: int, day: date, *, now: datetime, who: str = "") -> Can:
    """Record the local day a can was opened."""
    return _tell(store, number, "opened", now, {"opened": day.isoformat(), "who": who})


def amend(
    store: Store, number: int, details: CanDetails, *, now: datetime, who: str = "", why: str = ""
) -> Can:
    """Add or correct what is known of a can; what stood before stays in the ledger."""
    body = details.body()
    if not body:
        raise StepError("nothing was entered", fix="name what to add, like --batch or --expiry")
    return _tell(store, number, "amended", now, body | {"who": who, "why": why[:LONGEST_TEXT]})


def used_up(store: Store, number: int, *, now: datetime, who: str = "", back: bool = False) -> Can:
    """Record that a can is used up; `back`: that it is not, after all."""
    return _tell(store, number, "used up", now, {"used_up": not back, "who": who})
