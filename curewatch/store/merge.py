"""Taking in what another curewatch recorded: whole or not at all, and twice is once.

Numbers of steps, events, cans and entries are those of this file; what refers to one by its number
is led to the new one. An event or entry that is here already, told at the same instants with the
same words, is not stored again.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import Any

from curewatch.events.events import KEPT, SHEET, UNDO, Entry, Event, own_products, standing
from curewatch.store import search_index
from curewatch.store.ledger import as_entry, next_act, put_entry, put_event
from curewatch.store.search import Searched
from curewatch.text import body_text
from curewatch.walltime import to_ms

CANS = "can"
Numbers = dict[int, int]


@dataclass
class _Acts:
    """The number here of each act there: what was one act there is one here."""

    connection: sqlite3.Connection
    known: Numbers = field(default_factory=dict)

    def number(self, act: int) -> int:
        """The act's number here; a new one where it is not known which act it was."""
        if act not in self.known:
            found = next_act(self.connection)
            if not act:
                return found
            self.known[act] = found
        return self.known[act]


@dataclass
class Taken:
    """What was new: steps, events, entries, sheets; sheets_kept: ids whose own text stands here, or
    that were removed here."""

    steps: int = 0
    events: int = 0
    entries: int = 0
    sheets: int = 0
    sheets_kept: list[str] = field(default_factory=list)
    numbers: Numbers = field(default_factory=dict)


def _key(*parts: Any, body: str) -> tuple[Any, ...]:
    with suppress(TypeError, ValueError, RecursionError):  # damaged here: compared as it is
        body = json.dumps(json.loads(body), sort_keys=True, ensure_ascii=False)
    return (*parts, body)


def _led(body: Mapping[str, Any], numbers: Mapping[str, Numbers]) -> str:
    """A body whose references by number lead to the numbers of this file."""
    led = dict(body)
    for name, known in numbers.items():
        if isinstance(led.get(name), int):
            led[name] = known.get(led[name], led[name])
    return body_text(led)


def _held(connection: sqlite3.Connection) -> dict[tuple[Any, ...], list[int]]:
    """The entries that are here, by what they tell; of equal ones the first is taken first."""
    here: dict[tuple[Any, ...], list[int]] = {}
    sql = "SELECT id, subject, name, kind, at_ms, told_ms, body FROM ledger ORDER BY id DESC"
    for id, subject, name, kind, at, told, body in connection.execute(sql):
        here.setdefault(_key(subject, name, kind, at, told, body=body), []).append(id)
    return here


def _row(each: Entry) -> tuple[Any, ...]:
    return each.subject, each.name, each.kind, to_ms(each.at), to_ms(each.recorded_at)


def _cans(connection: sqlite3.Connection, entries: Sequence[Entry]) -> Numbers:
    """The number here of each can there: they are numbered in the order they were added."""
    here = _held(connection)
    sql = "SELECT id FROM ledger WHERE subject = ? AND kind = 'added' ORDER BY id"
    order = [id for (id,) in connection.execute(sql, (CANS,))]
    numbers: Numbers = {}
    added = [each for each in entries if each.subject == CANS and each.kind == "added"]
    for number, each in enumerate(added, 1):
        known = here.get(_key(*_row(each), body=body_text(each.body)))
        order += [] if known else [-number]
        numbers[number] = order.index(known.pop() if known else -number) + 1
    return numbers


def _merge_entries(
    connection: sqlite3.Connection,
    entries: Sequence[Entry],
    steps: Numbers,
    cans: Numbers,
    acts: _Acts,
) -> int:
    """Store the entries that are new, in the order told; returns how many were.

    A sheet that has a text here keeps it.
    """
    own = {name for subject, name, *_ in _held(connection) if subject == SHEET}
    here, numbers, new = _held(connection), Numbers(), 0
    led = {"step": steps, "can": cans, "touch": numbers, "event": numbers}
    for each in entries:
        if each.kind == UNDO and each.body["event"] not in numbers:
            continue
        if each.subject == CANS and each.name.isdecimal():
            each = replace(each, name=str(cans.get(int(each.name), each.name)))
        body = _led(each.body, led)
        known = here.get(_key(*_row(each), body=body))
        if known:
            numbers[each.id] = known.pop()
            continue
        if each.subject == SHEET and each.kind != UNDO and each.name in own:
            continue
        row = (*_row(each), body, acts.number(each.act))
        numbers[each.id] = put_entry(connection, row)
        new += 1
    return new


def _start_step(connection: sqlite3.Connection, first: Event) -> int:
    sql = "INSERT INTO step (sheet, mixed_ms) VALUES (?, ?)"
    values = (str(first.body.get("sheet_id", "")), to_ms(first.at))
    return connection.execute(sql, values).lastrowid or 0


def _merge_events(
    connection: sqlite3.Connection,
    step: int,
    events: Sequence[Event],
    cans: Numbers,
    acts: _Acts,
) -> int:
    """Append the events of one step that are new; returns how many were."""
    here: dict[tuple[Any, ...], list[int]] = {}
    sql = "SELECT id, kind, at_ms, told_ms, body FROM event WHERE step = ? ORDER BY id DESC"
    for id, kind, at, told, body in connection.execute(sql, (step,)):
        here.setdefault(_key(kind, at, told, body=body), []).append(id)
    numbers: Numbers = {}
    new = 0
    for each in events:
        body = _led(each.body, {"event": numbers, "can": cans})
        row = (each.kind, to_ms(each.at), to_ms(each.recorded_at))
        known = here.get(_key(*row, body=body))
        if known:
            numbers[each.id] = known.pop()
            continue
        if each.kind == UNDO and each.body["event"] not in numbers:
            continue
        values = (step, *row, body, acts.number(each.act))
        numbers[each.id] = put_event(connection, values)
        new += 1
    if new:
        search_index.refresh(connection, step)
    return new


def _starts(connection: sqlite3.Connection) -> dict[tuple[Any, ...], list[int]]:
    found: dict[tuple[Any, ...], list[int]] = {}
    sql = "SELECT step, at_ms, told_ms, body FROM event WHERE kind = 'started' ORDER BY id DESC"
    for step, at, told, body in connection.execute(sql):
        found.setdefault(_key(at, told, body=body), []).append(step)
    return found


class Merging(Searched):
    """The part of the logbook's file that takes in what another one recorded."""

    def merge(
        self,
        steps: Sequence[Sequence[Event]],
        entries: Sequence[Entry],
        sheets: Mapping[str, tuple[str, int]],
    ) -> Taken:
        """Store what is new of steps (their events), entries and sheets (text, changed [ms])."""
        taken = Taken()
        with self._write() as connection:
            cans = _cans(connection, entries)
            known, acts = _starts(connection), _Acts(connection)
            for events in steps:
                body = _led(events[0].body, {"can": cans})
                key = _key(to_ms(events[0].at), to_ms(events[0].recorded_at), body=body)
                if held := known.get(key):
                    step = held.pop()
                else:
                    step = _start_step(connection, events[0])
                    taken.steps += 1
                taken.numbers[events[0].step] = step
                taken.events += _merge_events(connection, step, events, cans, acts)
            before = own_products(_told_of_sheets(connection))
            taken.entries = _merge_entries(connection, entries, taken.numbers, cans, acts)
            _merge_sheets(connection, sheets, taken, before)
        return taken


def _told_of_sheets(connection: sqlite3.Connection) -> list[Entry]:
    """What stands of the sheets that are or were here."""
    sql = "SELECT id, name, kind, at_ms, told_ms, body FROM ledger WHERE subject = ? ORDER BY id"
    rows = [
        as_entry(id, SHEET, name, kind, at, told, body)
        for id, name, kind, at, told, body in connection.execute(sql, (SHEET,))
    ]
    return standing(rows)


def _merge_sheets(
    connection: sqlite3.Connection,
    sheets: Mapping[str, tuple[str, int]],
    taken: Taken,
    before: Mapping[str, str],
) -> None:
    """Keep the sheets that were not here before; a file of before tells no more of them.

    One that was removed here stays removed.
    """
    told = _told_of_sheets(connection)
    here, known = own_products(told), {entry.name for entry in told}
    for id, (text, changed_ms) in sheets.items():
        if id not in known:
            row = (SHEET, id, KEPT, changed_ms, changed_ms, body_text({"text": text}))
            put_entry(connection, (*row, next_act(connection)))
        elif here.get(id) != text:
            taken.sheets_kept.append(id)
            continue
        taken.sheets += id not in before
