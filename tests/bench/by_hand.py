"""What SQL written by hand spares beside sqlite-utils, in processor time, in the same run."""

from __future__ import annotations

import argparse
import resource
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable

from sqlite_utils import Database
from sqlite_utils.db import Table

READINGS, EVENTS, ASKED = 2000, 500, 500
_READING = """CREATE TABLE reading (series INTEGER NOT NULL, at_ms INTEGER NOT NULL,
    value REAL NOT NULL, flag TEXT, PRIMARY KEY (series, at_ms)) WITHOUT ROWID"""
_EVENT = "CREATE TABLE event (id INTEGER PRIMARY KEY, step INTEGER, kind TEXT, body TEXT)"
ROWS = [(1, at * 1000, 20.0 + at % 7, None) for at in range(READINGS)]


def file() -> sqlite3.Connection:
    """A file in memory with the two tables that are written most."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    connection.execute(_READING)
    connection.execute(_EVENT)
    return connection


def table(name: str) -> Table:
    """A table of such a file, for sqlite-utils."""
    return Database(file()).table(name)


def readings_by_hand() -> None:
    """Readings in one transaction."""
    connection = file()
    connection.execute("BEGIN IMMEDIATE")
    connection.executemany("INSERT INTO reading VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING", ROWS)
    connection.execute("COMMIT")


def readings_by_table() -> None:
    """The same through sqlite-utils."""
    names = ("series", "at_ms", "value", "flag")
    rows = (dict(zip(names, row, strict=True)) for row in ROWS)
    table("reading").insert_all(rows, pk=("series", "at_ms"), ignore=True)


def events_by_hand() -> None:
    """Events, each in a transaction of its own."""
    connection = file()
    for step in range(EVENTS):
        connection.execute("BEGIN IMMEDIATE")
        sql = "INSERT INTO event (step, kind, body) VALUES (?, ?, ?)"
        connection.execute(sql, (step, "noted", "{}"))
        connection.execute("COMMIT")


def events_by_table() -> None:
    """The same through sqlite-utils."""
    events = table("event")
    for step in range(EVENTS):
        events.insert({"step": step, "kind": "noted", "body": "{}"})


def rows_by_hand() -> None:
    """Rows asked for one by one."""
    connection = file()
    for at in range(ASKED):
        connection.execute("SELECT value FROM reading WHERE at_ms = ?", (at,)).fetchall()


def rows_by_table() -> None:
    """The same through sqlite-utils."""
    readings = table("reading")
    for at in range(ASKED):
        list(readings.rows_where("at_ms = ?", (at,), select="value"))


def processor_s(work: Callable[[], object], repeat: int) -> float:
    """The least that a piece of work took. [s]"""
    values = []
    for _ in range(repeat):
        start = time.process_time()
        work()
        values.append(time.process_time() - start)
    return min(values)


def loading_s(module: str, repeat: int) -> float:
    """The least that a new process took to load a module. [s]"""
    values = []
    for _ in range(repeat):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-c", f"import {module}"], check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        values.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(values)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=7)
    repeat = parser.parse_args().repeat
    pairs = (
        (f"{READINGS:,} readings in one transaction", readings_by_hand, readings_by_table),
        (f"{EVENTS} events, one a transaction", events_by_hand, events_by_table),
        (f"{ASKED} questions of one row", rows_by_hand, rows_by_table),
    )
    print("| processor time | by hand | sqlite-utils | times |\n|---|---|---|---|")
    rows = [
        ("a process that loads it", loading_s("sqlite3", repeat), loading_s("sqlite_utils", repeat))
    ]
    rows += [
        (what, processor_s(hand, repeat), processor_s(other, repeat)) for what, hand, other in pairs
    ]
    for what, hand, other in rows:
        print(f"| {what} | {1000 * hand:.1f} ms | {1000 * other:.1f} ms | {other / hand:.1f} |")


if __name__ == "__main__":
    main()
