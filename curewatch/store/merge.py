"""Taking in what another curewatch recorded: whole or not at all, and twice is once.

Numbers of steps, events, cans and entries are those of this file; what refers to one by its number
is led to the new one. An event or entry that is here already, recorded at the same instants with
the same words, is not stored again.
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
            number = next_act(self.connection)
            if not act:
                return number
            self.known[act] = number
        return self.known[act]


@dataclass
class MergeResult:
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


def _renumbered(body: Mapping[str, Any], by_name: Mapping[str, Numbers]) -> str:
    """A body whose references by number lead to the numbers of this file."""
    renumbered = dict(body)
    for name, new_numbers in by_name.items():
        if isinstance(renumbered.get(name), int):
            renumbered[name] = new_numbers.get(renumbered[name], renumbered[name])
    return body_text(renumbered)


def _present_entries(connection: sqlite3.Connection) -> dict[tuple[Any, ...], list[int]]:
    """The entries that are here, by what they hold; of equal ones the first is taken first."""
    here: dict[tuple[Any, ...], list[int]] = {}
    sql = "SELECT id, subject, name, kind, at_ms, told_ms, body FROM ledger ORDER BY id DESC"
    for id, subject, name, kind, at, recorded_ms, body in connection.execute(sql):
        here.setdefault(_key(subject, name, kind, at, recorded_ms, body=body), []).append(id)
    return here


def _row(entry: Entry) -> tuple[Any, ...]:
    return entry.subject, entry.name, entry.kind, to_ms(entry.at), to_ms(entry.recorded_at)


def _cans(connection: sqlite3.Connection, entries: Sequence[Entry]) -> Numbers:
    """The number here of each can there: they are numbered in the order they were added."""
    here = _present_entries(connection)
    sql = "SELECT id FROM ledger WHERE subject = ? AND kind = 'added' ORDER BY id"
    order = [id for (id,) in connection.execute(sql, (CANS,))]
    numbers: Numbers = {}
    added = [entry for entry in entries if entry.subject == CANS and entry.kind == "added"]
    for number, can in enumerate(added, 1):
        present = here.get(_key(*_row(can), body=body_text(can.body)))
        order += [] if present else [-number]
        numbers[number] = order.index(present.pop() if present else -number) + 1
    return numbers


def _merge_entries(
    connection: sqlite3.Connection,
    entries: Sequence[Entry],
    steps: Numbers,
    cans: Numbers,
    acts: _Acts,
) -> int:
    """Store the entries that are new, in the order entered; returns how many were.

    A sheet that has a text here keeps it.
    """
    own = {name for subject, name, *_ in _present_entries(connection) if subject == SHEET}
    here, numbers, new = _present_entries(connection), Numbers(), 0
    references = {"step": steps, "can": cans, "touch": numbers, "event": numbers}
    for entry in entries:
        if entry.kind == UNDO and entry.body["event"] not in numbers:
            continue
        if entry.subject == CANS and entry.name.isdecimal():
            entry = replace(entry, name=str(cans.get(int(entry.name), entry.name)))
        body = _renumbered(entry.body, references)
        present = here.get(_key(*_row(entry), body=body))
        if present:
            numbers[entry.id] = present.pop()
            continue
        if entry.subject == SHEET and entry.kind != UNDO and entry.name in own:
            continue
        row = (*_row(entry), body, acts.number(entry.act))
        numbers[entry.id] = put_entry(connection, row)
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
    for id, kind, at, recorded_ms, body in connection.execute(sql, (step,)):
        here.setdefault(_key(kind, at, recorded_ms, body=body), []).append(id)
    numbers: Numbers = {}
    new = 0
    for event in events:
        body = _renumbered(event.body, {"event": numbers, "can": cans})
        row = (event.kind, to_ms(event.at), to_ms(event.recorded_at))
        present = here.get(_key(*row, body=body))
        if present:
            numbers[event.id] = present.pop()
            continue
        if event.kind == UNDO and event.body["event"] not in numbers:
            continue
        values = (step, *row, body, acts.number(event.act))
        numbers[event.id] = put_event(connection, values)
        new += 1
    if new:
        search_index.refresh(connection, step)
    return new


def _present_steps(connection: sqlite3.Connection) -> dict[tuple[Any, ...], list[int]]:
    steps: dict[tuple[Any, ...], list[int]] = {}
    sql = "SELECT step, at_ms, told_ms, body FROM event WHERE kind = 'started' ORDER BY id DESC"
    for step, at, recorded_ms, body in connection.execute(sql):
        steps.setdefault(_key(at, recorded_ms, body=body), []).append(step)
    return steps


class Merging(Searched):
    """The part of the logbook's file that takes in what another one recorded."""

    def merge(
        self,
        steps: Sequence[Sequence[Event]],
        entries: Sequence[Entry],
        sheets: Mapping[str, tuple[str, int]],
    ) -> MergeResult:
        """Store what is new of steps (their events), entries and sheets (text, changed [ms])."""
        result = MergeResult()
        with self._write() as connection:
            cans = _cans(connection, entries)
            present, acts = _present_steps(connection), _Acts(connection)
            for events in steps:
                body = _renumbered(events[0].body, {"can": cans})
                key = _key(to_ms(events[0].at), to_ms(events[0].recorded_at), body=body)
                if numbers := present.get(key):
                    step = numbers.pop()
                else:
                    step = _start_step(connection, events[0])
                    result.steps += 1
                result.numbers[events[0].step] = step
                result.events += _merge_events(connection, step, events, cans, acts)
            before = own_products(_sheet_entries(connection))
            result.entries = _merge_entries(connection, entries, result.numbers, cans, acts)
            _merge_sheets(connection, sheets, result, before)
        return result


def _sheet_entries(connection: sqlite3.Connection) -> list[Entry]:
    """What stands of the sheets that are or were here."""
    sql = "SELECT id, name, kind, at_ms, told_ms, body FROM ledger WHERE subject = ? ORDER BY id"
    rows = [
        as_entry(id, SHEET, name, kind, at, recorded_ms, body)
        for id, name, kind, at, recorded_ms, body in connection.execute(sql, (SHEET,))
    ]
    return standing(rows)


def _merge_sheets(
    connection: sqlite3.Connection,
    sheets: Mapping[str, tuple[str, int]],
    result: MergeResult,
    before: Mapping[str, str],
) -> None:
    """Keep the sheets that were not here before; a file of before says no more of them.

    One that was removed here stays removed.
    """
    entries = _sheet_entries(connection)
    here, names = own_products(entries), {entry.name for entry in entries}
    for id, (text, changed_ms) in sheets.items():
        if id not in names:
            row = (SHEET, id, KEPT, changed_ms, changed_ms, body_text({"text": text}))
            put_entry(connection, (*row, next_act(connection)))
        elif here.get(id) != text:
            result.sheets_kept.append(id)
            continue
        result.sheets += id not in before
