"""A logbook's file as an earlier format had it."""

from __future__ import annotations

import sqlite3

from curewatch.store.migrations import schema
from curewatch.store.migrations.schema import Migration


def rewind(db: sqlite3.Connection, migration: Migration) -> None:
    """Take a file of today back to the format before a migration, columns and number."""
    db.execute("ALTER TABLE reading RENAME COLUMN flag TO doubt")
    db.execute("DROP TABLE mark")
    db.execute("CREATE TABLE sheet (id TEXT PRIMARY KEY, text TEXT, changed_ms INTEGER)")
    text = "SELECT name, json_extract(body, '$.text'), told_ms FROM ledger WHERE subject = 'sheet'"
    db.execute(f"INSERT OR REPLACE INTO sheet {text} ORDER BY id")
    db.execute("DELETE FROM ledger WHERE subject = 'sheet'")
    for table in ("event", "ledger"):
        db.execute(f"DROP INDEX {table}_act")
        db.execute(f"ALTER TABLE {table} DROP COLUMN act")
    db.execute(f"PRAGMA user_version = {schema.MIGRATIONS.index(migration)}")
