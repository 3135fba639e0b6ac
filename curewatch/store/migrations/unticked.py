"""Sheets written by the form of before: a box that was not ticked is no denial.

The form wrote every hazard, `false` for each box left alone. Since `false` denies a hazard in so
many words, those are taken out once, and the hazard counts as not said.
"""

from __future__ import annotations

import sqlite3

from curewatch.store.migrations.tables import open_table

_BOXES = {"isocyanate", "styrene", "peroxide", "flammable_solvent", "sensitiser", "dust"}


def without(text: str) -> str:
    """The sheet's text without what was merely not ticked; any other text as it stands."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
    except TOMLKitError:
        return text
    table = document.get("hazards")
    if not isinstance(table, dict) or not set(table) >= _BOXES:
        return text
    for name in _BOXES:
        if table[name] is False:
            del table[name]
    return tomlkit.dumps(document)


def migrate(connection: sqlite3.Connection) -> None:
    """Take unticked boxes out of the sheets on the shelf; the steps keep the text they had."""
    open_table(connection, "sheet").convert("text", without)
