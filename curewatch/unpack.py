"""Reading the JSON of another curewatch, checked piece by piece, and taking it in."""

from __future__ import annotations

import json
import math
from base64 import b64decode
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from curewatch import parcel, photographs, typed
from curewatch.answers import in_present_words
from curewatch.bodies import wrong_with
from curewatch.errors import ConfigError, CurewatchError
from curewatch.instants import from_ms, to_ms
from curewatch.ledger import Entry
from curewatch.merge import Taken
from curewatch.reading import Reading, make_reading
from curewatch.sheet import parse_sheet
from curewatch.step import fold
from curewatch.store import Event, Store

MOST_BYTES = 1_000_000_000
BATCH = 5000
HOUR_MS = 3_600_000
READ = (1, parcel.FORMAT)
_FIX = "take it from: curewatch log --json"


@dataclass
class Parcel:
    """What a file held, checked: events of each step, entries, sheets, readings, photographs."""

    steps: list[list[Event]] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    sheets: dict[str, tuple[str, int]] = field(default_factory=dict)
    readings: list[Reading] = field(default_factory=list)
    hours: list[Reading] = field(default_factory=list)
    photographs: list[tuple[str, bytes]] = field(default_factory=list)


@dataclass(frozen=True)
class Arrived:
    """What was new."""

    taken: Taken
    readings: int
    photographs: int


def _refused(what: str, where: str) -> ConfigError:
    return ConfigError(what, where=where, fix=_FIX)


def _get(item: Any, key: str, kind: type | tuple[type, ...], where: str) -> Any:
    value = item.get(key) if isinstance(item, dict) else None
    if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
        raise _refused(f"{key} is missing or of the wrong kind", where)
    return value


def _instant(item: Any, key: str, where: str) -> datetime:
    text = _get(item, key, str, where)
    try:
        at = datetime.fromisoformat(text)
        if at.tzinfo is None:
            raise ValueError(text)
        return at.astimezone(UTC)
    except (ValueError, OverflowError):
        raise _refused(f"{key} {text[:40]!r} is no instant with a time zone", where) from None


def _told(item: Any, where: str) -> tuple[str, datetime, datetime, Any]:
    kind, body = _get(item, "kind", str, where), _get(item, "body", dict, where)
    if kind == "tested":
        body = in_present_words(body)
    wrong = wrong_with(kind, body, item.get("subject", ""))
    if wrong:
        raise _refused(f"the event cannot be read: {wrong}", where)
    return kind, _instant(item, "at", where), _instant(item, "told", where), body


def _act(item: Any) -> int:
    """The act it was part of; 0 in a file of a curewatch that did not number them."""
    number = item.get("act")
    return number if type(number) is int and number > 0 else 0


def _step(item: Any, where: str) -> list[Event]:
    number = _get(item, "step", int, where)
    events = []
    for index, each in enumerate(_get(item, "events", list, where)):
        at = f"{where}, event {index + 1}"
        events.append(Event(_get(each, "event", int, at), number, *_told(each, at), _act(each)))
    if not events or events[0].kind != "started":
        raise _refused("a step must begin with its start", where)
    try:
        fold(events)
    except CurewatchError as error:
        raise _refused(f"the step cannot be read ({error.what})", where) from None
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise _refused(f"the step cannot be read ({type(error).__name__})", where) from None
    return events


def _entry(item: Any, where: str) -> Entry:
    subject, name = _get(item, "subject", str, where), _get(item, "name", str, where)
    number = _get(item, "entry", int, where)
    return Entry(number, subject, name, *_told(item, where), _act(item))


def _series(item: Any, where: str) -> Iterator[Reading]:
    source, place = _get(item, "source", str, where), _get(item, "place", str, where)
    quantity, ms = _get(item, "quantity", str, where), to_ms(_instant(item, "from", where))
    later, values = _get(item, "ms_later", list, where), _get(item, "values", list, where)
    if len(later) != len(values):
        raise _refused("there are not as many values as times", where)
    for step_ms, value in zip(later, values, strict=True):
        if not (type(step_ms) is int and step_ms >= 0 and type(value) in (int, float)):
            raise _refused(f"{str(step_ms)[:20]}: {str(value)[:20]} is no reading", where)
        ms += step_ms
        try:
            at, value = from_ms(ms), float(value)
        except (ValueError, OverflowError, OSError):
            raise _refused("a reading is of no possible time or value", where) from None
        yield make_reading(place, quantity, value, at, source)


def _photograph(item: Any, where: str) -> tuple[str, bytes]:
    name = _get(item, "name", str, where)
    try:
        return name, b64decode(_get(item, "jpeg", str, where), validate=True)
    except ValueError:
        raise _refused("a photograph is no base64", where) from None


def unpack(text: str, where: str) -> Parcel:
    """What a file holds. Raises a sentence of ours where it is no logbook."""
    try:
        data = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise _refused("it is no JSON", where) from None
    if not isinstance(data, dict) or "curewatch" not in data:
        raise _refused("it is no logbook of a curewatch", where)
    if data["curewatch"] not in READ:
        known = " and ".join(map(str, READ))
        raise _refused(f"its format is {data['curewatch']!r:.20}, this reads {known}", where)
    found = Parcel()
    for index, each in enumerate(_get(data, "steps", list, where), 1):
        found.steps.append(_step(each, f"{where}, step {index} of the list"))
    found.steps.sort(key=lambda events: events[0].step)
    for index, each in enumerate(_get(data, "ledger", list, where), 1):
        found.entries.append(_entry(each, f"{where}, entry {index} of the ledger"))
    made = to_ms(_instant(data, "made", where))
    for each in _get(data, "sheets", list, where):
        id, text = _get(each, "sheet", str, where), _get(each, "text", str, where)
        parse_sheet(text, id)
        found.sheets[id] = text, made
    for index, each in enumerate(_get(data, "readings", list, where), 1):
        held = list(_series(each, f"{where}, readings {index}"))
        (found.hours if each.get("every") == "hour" else found.readings).extend(held)
    for each in _get(data, "photographs", list, where):
        found.photographs.append(_photograph(each, where))
    return found


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")


def _hour(each: Reading) -> tuple[str, str, str, int]:
    return each.source, each.place, each.quantity, math.floor(to_ms(each.at) / HOUR_MS)


def _hours(store: Store, parcel: Parcel) -> list[Reading]:
    """The means of the hours that have no reading of their own, here or in the file."""
    if not parcel.hours:
        return []
    known = {_hour(each) for each in parcel.readings}
    days: dict[int, list[Reading]] = defaultdict(list)
    for each in parcel.hours:
        days[to_ms(each.at) // (24 * HOUR_MS)].append(each)
    kept = []
    for day, held in days.items():
        start = from_ms(day * 24 * HOUR_MS)
        end = from_ms((day + 1) * 24 * HOUR_MS - 1)
        here = known | {_hour(each) for each in store.readings(start, end, bucket_s=3600)}
        kept += [each for each in held if _hour(each) not in here]
    return kept


def take_in(store: Store, parcel: Parcel) -> Arrived:
    """Store what is new: photographs and readings first, then all that was told, in one piece."""
    new = 0
    for name, data in parcel.photographs:
        before = photographs.path_of(store.path, name).exists()
        photographs.arrive(data, name, store.path)
        new += not before
    readings = [*parcel.readings, *_hours(store, parcel)]
    stored = sum(
        store.add_readings(readings[first : first + BATCH])
        for first in range(0, len(readings), BATCH)
    )
    taken = store.merge(parcel.steps, parcel.entries, parcel.sheets)
    typed.settle(store)
    return Arrived(taken, stored, new)


def read_file(path: Path) -> Parcel:
    """What a file holds. Raises ConfigError where it cannot be read."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise _refused("the file is larger than 1 GB", str(path))
        return unpack(path.read_text(encoding="utf-8"), str(path))
    except UnicodeDecodeError:
        raise _refused("it is no JSON", str(path)) from None
    except OSError as error:
        if isinstance(error, CurewatchError):
            raise
        raise ConfigError(
            f"cannot be read ({error.strerror})", where=str(path), fix="check it"
        ) from None
