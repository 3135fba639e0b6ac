"""The logbook's file: readings, sheets and the events of each step, in SQLite.

Events are appended and never changed. Nothing computed is stored, but for the roll-ups of the
readings by hour.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from curewatch.events.events import KEPT, REMOVED, SHEET, UNDO, Entry, own_products, signed
from curewatch.events.events import Event as Event
from curewatch.frozen import frozen
from curewatch.store import rollup, search_index
from curewatch.store.known_time import raise_newest
from curewatch.store.ledger import put_event
from curewatch.store.measured import Measured
from curewatch.store.merge import Merging
from curewatch.store.readings import STANDS, LatestReadings
from curewatch.store.strangers import Strangers
from curewatch.store.timekeeping import Timekeeping
from curewatch.text import body_text
from curewatch.walltime import from_ms, to_ms


@frozen
class StepRow:
    """A step's place in the file; its story is in its events."""

    id: int
    sheet: str
    mixed_at: datetime
    closed_at: datetime | None


@frozen
class StepSummary:
    """A step's row with the part, job and place it is of, as entered last."""

    row: StepRow
    part: str
    job: str
    place: str
    abandoned: bool


class Store(Merging, LatestReadings, Measured, Strangers, Timekeeping):
    """An open logbook file. Raises StoreError where the file cannot be used."""

    def places(self) -> set[str]:
        """Where anything was measured, and where the open steps are."""
        measured = f"""SELECT place FROM series WHERE EXISTS (
            SELECT 1 FROM reading WHERE series = series.id AND {STANDS})"""
        return {place for (place,) in self._rows(measured)} | self.step_places(only_open=True)

    def step_places(self, *, only_open: bool = False) -> set[str]:
        """The places that the steps follow, or the open ones, as entered last of each."""
        which = "closed_ms IS NULL" if only_open else f"state != '{search_index.UNDONE}'"
        sql = f"""
            SELECT DISTINCT place FROM listed JOIN step ON step.id = listed.step
            WHERE {which} AND place <> ''"""
        return {place for (place,) in self._rows(sql)}

    def save_sheet(self, id: str, text: str, at: datetime) -> None:
        """Keep a sheet's text under its id; steps keep the text they were started with."""
        self.add_entry(SHEET, id, KEPT, at, at, {"text": text})

    def remove_sheet(self, id: str, at: datetime) -> None:
        """Take a sheet off the shelf; steps keep the text they were started with."""
        self.add_entry(SHEET, id, REMOVED, at, at, {})

    def sheets(self) -> dict[str, str]:
        """The texts of the user's own sheets as they stand, by id."""
        return dict(sorted(own_products(self.entries(SHEET)).items()))

    def add_step(
        self, sheet: str, at: datetime, recorded_at: datetime, body: Mapping[str, Any]
    ) -> int:
        """Start a step; returns its number once it is on disk."""
        with self._record() as (connection, act):
            sql = "INSERT INTO step (sheet, mixed_ms) VALUES (?, ?)"
            step = connection.execute(sql, (sheet, to_ms(at))).lastrowid
            assert step is not None
            self._append(connection, act, step, "started", at, recorded_at, body)
        return step

    def add_event(
        self, step: int, kind: str, at: datetime, recorded_at: datetime, body: Mapping[str, Any]
    ) -> int:
        """Append an event to a step; returns its number once it is on disk."""
        with self._record() as (connection, act):
            return self._append(connection, act, step, kind, at, recorded_at, body)

    def add_undo(
        self,
        events: Sequence[Event],
        entries: Sequence[Entry],
        now: datetime,
        body: Mapping[str, Any],
    ) -> None:
        """Undo all of these, in one transaction; body: what else is recorded of it."""
        with self._record({entry.subject for entry in entries}) as (connection, act):
            for event in events:
                undo_body = {"event": event.id, **body}
                self._append(connection, act, event.step, UNDO, now, now, undo_body)
            for entry in entries:
                undo_body = {"event": entry.id, **body}
                self._enter(connection, act, entry.subject, entry.name, UNDO, now, now, undo_body)

    @staticmethod
    def _append(
        connection: sqlite3.Connection,
        act: int,
        step: int,
        kind: str,
        at: datetime,
        recorded_at: datetime,
        body: Mapping[str, Any],
    ) -> int:
        row = (step, kind, to_ms(at), to_ms(recorded_at), body_text(signed(body)), act)
        number = put_event(connection, row)
        raise_newest(connection, recorded_at)
        search_index.refresh(connection, step)
        return number

    def closed_since(self, at: datetime) -> list[int]:
        """The steps that left the bench since an instant, also by an undone mix."""
        sql = "SELECT id FROM step WHERE closed_ms >= ? ORDER BY id"
        return [number for (number,) in self._rows(sql, (to_ms(at),))]

    def steps(self, *, sheet: str | None = None, only_open: bool = False) -> list[StepRow]:
        """The steps in order of number, of one sheet or only the open ones where asked; none whose
        mix was undone."""
        conditions: dict[str, Any] = {f"{search_index.MIXED} AND ?": 1}
        if sheet is not None:
            conditions["sheet = ?"] = sheet
        if only_open:
            conditions["closed_ms IS NULL AND ?"] = 1
        return self._steps(conditions)

    def _steps(self, conditions: Mapping[str, Any]) -> list[StepRow]:
        where = " AND ".join(["1", *conditions])
        sql = f"SELECT id, sheet, mixed_ms, closed_ms FROM step WHERE {where} ORDER BY id"
        return [
            StepRow(id, name, from_ms(mixed), None if closed is None else from_ms(closed))
            for id, name, mixed, closed in self._rows(sql, list(conditions.values()))
        ]

    def batches_used(self) -> dict[tuple[str, str, int], datetime]:
        """When each batch and can was mixed last: by sheet, batch ('' unknown), can (0 unknown)."""
        sql = f"""
            SELECT sheet, batch, can, max(mixed_ms) FROM listed
            WHERE state != '{search_index.UNDONE}' GROUP BY sheet, batch, can"""
        return {(sheet, batch, can): from_ms(ms) for sheet, batch, can, ms in self._rows(sql)}

    def step_summaries(
        self, start: datetime | None = None, end: datetime | None = None
    ) -> list[StepSummary]:
        """Every step with the part and job it is of, as entered last, in order of number; of those
        that were on the bench between two instants, where they are given."""
        sql = f"""
            SELECT id, step.sheet, step.mixed_ms, closed_ms, part, job, place, state
            FROM step JOIN listed ON listed.step = id
            WHERE state != '{search_index.UNDONE}' AND step.mixed_ms <= ?
            AND coalesce(closed_ms, ?) >= ? ORDER BY id"""
        last = rollup.LAST_MS if end is None else to_ms(end)
        values = (last, rollup.LAST_MS, 0 if start is None else to_ms(start))
        return [
            StepSummary(
                StepRow(id, sheet, from_ms(mixed), None if closed is None else from_ms(closed)),
                part,
                job,
                place,
                state == "abandoned",
            )
            for id, sheet, mixed, closed, part, job, place, state in self._rows(sql, values)
        ]

    def step(self, number: int) -> StepRow | None:
        """One step, or None where there is no such number."""
        return next(iter(self._steps({"id = ?": number})), None)

    def looked_at(self, sheet: str) -> list[int]:
        """The steps of a product with a witness or a test that was ever entered, also one that was
        undone, the latest first."""
        sql = f"""
            SELECT id FROM step WHERE {search_index.MIXED} AND sheet = ? AND EXISTS (
                SELECT 1 FROM event
                WHERE event.step = step.id AND kind IN ('witnessed', 'tested'))
            ORDER BY id DESC"""
        return [number for (number,) in self._rows(sql, (sheet,))]

    def events(self, steps: Iterable[int]) -> dict[int, list[Event]]:
        """The events of each of these steps, in the order they were entered."""
        numbers = list(steps)
        by_step: dict[int, list[Event]] = {number: [] for number in numbers}
        sql = """SELECT id, step, kind, at_ms, told_ms, body, act FROM event
            WHERE step IN (SELECT value FROM json_each(?)) ORDER BY id"""
        for id, step, kind, at, recorded_ms, body, act in self._rows(sql, (json.dumps(numbers),)):
            by_step[step].append(search_index.as_event(id, step, kind, at, recorded_ms, body, act))
        return by_step

    def all_steps(self) -> list[int]:
        """The numbers of all steps, also of those whose mix was undone."""
        return [number for (number,) in self._rows("SELECT id FROM step ORDER BY id")]

    def bodies_with(self, text: str) -> list[str]:
        """What was recorded of steps and things, undone or not, where that holds a text."""
        sql = """
            SELECT body FROM event WHERE instr(body, :text)
            UNION ALL SELECT body FROM ledger WHERE instr(body, :text)"""
        return [body for (body,) in self._rows(sql, {"text": text})]

    def last_acts(self, most: int) -> list[int]:
        """The numbers of the acts recorded last, the latest first."""
        sql = "SELECT act FROM event UNION SELECT act FROM ledger ORDER BY act DESC LIMIT ?"
        return [number for (number,) in self._rows(sql, (most,))]

    def of_act(self, number: int) -> tuple[list[Event], list[Entry]]:
        """What one act put on record: of steps, and of other things."""
        steps = self._rows("SELECT DISTINCT step FROM event WHERE act = ?", (number,))
        subjects = self._rows("SELECT DISTINCT subject, name FROM ledger WHERE act = ?", (number,))
        events_by_step = self.events(step for (step,) in steps).values()
        entries = [entry for subject in subjects for entry in self.all_entries(*subject)]
        return (
            [event for events in events_by_step for event in events if event.act == number],
            [entry for entry in entries if entry.act == number],
        )
