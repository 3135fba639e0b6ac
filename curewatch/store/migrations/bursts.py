"""Once, when an older file is opened: typed readings that it averaged within a minute."""

from __future__ import annotations

import json
import sqlite3

from curewatch.climate.flag import REPLACED, text_of
from curewatch.climate.reading import QUANTITIES
from curewatch.store import rollup
from curewatch.walltime import from_ms

BURST_MS = 60_000
_BURSTS = f"""
    WITH typed AS (
        SELECT series, at_ms, value, place, quantity, lead(at_ms) OVER later AS by_ms,
            lead(value) OVER later AS by_value
        FROM series CROSS JOIN reading ON series = series.id
        WHERE source = 'typed' AND flag IS NULL
        WINDOW later AS (PARTITION BY series ORDER BY at_ms))
    SELECT series, at_ms, value, place, quantity, by_ms, by_value FROM typed
    WHERE by_ms <= at_ms + {BURST_MS} ORDER BY at_ms"""
_TELL = """INSERT INTO ledger (subject, name, kind, at_ms, told_ms, body)
    VALUES ('reading', ?, 'typed', ?, ?, ?)"""


def settle(connection: sqlite3.Connection) -> None:
    """Let the later of two typed readings replace the earlier, and say so in the ledger."""
    changed: list[rollup.Row] = []
    for series, at_ms, value, place, quantity, by_ms, by_value in connection.execute(
        _BURSTS
    ).fetchall():
        sql = "UPDATE reading SET flag = ? WHERE series = ? AND at_ms = ?"
        connection.execute(sql, (text_of(REPLACED), series, at_ms))
        body = {
            "quantity": QUANTITIES[quantity],
            "value": by_value,
            "replaces": [from_ms(at_ms).isoformat()],
        }
        connection.execute(_TELL, (place, by_ms, by_ms, json.dumps(body)))
        changed.append((series, at_ms, value, text_of(REPLACED)))
    rollup.work_out(connection, changed)
