"""Marks that tell whether anything changed that a result was worked out from.

"measured" has one for each minute: of what was measured up to then, and of which of it counts.
"told" has one for all that was told: events, entries of the ledger, products. Each write raises
what it changes in its own transaction, so that other processes see it too. A mark is found with
one look-up: a later change at an earlier instant takes the place of those after it, so that the
marks rise with their instants.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from typing import Literal

What = Literal["measured", "told"]
MINUTE_MS = 60_000
ALWAYS = -(2**63)
TABLE = """
CREATE TABLE IF NOT EXISTS mark (
    what TEXT NOT NULL, from_ms INTEGER NOT NULL, number INTEGER NOT NULL,
    PRIMARY KEY (what, from_ms)) WITHOUT ROWID
"""
FIND = "SELECT number FROM mark WHERE what = ? AND from_ms <= ? ORDER BY from_ms DESC LIMIT 1"
_LAST = "SELECT number FROM mark WHERE what = ? ORDER BY from_ms DESC LIMIT 1"


@dataclass
class Changes:
    """What a transaction changes: from when on of what was measured [ms], None for nothing; and
    whether anything of what was entered."""

    measured_from: int | None
    entered: bool

    def add(self, measured_from: int | None, entered: bool) -> None:
        """Take in what a part of it changes. [ms]"""
        starts = [at_ms for at_ms in (self.measured_from, measured_from) if at_ms is not None]
        self.measured_from, self.entered = min(starts, default=None), self.entered or entered

    def raise_marks(self, connection: sqlite3.Connection) -> None:
        """Raise the marks of what was changed."""
        if self.measured_from is not None:
            _raise(connection, "measured", self.measured_from)
        if self.entered:
            _raise(connection, "told", ALWAYS)


def _raise(connection: sqlite3.Connection, what: What, from_ms: int) -> None:
    """Note that something changed from that instant's minute on. [ms]"""
    start = from_ms if from_ms == ALWAYS else from_ms // MINUTE_MS * MINUTE_MS
    last = connection.execute(_LAST, (what,)).fetchone()
    connection.execute("DELETE FROM mark WHERE what = ? AND from_ms >= ?", (what, start))
    connection.execute(
        "INSERT INTO mark VALUES (?, ?, ?)", (what, start, last[0] + 1 if last else 1)
    )
