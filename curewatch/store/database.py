"""The logbook's file: opened, led to the newest format, written in whole transactions.

One connection guarded by a lock serves all threads; other processes share the file through
SQLite's own locks. While another program holds the file, writers wait and readers do not.
"""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from time import monotonic, sleep
from typing import Any

from curewatch.errors import StoreError
from curewatch.files.backup import check_not_lost, copy_to, interrupted, undo_interrupted
from curewatch.files.disk_errors import is_busy, is_full, trouble
from curewatch.files.lock import only_one
from curewatch.store import revisions
from curewatch.store.migrations.schema import migrate, newest, version
from curewatch.walltime import to_ms

OPENING_S, WRITING_S = 10.0, 10.0
_WAIT_MS, _PAUSE_S = 100, 0.02


class Logbook:
    """An open file. Raises StoreError where it cannot be used."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._turn, self._lock = threading.RLock(), threading.RLock()
        self._own_changes, self.disk_full = 0, False
        self._changes: revisions.Changes | None = None
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            if interrupted(path):
                with only_one(path.parent, "the end of a restore"):
                    undo_interrupted(path)
            check_not_lost(path)
            if not path.exists():
                os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
            self._connection = self._connected()
            try:
                self._open(self._connection)
                self._is = os.stat(path)
            except BaseException:
                self._connection.close()
                raise
        except StoreError:
            raise
        except (sqlite3.Error, OSError) as error:
            raise trouble("the logbook cannot be opened", error, path) from error

    def _open(self, connection: sqlite3.Connection) -> None:
        written = version(connection)
        if written > newest():
            raise StoreError(
                f"the logbook was written by a newer curewatch (format {written}; this one reads "
                f"{newest()})",
                where=str(self.path),
                fix="install the newer version, or name another folder with --data",
            )
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA recursive_triggers = ON")
        if 0 < written < newest():
            copy_to(self.path, self.path.with_suffix(f".before-format-{newest()}"))
        if written < newest():
            migrate(connection)
        connection.execute(f"PRAGMA busy_timeout = {_WAIT_MS}")

    def _connected(self) -> sqlite3.Connection:
        """A connection. Where a full disk has no room for what SQLite shares between processes,
        the file is held by this one alone, and what it says can still be read."""
        connection = self._connect()
        try:
            version(connection)
        except sqlite3.Error as error:
            connection.close()
            if not is_full(error):
                raise
            self.disk_full, connection = True, self._connect()
            connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        return connection

    def _connect(self) -> sqlite3.Connection:
        return sqlite3.connect(
            self.path, check_same_thread=False, timeout=OPENING_S, isolation_level=None
        )

    def in_place(self) -> bool:
        """Whether the open file still lies where it was opened, neither deleted nor replaced."""
        try:
            return os.path.samestat(self._is, os.stat(self.path))
        except OSError:
            return False

    def _check_in_place(self) -> None:
        """What is written into a deleted file is lost with it. Raises StoreError."""
        if not self.in_place():
            raise StoreError(
                "nothing could be stored: the logbook was deleted, moved or replaced while in use",
                where=str(self.path),
                fix="stop curewatch and bring a copy back: curewatch data restore",
            )

    def _begin(self) -> None:
        """Begin a transaction, holding the connection; while others hold the file, let readers in.

        Raises StoreError when the file stays held.
        """
        until = monotonic() + WRITING_S
        while True:
            self._lock.acquire()
            try:
                self._connection.execute("BEGIN IMMEDIATE")
                return
            except sqlite3.Error as error:
                self._lock.release()
                if not is_busy(error) or monotonic() > until:
                    raise trouble("nothing could be stored", error, self.path) from error
            sleep(_PAUSE_S)

    @contextmanager
    def _write(
        self, measured_from: int | None = revisions.ALWAYS, *, entered: bool = True
    ) -> Iterator[sqlite3.Connection]:
        """One transaction, committed whole or not at all; inside another one, a part of it.

        measured_from: from which instant on it changes what was measured [ms], None for nothing;
        entered: whether it changes what was entered. Left out, it is taken to change everything.
        """
        with self._turn:
            if self._changes is not None:
                self._changes.add(measured_from, entered)
                yield self._connection
                return
            self._check_in_place()
            self._begin()
            connection = self._connection
            self._changes = revisions.Changes(measured_from, entered)
            try:
                yield connection
                self._changes.raise_marks(connection)
                connection.execute("COMMIT")
                self._own_changes += 1
            except BaseException as error:
                self._undo(connection)
                if isinstance(error, sqlite3.Error):
                    raise trouble("nothing could be stored", error, self.path) from error
                raise
            finally:
                self._changes = None
                self._lock.release()

    @contextmanager
    def together(self) -> Iterator[None]:
        """All that is stored inside is stored whole or not at all."""
        with self._write(None, entered=False):
            yield

    def _undo(self, connection: sqlite3.Connection) -> None:
        """Roll back what a failure left open; SQLite has done so itself after some."""
        if connection.in_transaction:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")

    def _rows(
        self, sql: str, values: Sequence[Any] | Mapping[str, Any] = ()
    ) -> list[tuple[Any, ...]]:
        with self._lock:
            try:
                return self._connection.execute(sql, values).fetchall()
            except sqlite3.Error as error:
                raise trouble("the logbook cannot be read", error, self.path) from error

    def close(self) -> None:
        """Close the file; what was stored stays."""
        with self._lock:
            self._connection.close()

    def revision(self) -> str:
        """A mark that changes whenever anything was stored, by this process or another."""
        outside = self._rows("PRAGMA data_version")[0][0]
        return f"{outside}.{self._own_changes}{self._unsettled()}"

    def _unsettled(self) -> str:
        """A mark that nothing else has, inside a transaction that may yet be undone."""
        with self._lock:
            if self._changes is None:
                return ""
            self._own_changes += 1
            return f".{self._own_changes} unsettled"

    def measured(self, until: datetime) -> str:
        """A mark that changes whenever what was measured up to an instant does, or what of it
        counts; later readings leave it as it is."""
        return self._mark("measured", to_ms(until))

    def entered(self) -> str:
        """A mark that changes whenever anything was entered of steps, things or products."""
        return self._mark("told", revisions.ALWAYS)

    def _mark(self, what: revisions.What, until_ms: int) -> str:
        rows = self._rows(revisions.FIND, (what, until_ms))
        return f"{rows[0][0] if rows else 0}{self._unsettled()}"
