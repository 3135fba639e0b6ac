"""What was entered last, each with one touch to undo it or to bring it back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from itertools import islice
from typing import Any

from dash import html
from flask import request

from curewatch.formats import ReaderFormat
from curewatch.logbook import undo as undoing
from curewatch.logbook.undo import PastAct
from dashboard.hall import Hall
from dashboard.numbers import number_of
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import button
from dashboard.undo import LISTED, did_of


def _row(hall: Hall, act: PastAct, now: datetime, say: ReaderFormat) -> html.Li:
    done = did_of(hall, act)
    named: dict[str, Any] = {"aria-label": f"{done.label}: {done.words}"}
    undo = button(done.label, "undo act", str(done.act), **named)
    end = html.Span("undone", className="done") if done.undone else undo
    words = [html.Span(say.moment(act.recorded_at, now), className="when"), html.Span(done.words)]
    return html.Li([*words, end], className="undone" if done.undone else None)


def content(hall: Hall, _address: Address, _first: bool) -> list[Any]:
    """The last acts, the latest first."""
    now, say = hall.clock(), hall.manner(request)
    rows = [_row(hall, act, now, say) for act in islice(undoing.last_acts(hall.store), LISTED)]
    nothing = html.P("Nothing was entered yet.", className="teach")
    return [
        html.H1("Entered last"),
        html.P("What is undone stays in the history, and can be brought back.", className="hint"),
        html.Ul(rows, className="entered") if rows else nothing,
    ]


def _undo(hall: Hall, key: str, _values: Mapping[str, Any]) -> None:
    act = undoing.past_act(hall.store, number_of(key) or 0)
    undoing.undo(hall.bench, act, now=hall.clock(), why="")


PAGE = DashPage("Entered last", content, acts={"undo act": _undo})
