"""The tables of the logbook's file, and how an older file becomes a newer one.

A file's version is its `PRAGMA user_version`; each migration leads one version further. They are
written with sqlite-utils, but for tables WITHOUT ROWID, checks and partial indexes, which it does
not know.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Any

from curewatch.events.bodies import read_body
from curewatch.store import known_time, revisions, rollup, search_index, turned_away
from curewatch.store.migrations import bursts, flag_words, unticked
from curewatch.store.migrations.tables import open_table
from curewatch.text import body_text
from curewatch.vocabulary import in_present_words

_FIRST = """
CREATE TABLE series (
    id INTEGER PRIMARY KEY, source TEXT NOT NULL, place TEXT NOT NULL, quantity INTEGER NOT NULL,
    UNIQUE (source, place, quantity));
CREATE TABLE reading (
    series INTEGER NOT NULL, at_ms INTEGER NOT NULL, value REAL NOT NULL,
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


def _ledger(connection: sqlite3.Connection) -> None:
    """What is entered of things that are no step."""
    texts, times = ("subject", "name", "kind"), ("at_ms", "told_ms")
    columns = {"id": int} | dict.fromkeys(texts, str) | dict.fromkeys(times, int) | {"body": str}
    table = open_table(connection, "ledger")
    table.create(columns, pk="id", not_null=[name for name in columns if name != "id"])
    table.create_index(["subject", "name"], "ledger_subject")


_FLAGGED = "CREATE INDEX IF NOT EXISTS reading_flagged ON reading (at_ms) WHERE flag IS NOT NULL"


def _in_present_words(connection: sqlite3.Connection, kind: str, earlier: str) -> None:
    """Replace an earlier version's words for codes; earlier: a pattern of the bodies with one."""

    def present(text: Any) -> Any:
        body, damaged = read_body(text, kind)
        return body_text(in_present_words(kind, body)) if body or not damaged else text

    table = open_table(connection, "event")
    table.convert("body", present, where="kind = ? AND body LIKE ?", where_args=[kind, earlier])


def _answers_in_present_words(connection: sqlite3.Connection) -> None:
    """`passed` and `failed` become the state that the test found."""
    _in_present_words(connection, "tested", '%ed"%')


def _verdicts_in_present_words(connection: sqlite3.Connection) -> None:
    """The gate's answer `think` becomes `caution`."""
    _in_present_words(connection, "overridden", '%"think"%')


def _number_acts(connection: sqlite3.Connection) -> None:
    """What was entered of one step at one instant was one act; anything else is one by itself."""
    for name in ("event", "ledger"):
        table = open_table(connection, name)
        table.add_column("act", int, not_null_default=0)
        table.create_index(["act"], f"{name}_act")
    sql = """
        SELECT min(told_ms), min(id), 'event', step, told_ms FROM event GROUP BY step, told_ms
        UNION ALL SELECT told_ms, id, 'ledger', id, told_ms FROM ledger ORDER BY 1, 2"""
    for act, (_, _, table, which, recorded_ms) in enumerate(connection.execute(sql).fetchall(), 1):
        if table == "event":
            told_at = "UPDATE event SET act = ? WHERE step = ? AND told_ms = ?"
            connection.execute(told_at, (act, which, recorded_ms))
        else:
            connection.execute("UPDATE ledger SET act = ? WHERE id = ?", (act, which))


def _sheets_to_the_ledger(connection: sqlite3.Connection) -> None:
    """The text of each sheet of one's own becomes the first entry about it."""
    last = "SELECT coalesce(max(act), 0) FROM (SELECT act FROM event UNION SELECT act FROM ledger)"
    (acts,) = connection.execute(last).fetchone()
    sql = "SELECT id, text, changed_ms FROM sheet ORDER BY changed_ms, id"
    sheets = enumerate(connection.execute(sql).fetchall(), acts + 1)
    open_table(connection, "ledger").insert_all(
        {
            "subject": "sheet",
            "name": id,
            "kind": "kept",
            "at_ms": at_ms,
            "told_ms": at_ms,
            "body": body_text({"text": text}),
            "act": act,
        }
        for act, (id, text, at_ms) in sheets
    )
    open_table(connection, "sheet").drop()


Migration = str | Callable[[sqlite3.Connection], None]
MIGRATIONS: list[Migration] = [
    _FIRST,
    rollup.TABLE,
    _ledger,
    search_index.build,
    unticked.migrate,
    flag_words.convert,
    _answers_in_present_words,
    bursts.settle,
    _number_acts,
    revisions.TABLE,
    _sheets_to_the_ledger,
    turned_away.TABLE,
    search_index.rebuild,
    known_time.build,
    _verdicts_in_present_words,
    _FLAGGED,
    rollup.build_days,
]


def newest() -> int:
    """The version that this program writes."""
    return len(MIGRATIONS)


def version(connection: sqlite3.Connection) -> int:
    """The version of an open file; 0 for an empty one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _take(connection: sqlite3.Connection, migration: Migration) -> None:
    if callable(migration):
        migration(connection)
        return
    for statement in migration.split(";"):
        connection.execute(statement)


def migrate(connection: sqlite3.Connection) -> None:
    """Lead the file to the newest version in one transaction, whole or not at all."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        for migration in MIGRATIONS[version(connection) :]:
            _take(connection, migration)
        connection.execute(f"PRAGMA user_version = {newest()}")
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
