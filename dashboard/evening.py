"""What the bench page says of bare metal at an evening's end, and of the night in the morning."""

from __future__ import annotations

from typing import Any

from curewatch import card_words, evening_desk, morning
from curewatch.morning import Morning
from dashboard.hall import Hall


def _night(hall: Hall) -> Morning | None:
    now = hall.clock()
    if not morning.is_morning(now, hall.zone):
        return None
    return morning.morning(hall.bench, now, hall.zone)


def evening_part(hall: Hall) -> dict[str, Any]:
    """What the template of the bench's evening needs."""
    return {
        "asks": evening_desk.question(hall.bench, hall.clock(), hall.zone),
        "night": _night(hall),
        "card_words": card_words,
        "morning": morning,
    }
