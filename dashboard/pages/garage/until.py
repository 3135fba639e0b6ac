"""Until when one works tonight: its box, and what it records."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from dash import html
from flask import request

from curewatch.formats import ReaderFormat
from curewatch.garage import evening
from curewatch.walltime import next_time
from dashboard.context.page_context import PageContext
from dashboard.pages.touches import Form, at_field


def box(stop: datetime | None, say: ReaderFormat) -> html.Div:
    """Until when one works tonight."""
    form, value = Form("working until"), say.time_of_day(stop) if stop else ""
    more: dict[str, Any] = {"placeholder": "22:30", "inputMode": "numeric", "className": "one-box"}
    return html.Div(
        [form.box("until", "Working until", value, **more), form.send("Save", kind=None)],
        className="until",
    )


def keep(context: PageContext, _key: str, values: Mapping[str, Any]) -> None:
    """Record a stopping time, as the box says it."""
    now = context.clock()
    with at_field("until"):
        until = next_time(values.get("until") or "", now, context.zone, context.date_order(request))
        evening.set_stop(context.store, until, now=now, zone=context.zone)
