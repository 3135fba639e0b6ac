"""The newest instant that this computer's clock is known to have shown.

Whatever is recorded raises it, and `curewatch up` twice a minute. A clock that shows less later was
set back. What comes in with another logbook, and the times that sensors give, say nothing of it.
"""

from __future__ import annotations

import sqlite3
from datetime import datetime, timedelta

from curewatch.frozen import frozen
from curewatch.walltime import to_ms

_TABLE = """
CREATE TABLE IF NOT EXISTS clock (
    id INTEGER PRIMARY KEY CHECK (id = 1), newest_ms INTEGER NOT NULL,
    behind_ms INTEGER NOT NULL, confirmed INTEGER NOT NULL)
"""


@frozen
class KnownTime:
    """The newest instant known; by how much the computer's clock was behind it then; confirmed:
    how often the user has said, or taken back, that the clock is right although it was set back."""

    newest: datetime
    behind: timedelta
    confirmed: int


def build(connection: sqlite3.Connection) -> None:
    """Make the table; what was recorded last is the newest instant known."""
    connection.execute(_TABLE)
    connection.execute(
        "INSERT OR REPLACE INTO clock SELECT 1, coalesce(max(told_ms), 0), 0, 0 FROM "
        "(SELECT told_ms FROM event UNION ALL SELECT told_ms FROM ledger)"
    )


def raise_newest(connection: sqlite3.Connection, recorded_at: datetime) -> None:
    """Something is recorded at that instant."""
    connection.execute("UPDATE clock SET newest_ms = max(newest_ms, ?)", (to_ms(recorded_at),))
