"""The index of the steps, kept in step with their events.

Each step has one row in `listed` and one in the full-text index `found`. Both are worked out anew
from the step's events in the transaction that stores one, so that they never fall behind.

A word is found by its beginning, whatever its case and accents. Scripts that put no blanks between
words are searched character by character.
"""

from __future__ import annotations

import json
import re
import sqlite3
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from typing import Any, NamedTuple

from curewatch.events import Event, standing, undone_by
from curewatch.instants import from_ms, to_ms

STATES = ("hardening", "finished", "abandoned")
UNDONE = "undone"
MIXED = f"step.id NOT IN (SELECT step FROM listed WHERE state = '{UNDONE}')"
_CLOSING = STATES[1:]
_UNSPACED = re.compile(
    "([\u0e00-\u0eff\u1000-\u109f\u1780-\u17ff\u3040-\u30ff\u3400-\u9fff\uf900-\ufaff"
    "\U00020000-\U0003ffff])"
)
_COLUMNS = ("job", "part", "batch", "who")
_OTHER = ("hardener_batch", "expiry", "ratio", "grit", "cleaner", "deviations", "signed", "place")
_WORDS = ("text", "why", "words", "by", "stops", "said", "what")
_TABLES = (
    """CREATE TABLE listed (
        step INTEGER PRIMARY KEY REFERENCES step (id), job TEXT NOT NULL, part TEXT NOT NULL,
        sheet TEXT NOT NULL, state TEXT NOT NULL, mixed_ms INTEGER NOT NULL)""",
    "CREATE INDEX listed_job ON listed (job, step)",
    "CREATE INDEX listed_part ON listed (part, step)",
    "CREATE INDEX listed_sheet ON listed (sheet, step)",
    """CREATE VIRTUAL TABLE found USING fts5 (
        job, part, product, batch, who, notes,
        tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3')""",
)


def folded(text: str) -> str:
    """A text as it is compared: one form of each character, no case, unspaced scripts spaced.

    >>> folded("Größe 門板")
    'grösse  門  板 '
    """
    plain = unicodedata.normalize("NFKC", text.replace("\0", " ")).casefold()
    return _UNSPACED.sub(r" \1 ", plain)


@lru_cache(maxsize=256)
def _product(sheet_text: str) -> str:
    try:
        return str(tomllib.loads(sheet_text).get("name", ""))
    except (ValueError, RecursionError):
        return ""


class _Row(NamedTuple):
    job: str
    part: str
    sheet: str
    state: str
    mixed_ms: int
    closed_ms: int | None
    words: tuple[str, ...]


def _texts(body: Mapping[str, Any]) -> Iterable[str]:
    for key in _WORDS:
        value = body.get(key)
        yield from [value] if isinstance(value, str) else value or ()


def _row(events: Sequence[Event]) -> _Row:
    """What a step's events say of it now."""
    told: dict[str, Any] = {}
    notes: list[str] = []
    state, mixed_ms, closed_ms, product = STATES[0], 0, None, ""
    first, gone = events[0], undone_by(events)
    for event in [first, *(each for each in standing(events) if each is not first)]:
        kind, body = event.kind, event.body
        if kind == "started":
            mixed_ms = to_ms(event.at)
        if kind in ("started", "amended"):
            told |= {key: body[key] for key in (*_COLUMNS, *_OTHER, "sheet_id") if key in body}
            product = _product(body["sheet_text"]) if "sheet_text" in body else product
        if kind == "amended" and "mixed_at" in body:
            mixed_ms = to_ms(datetime.fromisoformat(body["mixed_at"]))
        if kind in _CLOSING:
            state, closed_ms = kind, to_ms(event.at)
        notes += [str(each) for each in _texts(body)]
    if first.id in gone:
        state, closed_ms = UNDONE, to_ms(gone[first.id].at)
    job, part, batch, who = (str(told.get(key) or "") for key in _COLUMNS)
    sheet = str(told.get("sheet_id") or "")
    said = " ".join([*(str(told[key]) for key in _OTHER if told.get(key)), *notes])
    words = (job, part, f"{product} {sheet}", batch, who, said)
    return _Row(job, part, sheet, state, mixed_ms, closed_ms, words)


def refresh(connection: sqlite3.Connection, step: int) -> None:
    """Work a step's rows and its words out anew; inside the transaction that stored an event."""
    sql = "SELECT id, step, kind, at_ms, told_ms, body FROM event WHERE step = ? ORDER BY id"
    row = _row(
        [
            Event(id, step, kind, from_ms(at), from_ms(told), json.loads(body))
            for id, step, kind, at, told, body in connection.execute(sql, (step,)).fetchall()
        ]
    )
    connection.execute(
        "UPDATE step SET sheet = coalesce(nullif(?, ''), sheet), mixed_ms = ?, closed_ms = ? "
        "WHERE id = ?",
        (row.sheet, row.mixed_ms, row.closed_ms, step),
    )
    connection.execute("INSERT OR REPLACE INTO listed VALUES (?, ?, ?, ?, ?, ?)", (step, *row[:5]))
    connection.execute("DELETE FROM found WHERE rowid = ?", (step,))
    connection.execute(
        "INSERT INTO found (rowid, job, part, product, batch, who, notes) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)",
        (step, *map(folded, row.words)),
    )


def build(connection: sqlite3.Connection) -> None:
    """Make the tables, and fill them from the steps that are there."""
    for statement in _TABLES:
        connection.execute(statement)
    for (step,) in connection.execute("SELECT id FROM step ORDER BY id").fetchall():
        refresh(connection, step)
