"""A box for a day, typed in the reader's way or picked from the browser's calendar."""

from __future__ import annotations

from typing import Any

from dash import html

from dashboard.pages.touches import Form


def day_box(form: Form, field: str, label: str, value: str = "") -> html.Div:
    """A labelled box with a button that opens a calendar; what is picked is written into it."""
    attributes: dict[str, Any] = {
        "aria-label": f"Pick a day: {label}",
        "data-picks": form.target(field),
    }
    pick = html.Button("Pick a day", type="button", className="picks", **attributes)
    return html.Div([form.box(field, label, value), pick], className="day-box")
