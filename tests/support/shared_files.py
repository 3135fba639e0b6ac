"""Each new logbook is led through every format there ever was: here once for all tests."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from functools import cache

from curewatch.store import database
from curewatch.store.migrations import schema

_IS_EMPTY = "SELECT NOT EXISTS (SELECT 1 FROM sqlite_master)"


def _in_memory() -> sqlite3.Connection:
    return sqlite3.connect(":memory:", isolation_level=None)


def share() -> None:
    """Every new logbook of this process is from now on a copy of the first."""
    lead = schema.migrate

    @cache
    def newest(migrations: tuple[schema.Migration, ...]) -> bytes:
        with closing(_in_memory()) as first:
            lead(first)
            return first.serialize()

    def migrate(connection: sqlite3.Connection) -> None:
        if not connection.execute(_IS_EMPTY).fetchone()[0]:
            lead(connection)
            return
        with closing(_in_memory()) as first:
            first.deserialize(newest(tuple(schema.MIGRATIONS)))
            first.backup(connection)

    setattr(database, "migrate", migrate)  # noqa: B010  # mypy would have it exported
