"""What a touch on a Dash page records: said in the page's toast, with its Undo."""

from __future__ import annotations

from typing import Any

from curewatch.events.events import going_on
from dashboard import undo
from dashboard.hall import Hall


def did(hall: Hall) -> dict[str, Any] | None:
    """What the touch that is being answered did, as the toast takes it; None where nothing."""
    found = undo.found(hall, going_on().number)
    return None if found is None else {"said": found.words, "act": found.act, "label": found.label}
