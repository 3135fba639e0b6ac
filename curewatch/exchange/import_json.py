"""Reading the JSON of another curewatch, checked piece by piece, and taking it in."""

from __future__ import annotations

import json
import math
from base64 import b64decode
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

from curewatch.climate.reading import Reading, make_reading
from curewatch.errors import ConfigError, CurewatchError, PhotographError, ReadingError
from curewatch.events.events import Entry
from curewatch.events.json_schema import YEARS, Fault, fault
from curewatch.exchange import event_json, export_json
from curewatch.exchange.event_json import instant
from curewatch.exchange.log_schema import IMPORTED
from curewatch.frozen import frozen
from curewatch.garage.step import fold
from curewatch.logbook import photographs
from curewatch.products.sheet import parse_sheet
from curewatch.quality import typed
from curewatch.store.merge import MergeResult
from curewatch.store.store import Event, Store
from curewatch.walltime import from_ms, to_ms

Row = TypeVar("Row", Event, Entry)
Tell = Callable[[str, int, int], None]
MOST_BYTES = 1_000_000_000
BATCH = 5000
HOUR_MS = 3_600_000
READ = (1, export_json.FORMAT)
_FIX = "correct it there, or make the file again with: curewatch data export"
_LAST_MS = to_ms(datetime(YEARS[1], 12, 31, tzinfo=UTC))


@dataclass
class Parcel:
    """What a file held, checked: events of each step, entries, sheets, readings, photographs."""

    steps: list[list[Event]] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    sheets: dict[str, tuple[str, int]] = field(default_factory=dict)
    readings: list[Reading] = field(default_factory=list)
    hours: list[Reading] = field(default_factory=list)
    photographs: list[tuple[str, bytes]] = field(default_factory=list)


@frozen
class Arrived:
    """What was new."""

    taken: MergeResult
    readings: int
    photographs: int


def _refused(what: str, where: str, place: str = "") -> ConfigError:
    return ConfigError(what, where=f"{where}, {place}" if place else where, fix=_FIX)


def _sound(row: Row | Fault, where: str, place: str) -> Row:
    if isinstance(row, Fault):
        raise _refused(row.what, where, f"{place}/{row.place}")
    return row


def _step(item: Any, where: str, place: str) -> list[Event]:
    number, events = item["step"], []
    if not item["events"] or item["events"][0]["kind"] != "started":
        raise _refused("a step must begin with its start", where, f"{place}/events")
    for index, body in enumerate(item["events"]):
        event = event_json.event(body, number)
        events.append(_sound(event, where, f"{place}/events/{index}"))
    try:
        fold(events)
    except CurewatchError as error:
        raise _refused(f"the step cannot be read ({error.what})", where, place) from None
    return events


def _series(item: Any, where: str, place: str) -> Iterator[Reading]:
    ms, later, values = to_ms(instant(item["from"])), item["ms_later"], item["values"]
    if len(later) != len(values):
        raise _refused("there are not as many values as times", where, place)
    for index, (step_ms, value) in enumerate(zip(later, values, strict=True)):
        ms += step_ms
        try:
            if ms > _LAST_MS:
                raise ReadingError("a reading is of no possible time")
            at = from_ms(ms)
            yield make_reading(item["place"], item["quantity"], float(value), at, item["source"])
        except ReadingError as error:
            raise _refused(error.what, where, f"{place}/values/{index}") from None


def _photograph(item: Any, where: str, place: str) -> tuple[str, bytes]:
    try:
        data = b64decode(item["jpeg"], validate=True)
        photographs.check_written(data, item["name"])
    except PhotographError as error:
        raise _refused(error.what, where, place) from None
    except ValueError:
        raise _refused("a photograph is not base64", where, f"{place}/jpeg") from None
    return item["name"], data


def _sheet(item: Any, where: str, place: str) -> tuple[str, str]:
    try:
        parse_sheet(item["text"], item["sheet"])
    except CurewatchError as error:
        raise _refused(f"the product cannot be read ({error.what})", where, place) from None
    return item["sheet"], item["text"]


def _loaded(text: str, where: str) -> dict[str, Any]:
    """A file's JSON, where it is a logbook as `log --json` writes it, but for its bodies."""
    try:
        data = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise _refused("it is not JSON", where) from None
    if not isinstance(data, dict) or "curewatch" not in data:
        raise _refused("it is not a curewatch logbook", where)
    if type(data["curewatch"]) is not int or data["curewatch"] not in READ:
        readable = " and ".join(map(str, READ))
        raise _refused(f"its format is {data['curewatch']!r:.20}, this reads {readable}", where)
    wrong = fault(data, IMPORTED)
    if wrong:
        raise _refused(wrong.what, where, wrong.place)
    return data


def unpack(text: str, where: str) -> Parcel:
    """What a file holds. Raises a sentence of ours where it is no logbook."""
    data, parcel = _loaded(text, where), Parcel()
    for index, item in enumerate(data["steps"]):
        parcel.steps.append(_step(item, where, f"steps/{index}"))
    parcel.steps.sort(key=lambda events: events[0].step)
    for index, item in enumerate(data["ledger"]):
        parcel.entries.append(_sound(event_json.entry(item), where, f"ledger/{index}"))
    made = to_ms(instant(data["made"]))
    for index, item in enumerate(data["sheets"]):
        id, sheet = _sheet(item, where, f"sheets/{index}")
        parcel.sheets[id] = sheet, made
    for index, item in enumerate(data["readings"]):
        readings = list(_series(item, where, f"readings/{index}"))
        (parcel.hours if item.get("every") == "hour" else parcel.readings).extend(readings)
    for index, item in enumerate(data["photographs"]):
        parcel.photographs.append(_photograph(item, where, f"photographs/{index}"))
    return parcel


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is not a number")


def _hour(reading: Reading) -> tuple[str, str, str, int]:
    return reading.source, reading.place, reading.quantity, math.floor(to_ms(reading.at) / HOUR_MS)


def _hours(store: Store, parcel: Parcel) -> list[Reading]:
    """The means of the hours that have no reading of their own, here or in the file."""
    if not parcel.hours:
        return []
    own_hours = {_hour(reading) for reading in parcel.readings}
    days: dict[int, list[Reading]] = defaultdict(list)
    for reading in parcel.hours:
        days[to_ms(reading.at) // (24 * HOUR_MS)].append(reading)
    kept = []
    for day, readings in days.items():
        start = from_ms(day * 24 * HOUR_MS)
        end = from_ms((day + 1) * 24 * HOUR_MS - 1)
        here = own_hours | {_hour(reading) for reading in store.readings(start, end, bucket_s=3600)}
        kept += [reading for reading in readings if _hour(reading) not in here]
    return kept


def take_in(store: Store, parcel: Parcel, tell: Tell = lambda _what, _done, _of: None) -> Arrived:
    """Store what is new: photographs and readings first, then all that was told, in one piece.

    `tell` hears as what is stored comes along: how many of how many.
    """
    new, count = 0, len(parcel.photographs)
    for number, (name, data) in enumerate(parcel.photographs, 1):
        before = photographs.path_of(store.path, name).exists()
        photographs.arrive(data, name, store.path)
        new += not before
        tell("photographs", number, count)
    readings, stored = [*parcel.readings, *_hours(store, parcel)], 0
    for first in range(0, len(readings), BATCH):
        stored += store.add_readings(readings[first : first + BATCH])
        tell("readings", min(first + BATCH, len(readings)), len(readings))
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
        raise _refused("it is not JSON", str(path)) from None
    except OSError as error:
        if isinstance(error, CurewatchError):
            raise
        raise ConfigError(
            f"cannot be read ({error.strerror})", where=str(path), fix="check it"
        ) from None
