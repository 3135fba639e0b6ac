"""The index of the steps, kept in step with their events.

Each step has one row in `listed` and one in the full-text index `found`. Both are worked out anew
from the step's events in the transaction that stores one, so that they never fall behind.

A word is found by its beginning, whatever its case and accents. Scripts that put no blanks between
words are searched character by character.
"""

from __future__ import annotations

import re
import sqlite3
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any

from curewatch.events.bodies import read_row
from curewatch.events.events import Event, standing
from curewatch.events.fields import FIELDS
from curewatch.events.outline import ENDS, HARDENING, Outline, outline
from curewatch.events.outline import UNDONE as UNDONE
from curewatch.store.migrations.tables import open_table
from curewatch.walltime import to_ms

STATES = (HARDENING, *ENDS)
MIXED = f"step.id NOT IN (SELECT step FROM listed WHERE state = '{UNDONE}')"
_UNSPACED = (
    "([\u0e00-\u0eff\u1000-\u109f\u1780-\u17ff\u3040-\u30ff\u3400-\u9fff\uf900-\ufaff"
    "\U00020000-\U0003ffff])"
)
_COLUMNS = ("job", "part", "batch", "who")
_OTHER = tuple(field.name for field in FIELDS if field.searchable and field.name not in _COLUMNS)
_WORDS = ("text", "why", "words", "by", "stops", "said", "what")
_LISTED = {
    "step": int,
    "job": str,
    "part": str,
    "sheet": str,
    "state": str,
    "mixed_ms": int,
    "place": str,
    "batch": str,
    "can": int,
}
# Written by hand: the index holds folded words of its own, where sqlite-utils would index a
# table's columns as they stand.
_FOUND = """CREATE VIRTUAL TABLE found USING fts5 (
    job, part, product, batch, who, notes,
    tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3')"""


def folded(text: str) -> str:
    """A text as it is compared: one form of each character, no case, unspaced scripts spaced.

    >>> folded("Größe 門板")
    'grösse  門  板 '
    """
    plain = unicodedata.normalize("NFKC", text.replace("\0", " ")).casefold()
    return plain if plain.isascii() else re.sub(_UNSPACED, r" \1 ", plain)


@lru_cache(maxsize=256)
def _product(sheet_text: str) -> str:
    import tomllib

    try:
        return str(tomllib.loads(sheet_text).get("name", ""))
    except (ValueError, RecursionError):
        return ""


def _texts(body: Mapping[str, Any]) -> Iterable[str]:
    for key in _WORDS:
        value = body.get(key)
        yield from [value] if isinstance(value, str) else value or ()


def _words(events: Sequence[Event], step: Outline) -> tuple[str, ...]:
    """The words by which a step is found, in the order of the columns."""
    job, part, batch, who = (str(step.recorded.get(key) or "") for key in _COLUMNS)
    notes = [str(note) for event in standing(events) for note in _texts(event.body)]
    others = " ".join(
        [*(str(step.recorded[key]) for key in _OTHER if step.recorded.get(key)), *notes]
    )
    return job, part, f"{_product(step.sheet_text)} {step.sheet_id}", batch, who, others


def as_event(
    id: int, step: int, kind: str, at: int, recorded_ms: int, text: str, act: int = 0
) -> Event:
    """A row of the file as an event. Times [ms]"""
    when, then, body, damaged = read_row(kind, at, recorded_ms, text)
    return Event(id, step, kind, when, then, body, act, damaged)


def _events(connection: sqlite3.Connection, step: int) -> list[Event]:
    sql = "SELECT id, step, kind, at_ms, told_ms, body FROM event WHERE step = ? ORDER BY id"
    return [as_event(*row) for row in connection.execute(sql, (step,)).fetchall()]


def refresh(connection: sqlite3.Connection, step: int) -> None:
    """Work a step's rows and its words out anew; inside the transaction that stored an event."""
    events = _events(connection, step)
    summary = outline(events)
    mixed_ms = to_ms(summary.mixed_at)
    closed_ms = None if summary.closed_at is None else to_ms(summary.closed_at)
    connection.execute(
        "UPDATE step SET sheet = coalesce(nullif(?, ''), sheet), mixed_ms = ?, closed_ms = ? "
        "WHERE id = ?",
        (summary.sheet_id, mixed_ms, closed_ms, step),
    )
    job, part, batch = (str(summary.recorded.get(key) or "") for key in ("job", "part", "batch"))
    place = str(summary.recorded.get("place", "panel"))
    row = (step, job, part, summary.sheet_id, summary.state, mixed_ms, place, batch, summary.can)
    connection.execute(f"INSERT OR REPLACE INTO listed VALUES ({', '.join('?' * len(row))})", row)
    connection.execute("DELETE FROM found WHERE rowid = ?", (step,))
    connection.execute(
        "INSERT INTO found (rowid, job, part, product, batch, who, notes) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)",
        (step, *map(folded, _words(events, summary))),
    )


def build(connection: sqlite3.Connection) -> None:
    """Make the tables, and fill them from the steps that are there."""
    listed = open_table(connection, "listed")
    listed.create(
        _LISTED,
        pk="step",
        not_null=[name for name in _LISTED if name != "step"],
        foreign_keys=[("step", "step", "id")],
    )
    for name in ("job", "part", "sheet"):
        listed.create_index([name, "step"], f"listed_{name}")
    connection.execute(_FOUND)
    for (step,) in connection.execute("SELECT id FROM step ORDER BY id").fetchall():
        refresh(connection, step)


def rebuild(connection: sqlite3.Connection) -> None:
    """Make the tables anew, with all their columns, from the steps that are there."""
    connection.execute("DROP TABLE listed")
    connection.execute("DROP TABLE found")
    build(connection)
