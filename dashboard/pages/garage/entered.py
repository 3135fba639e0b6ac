"""What was entered last, each with one touch to undo it or to bring it back."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from itertools import islice
from typing import Any

from dash import html
from flask import request

from curewatch.formats import ReaderFormat
from curewatch.logbook import undo as undoing
from curewatch.logbook.undo import PastAct
from dashboard.context.page_context import PageContext
from dashboard.endpoints.undo import LISTED, did_of
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import button
from dashboard.request.numbers import number_of

OPEN = 8
_LATE = timedelta(minutes=1)


def _when(act: PastAct, now: datetime, say: ReaderFormat) -> html.Span:
    """When it was entered, and for when where that is another time."""
    entered = say.moment(act.recorded_at, now)
    if act.is_undo or abs(act.recorded_at - act.at) < _LATE:
        return html.Span(entered, className="when")
    return html.Span([entered, html.Small(f" for {say.moment(act.at, now)}")], className="when")


def _row(context: PageContext, act: PastAct, now: datetime, say: ReaderFormat) -> html.Li:
    done = did_of(context, act)
    named: dict[str, Any] = {"aria-label": f"{done.label}: {done.words}"}
    undo = button(done.label, "undo act", str(done.act), **named)
    end = html.Span("undone", className="done") if done.undone else undo
    words = [_when(act, now, say), html.Span(done.words)]
    return html.Li([*words, end], className="undone" if done.undone else None)


def content(context: PageContext, _address: Address, _first: bool) -> list[Any]:
    """The last acts, the latest first; all but a few folded."""
    now, say = context.clock(), context.manner(request)
    rows = [
        _row(context, act, now, say) for act in islice(undoing.last_acts(context.store), LISTED)
    ]
    nothing = html.P("Nothing was entered yet.", className="teach")
    earlier = html.Ul(rows[OPEN:], className="entered")
    return [
        html.H1("Entered last"),
        html.P("What is undone stays in the history, and can be brought back.", className="hint"),
        html.Ul(rows[:OPEN], className="entered") if rows else nothing,
        html.Details([html.Summary("Earlier"), earlier]) if rows[OPEN:] else None,
    ]


def _undo(context: PageContext, key: str, _values: Mapping[str, Any]) -> None:
    act = undoing.past_act(context.store, number_of(key) or 0)
    undoing.undo(context.bench, act, now=context.clock(), why="")


PAGE = DashPage("Entered last", content, acts={"undo act": _undo}, under="/logbook")
