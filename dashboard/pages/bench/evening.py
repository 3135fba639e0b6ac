"""What the bench page says of bare metal and cans at an evening's end, and of the night in the
morning."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from curewatch.plan import evening_question, morning
from curewatch.plan.morning import Morning
from dashboard.context.page_context import PageContext

MINUTE = timedelta(minutes=1)


def _night(context: PageContext, now: datetime) -> Morning | None:
    if not morning.is_morning(now, context.zone):
        return None
    return morning.morning(context.bench, now, context.zone)


def evening_part(context: PageContext) -> Mapping[str, Any]:
    """What is asked of bare metal, how the night was, what to bring indoors; worked out again after
    a minute, or when anything was told or changed of what was measured before."""
    now = context.clock()
    minute = now.replace(second=0, microsecond=0)
    as_of = (minute, context.store.entered(), context.store.measured(minute - MINUTE))
    if context.evening.get("as_of") != as_of:
        context.evening = {
            "as_of": as_of,
            "asks": evening_question.question(context.bench, now, context.zone),
            "night": _night(context, now),
            "indoors": evening_question.indoors(context.bench, now, context.zone),
        }
    return context.evening
