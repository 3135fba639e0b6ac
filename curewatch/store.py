"""The logbook's file: readings, sheets and the events of each step, in SQLite.

The only place with table names. Events are appended and never changed; nothing computed is
stored. One connection guarded by a lock serves all threads; other processes share the file
through SQLite's own locks.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import threading
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from curewatch.errors import StoreError
from curewatch.reading import QUANTITIES, Reading

VERSION = 1
_SCHEMA = """
CREATE TABLE series (
    id INTEGER PRIMARY KEY, source TEXT NOT NULL, place TEXT NOT NULL, quantity INTEGER NOT NULL,
    UNIQUE (source, place, quantity));
CREATE TABLE reading (
    series INTEGER NOT NULL REFERENCES series (id), at_ms INTEGER NOT NULL, value REAL NOT NULL,
    doubt TEXT, PRIMARY KEY (series, at_ms)) WITHOUT ROWID;
CREATE TABLE sheet (id TEXT PRIMARY KEY, text TEXT NOT NULL, changed_ms INTEGER NOT NULL);
CREATE TABLE step (
    id INTEGER PRIMARY KEY, sheet TEXT NOT NULL, mixed_ms INTEGER NOT NULL, closed_ms INTEGER);
CREATE INDEX step_sheet ON step (sheet);
CREATE INDEX step_open ON step (closed_ms) WHERE closed_ms IS NULL;
CREATE TABLE event (
    id INTEGER PRIMARY KEY, step INTEGER NOT NULL REFERENCES step (id), kind TEXT NOT NULL,
    at_ms INTEGER NOT NULL, told_ms INTEGER NOT NULL, body TEXT NOT NULL);
CREATE INDEX event_step ON event (step);
CREATE TABLE refused (
    source TEXT NOT NULL, sentence TEXT NOT NULL, count INTEGER NOT NULL, last_ms INTEGER NOT NULL,
    PRIMARY KEY (source, sentence)) WITHOUT ROWID;
"""
_MOST_REFUSALS = 200


@dataclass(frozen=True)
class Event:
    """What happened to a step: when it was (`at`) and when it was told."""

    id: int
    step: int
    kind: str
    at: datetime
    told: datetime
    body: Mapping[str, Any]


@dataclass(frozen=True)
class StepRow:
    """A step's place in the file; its story is in its events."""

    id: int
    sheet: str
    mixed_at: datetime
    closed_at: datetime | None


@dataclass(frozen=True)
class Refusal:
    """What was turned away at the door, how often, and when last."""

    source: str
    sentence: str
    count: int
    last: datetime


def to_ms(at: datetime) -> int:
    """An aware instant as whole milliseconds since 1970. [ms]"""
    return round(at.timestamp() * 1000)


def from_ms(ms: int) -> datetime:
    """The UTC instant of milliseconds since 1970 [ms]."""
    return datetime.fromtimestamp(ms / 1000, UTC)


class Store:
    """An open logbook file. Raises StoreError where the file cannot be used."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.RLock()
        self._series: dict[tuple[str, str, int], int] = {}
        self._own_changes = 0
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            if not path.exists():
                os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
            connection = sqlite3.connect(
                path, check_same_thread=False, timeout=10, isolation_level=None
            )
            self._db = Database(connection)
            self._open(connection)
        except (sqlite3.Error, OSError) as error:
            raise StoreError(
                f"the logbook cannot be opened ({error})",
                where=str(path),
                fix="check that the folder exists, is yours to write, and has room",
            ) from error

    def _open(self, connection: sqlite3.Connection) -> None:
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        if version > VERSION:
            connection.close()
            raise StoreError(
                f"the logbook was written by a newer curewatch (format {version}; this one reads "
                f"{VERSION})",
                where=str(self.path),
                fix="install the newer version, or name another folder with --data",
            )
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        if version < VERSION:
            self._migrate(connection, version)

    def _migrate(self, connection: sqlite3.Connection, version: int) -> None:
        if version > 0:
            shutil.copy2(self.path, self.path.with_suffix(f".before-format-{VERSION}"))
        connection.execute("BEGIN IMMEDIATE")
        if connection.execute("PRAGMA user_version").fetchone()[0] == 0:
            for statement in _SCHEMA.split(";"):
                if statement.strip():
                    connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute("COMMIT")

    @contextmanager
    def _write(self) -> Iterator[sqlite3.Connection]:
        """One transaction, committed whole or not at all."""
        with self._lock:
            try:
                self._db.conn.execute("BEGIN IMMEDIATE")
                try:
                    yield self._db.conn
                except BaseException:
                    self._db.conn.execute("ROLLBACK")
                    self._series.clear()
                    raise
                self._db.conn.execute("COMMIT")
            except sqlite3.Error as error:
                raise StoreError(
                    f"nothing could be stored ({error})",
                    where=str(self.path),
                    fix="check the disk's room and that no other program holds the file",
                ) from error
            self._own_changes += 1

    def _rows(self, sql: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        with self._lock:
            try:
                return self._db.conn.execute(sql, values).fetchall()
            except sqlite3.Error as error:
                raise StoreError(
                    f"the logbook cannot be read ({error})",
                    where=str(self.path),
                    fix="keep the file and start from a copy of it",
                ) from error

    def close(self) -> None:
        """Close the file; what was stored stays."""
        with self._lock:
            self._db.close()

    def revision(self) -> str:
        """A mark that changes whenever anything was stored, by this process or another."""
        outside = self._rows("PRAGMA data_version")[0][0]
        return f"{outside}.{self._own_changes}"

    def _series_id(self, connection: sqlite3.Connection, reading: Reading) -> int:
        key = (reading.source, reading.place, QUANTITIES.index(reading.quantity))
        if key not in self._series:
            connection.execute(
                "INSERT OR IGNORE INTO series (source, place, quantity) VALUES (?, ?, ?)", key
            )
            sql = "SELECT id FROM series WHERE source = ? AND place = ? AND quantity = ?"
            self._series[key] = connection.execute(sql, key).fetchone()[0]
        return self._series[key]

    def add_readings(self, readings: Sequence[Reading]) -> int:
        """Store readings in one transaction; storing one twice is storing it once.

        Returns how many were new.
        """
        with self._write() as connection:
            rows = [
                (self._series_id(connection, each), to_ms(each.at), each.value, each.doubt or None)
                for each in readings
            ]
            before = connection.total_changes
            connection.executemany(
                "INSERT INTO reading VALUES (?, ?, ?, ?) ON CONFLICT (series, at_ms) DO NOTHING",
                rows,
            )
            return connection.total_changes - before

    def readings(self, start: datetime, end: datetime, *, bucket_s: float = 0.001) -> list[Reading]:
        """The usable readings from start to end, in order of time.

        Each bucket [s] that holds several of one series gives their mean at their mean time.
        """
        sql = """
            SELECT series.source, place, quantity, avg(at_ms), avg(value)
            FROM series CROSS JOIN reading ON series = series.id
            WHERE at_ms BETWEEN ? AND ? AND doubt IS NULL
            GROUP BY series.id, at_ms / ? ORDER BY at_ms"""
        rows = self._rows(sql, (to_ms(start), to_ms(end), max(1, round(bucket_s * 1000))))
        return [
            Reading(place, QUANTITIES[quantity], value, from_ms(round(ms)), source)
            for source, place, quantity, ms, value in rows
        ]

    def latest(self) -> list[Reading]:
        """The last reading of every series, doubtful ones too."""
        sql = """
            SELECT source, place, quantity, at_ms, value, doubt FROM series JOIN reading
            ON series = series.id AND at_ms = (
                SELECT max(at_ms) FROM reading WHERE series = series.id)
            ORDER BY place, quantity, source"""
        return [
            Reading(place, QUANTITIES[quantity], value, from_ms(ms), source, doubt or "")
            for source, place, quantity, ms, value, doubt in self._rows(sql)
        ]

    def refuse(self, at: datetime, source: str, sentence: str) -> None:
        """Count what was turned away; equal sentences of one source are one line."""
        with self._write() as connection:
            connection.execute(
                "INSERT INTO refused VALUES (?, ?, 1, ?) ON CONFLICT DO UPDATE "
                "SET count = count + 1, last_ms = excluded.last_ms",
                (source[:200], sentence[:500], to_ms(at)),
            )
            connection.execute(
                "DELETE FROM refused WHERE last_ms < (SELECT last_ms FROM refused "
                "ORDER BY last_ms DESC LIMIT 1 OFFSET ?)",
                (_MOST_REFUSALS,),
            )

    def refusals(self) -> list[Refusal]:
        """What was turned away, the latest first."""
        sql = "SELECT source, sentence, count, last_ms FROM refused ORDER BY last_ms DESC"
        return [Refusal(s, text, count, from_ms(ms)) for s, text, count, ms in self._rows(sql)]

    def save_sheet(self, id: str, text: str, at: datetime) -> None:
        """Keep a sheet's text under its id; steps keep the text they were started with."""
        with self._write() as connection:
            connection.execute(
                "INSERT INTO sheet VALUES (?, ?, ?) ON CONFLICT DO UPDATE "
                "SET text = excluded.text, changed_ms = excluded.changed_ms",
                (id, text, to_ms(at)),
            )

    def sheets(self) -> dict[str, str]:
        """The texts of the user's own sheets, by id."""
        return dict(self._rows("SELECT id, text FROM sheet ORDER BY id"))

    def add_step(self, sheet: str, at: datetime, told: datetime, body: Mapping[str, Any]) -> int:
        """Start a step; returns its number once it is on disk."""
        with self._write() as connection:
            sql = "INSERT INTO step (sheet, mixed_ms) VALUES (?, ?)"
            step = connection.execute(sql, (sheet, to_ms(at))).lastrowid
            assert step is not None
            self._append(connection, step, "started", at, told, body)
        return step

    def add_event(
        self, step: int, kind: str, at: datetime, told: datetime, body: Mapping[str, Any]
    ) -> int:
        """Append an event to a step; returns its number once it is on disk."""
        with self._write() as connection:
            if kind in ("finished", "abandoned"):
                connection.execute("UPDATE step SET closed_ms = ? WHERE id = ?", (to_ms(at), step))
            return self._append(connection, step, kind, at, told, body)

    @staticmethod
    def _append(
        connection: sqlite3.Connection,
        step: int,
        kind: str,
        at: datetime,
        told: datetime,
        body: Mapping[str, Any],
    ) -> int:
        row = (step, kind, to_ms(at), to_ms(told), json.dumps(body, ensure_ascii=False))
        sql = "INSERT INTO event (step, kind, at_ms, told_ms, body) VALUES (?, ?, ?, ?, ?)"
        number = connection.execute(sql, row).lastrowid
        assert number is not None
        return number

    def steps(self, *, sheet: str | None = None, only_open: bool = False) -> list[StepRow]:
        """The steps in order of number, of one sheet or only the open ones where asked."""
        wanted, values = ["1"], list[Any]()
        if sheet is not None:
            wanted.append("sheet = ?")
            values.append(sheet)
        if only_open:
            wanted.append("closed_ms IS NULL")
        columns, where = "id, sheet, mixed_ms, closed_ms", " AND ".join(wanted)
        sql = f"SELECT {columns} FROM step WHERE {where} ORDER BY id"
        return [
            StepRow(id, name, from_ms(mixed), None if closed is None else from_ms(closed))
            for id, name, mixed, closed in self._rows(sql, values)
        ]

    def step(self, number: int) -> StepRow | None:
        """One step, or None where there is no such number."""
        return next((row for row in self.steps() if row.id == number), None)

    def events(self, steps: Iterable[int]) -> dict[int, list[Event]]:
        """The events of each of these steps, in the order they were told."""
        numbers = list(steps)
        found: dict[int, list[Event]] = {number: [] for number in numbers}
        sql = """SELECT id, step, kind, at_ms, told_ms, body FROM event
            WHERE step IN (SELECT value FROM json_each(?)) ORDER BY id"""
        for id, step, kind, at, told, body in self._rows(sql, (json.dumps(numbers),)):
            found[step].append(Event(id, step, kind, from_ms(at), from_ms(told), json.loads(body)))
        return found
