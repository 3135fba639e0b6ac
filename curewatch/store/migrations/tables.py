"""A table as sqlite-utils handles it: made, indexed, filled and converted by its columns."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sqlite_utils.db import Table


def open_table(connection: sqlite3.Connection, name: str) -> Table:
    """A table of an open file, there already or to be made; what is done to it is part of the
    transaction that is open."""
    from sqlite_utils import Database  # here: loading it takes longer than most commands may

    return Database(connection).table(name)
