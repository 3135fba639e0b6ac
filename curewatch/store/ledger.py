"""What happened to things that are no step: sensors, cans, parts. Appended, never changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from curewatch.events.bodies import read_row, wrong_with_name
from curewatch.events.events import SENSOR, Entry, going_on, standing
from curewatch.store.database import Logbook
from curewatch.store.known_time import raise_newest
from curewatch.store.revisions import ALWAYS
from curewatch.text import body_text
from curewatch.walltime import to_ms


def as_entry(
    id: int, subject: str, name: str, kind: str, at: int, recorded_ms: int, text: str, act: int = 0
) -> Entry:
    """A row of the file as an entry. Times [ms]"""
    when, then, body, damaged = read_row(kind, at, recorded_ms, text, subject)
    wrong = wrong_with_name(subject, name, kind)
    damaged = damaged or (wrong.what if wrong else "")
    return Entry(id, subject, name, kind, when, then, body, act, damaged)


def next_act(connection: sqlite3.Connection) -> int:
    """The number of the next act: acts of steps and of things are counted together."""
    sql = "SELECT max((SELECT coalesce(max(act), 0) FROM event), coalesce(max(act), 0)) FROM ledger"
    return int(connection.execute(sql).fetchone()[0]) + 1


def put_entry(connection: sqlite3.Connection, row: tuple[Any, ...]) -> int:
    """Store a row of the ledger: subject, name, kind, when it was and when it was recorded [ms],
    body and act; returns its number."""
    sql = """INSERT INTO ledger (subject, name, kind, at_ms, told_ms, body, act)
        VALUES (?, ?, ?, ?, ?, ?, ?)"""
    return connection.execute(sql, row).lastrowid or 0


def put_event(connection: sqlite3.Connection, row: tuple[Any, ...]) -> int:
    """Store an event of a step: the step, kind, when it was and when it was recorded [ms], body and
    act; returns its number."""
    sql = "INSERT INTO event (step, kind, at_ms, told_ms, body, act) VALUES (?, ?, ?, ?, ?, ?)"
    return connection.execute(sql, row).lastrowid or 0


class Ledger(Logbook):
    """The part of the logbook's file that follows things other than steps and readings."""

    @contextmanager
    def _record(self, subjects: Collection[str] = ()) -> Iterator[tuple[sqlite3.Connection, int]]:
        """One transaction, with the number of the act that what it stores is part of.

        subjects: of the things it is about; an entry about a sensor changes what was measured.
        """
        act = going_on()
        with self._write(ALWAYS if SENSOR in subjects else None) as connection:
            number = act.number or next_act(connection)
            yield connection, number
        act.number = number

    def add_entry(
        self,
        subject: str,
        name: str,
        kind: str,
        at: datetime,
        recorded_at: datetime,
        body: Mapping[str, Any],
    ) -> int:
        """Append an event of a thing; returns its number once it is on disk."""
        with self._record((subject,)) as (connection, act):
            return self._enter(connection, act, subject, name, kind, at, recorded_at, body)

    @staticmethod
    def _enter(
        connection: sqlite3.Connection,
        act: int,
        subject: str,
        name: str,
        kind: str,
        at: datetime,
        recorded_at: datetime,
        body: Mapping[str, Any],
    ) -> int:
        row = (subject, name, kind, to_ms(at), to_ms(recorded_at), body_text(body), act)
        number = put_entry(connection, row)
        raise_newest(connection, recorded_at)
        return number

    def all_entries(self, subject: str | None = None, name: str | None = None) -> list[Entry]:
        """Everything ever entered of what is no step, also what was undone, in order: of
        every thing of a subject, or of one by name, where asked."""
        sql = """SELECT id, subject, name, kind, at_ms, told_ms, body, act FROM ledger
            WHERE (:subject IS NULL OR subject = :subject) AND (:name IS NULL OR name = :name)
            ORDER BY id"""
        return [as_entry(*row) for row in self._rows(sql, {"subject": subject, "name": name})]

    def entries(self, subject: str, name: str | None = None) -> list[Entry]:
        """What stands of every thing of a subject, or of one by name, in the order entered."""
        return standing(self.all_entries(subject, name))
