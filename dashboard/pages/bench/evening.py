"""What the bench page says of bare metal and cans at an evening's end, and of the night in the
morning."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from curewatch.plan import evening_question, morning
from curewatch.plan.morning import Morning
from dashboard.context.page_context import Hall

MINUTE = timedelta(minutes=1)


def _night(hall: Hall, now: datetime) -> Morning | None:
    if not morning.is_morning(now, hall.zone):
        return None
    return morning.morning(hall.bench, now, hall.zone)


def evening_part(hall: Hall) -> Mapping[str, Any]:
    """What is asked of bare metal, how the night was, what to bring indoors; worked out again after
    a minute, or when anything was told or changed of what was measured before."""
    now = hall.clock()
    minute = now.replace(second=0, microsecond=0)
    as_of = (minute, hall.store.entered(), hall.store.measured(minute - MINUTE))
    if hall.evening.get("as_of") != as_of:
        hall.evening = {
            "as_of": as_of,
            "asks": evening_question.question(hall.bench, now, hall.zone),
            "night": _night(hall, now),
            "indoors": evening_question.indoors(hall.bench, now, hall.zone),
        }
    return hall.evening
