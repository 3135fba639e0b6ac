"""The air page: present values, a box for a typed reading, and the history to look into."""

from __future__ import annotations

from typing import Any

import numpy as np
from dash import Dash, Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate
from flask import request

from curewatch.bench.views import BenchView
from curewatch.formats import ReaderFormat
from curewatch.logbook.air_history import AirHistory
from curewatch.walltime import from_ms
from curewatch.wording import air_words, words
from dashboard.context.page_context import PageContext
from dashboard.figures.air import AirDrawing, figure, styles
from dashboard.pages.air import typed_box
from dashboard.pages.air.data import CSV, PATH, drawing_of, history_of, period_at
from dashboard.pages.air.periods import Period, with_limit
from dashboard.pages.components import chart, choices, link, links, table, tile
from dashboard.pages.routes import Address, DashPage

LIMIT, FIGURE = "limit", "air-figure"
_NEARBY = (
    ("Sensors", "/air/sensors"),
    ("Room and fan", "/air/out"),
    ("Masks and filters", "/air/masks"),
    ("Entered last", "/undo"),
)
_ROWS = 24


def present(view: BenchView, say: ReaderFormat, first: bool) -> Any:
    """The present values, each with its age."""
    if not view.air:
        return html.P(words.EMPTY["air"], className="teach")
    return html.Dl([tile(air, view.now, say, first) for air in view.air], className="air")


def _spans(shown: Period) -> html.Nav:
    ways = [
        link(text, shown.address(PATH, name), here=name == shown.name)
        for name, text in air_words.SPANS.items()
    ]
    return choices("Period", ways)


def _moves(shown: Period) -> html.Nav:
    ways = (
        ("Earlier", shown.moved(PATH, -0.5)),
        ("Later", shown.moved(PATH, 0.5)),
        ("Closer", shown.moved(PATH, 0, 0.5)),
        ("Wider", shown.moved(PATH, 0, 2)),
        ("Now", shown.address(PATH, "24h")),
    )
    return choices("Move the stretch", [link(text, address) for text, address in ways])


def _key(history: AirHistory, ahead: bool) -> html.Ul:
    """What each line is, with a piece of it."""
    lines = [
        (air_words.name(e.place, e.quantity), f"{c} {d}") for e, c, d in styles(history.courses)
    ]
    lines += [(air_words.FORECAST, "ahead dash")] if ahead else []
    lines += [("flagged, not used", "cross")] if history.flagged else []
    items = [html.Li([html.I(className=f"line {kind}"), text]) for text, kind in lines]
    return html.Ul(items, className="key")


def _limit(shown: Period, say: ReaderFormat) -> html.Label:
    value = shown.limit or say.number(say.degrees(shown.limit_c), 0)
    box = dcc.Input(id=LIMIT, type="text", value=value, maxLength=20, className="limit-box")
    return html.Label([f"Shade below, °{say.unit}", box], className="limit")


def _rows(history: AirHistory, say: ReaderFormat) -> list[list[Any]]:
    measured = np.flatnonzero(np.any([~np.isnan(e.mean) for e in history.courses], axis=0))
    rows = []
    for index in measured[:: max(1, len(measured) // _ROWS)]:
        at = from_ms(round(history.times[index] * 1000))
        values = [float(course.mean[index]) for course in history.courses]
        texts = [
            "" if np.isnan(value) else words.value(say, course.quantity, value)
            for course, value in zip(history.courses, values, strict=True)
        ]
        rows.append([air_words.moment(at, history, say), *texts])
    return rows


def _steps(history: AirHistory, drawn: AirDrawing) -> html.Details | None:
    """The steps of the stretch, each with its way to its page."""
    items = []
    for summary in reversed(history.steps):
        title, when = air_words.step(summary, drawn.names, drawn.say, drawn.now)
        items.append(html.Li([link(title, f"/step/{summary.row.id}", button=False), f", {when}"]))
    return html.Details([html.Summary("Steps at that time"), html.Ul(items)]) if items else None


def _flagged(history: AirHistory, drawn: AirDrawing) -> html.Details | None:
    sentences = [air_words.flagged(span, drawn.say, drawn.now) for span in history.flagged]
    items = [html.Li("; ".join(pair)) for pair in sentences[:_ROWS]]
    title = html.Summary("Flagged readings")
    return html.Details([title, html.Ul(items, className="flags")]) if items else None


def _as_table(history: AirHistory, say: ReaderFormat) -> html.Details | None:
    if not history.courses:
        return None
    head = ["time", *(air_words.name(course.place, course.quantity) for course in history.courses)]
    rows = _rows(history, say)
    return html.Details(
        [html.Summary("The same as a table"), table(head, rows, "History of the air")]
    )


def _under(shown: Period, history: AirHistory, drawn: AirDrawing) -> list[Any]:
    """What stands under the figure."""
    wrong = html.P(shown.wrong, className="problem", role="alert") if shown.wrong else None
    ahead = drawn.track is not None and shown.end > drawn.now
    return [
        _key(history, ahead),
        wrong,
        html.P(air_words.summary(history, drawn.say), className="told"),
        html.P(link("Export CSV", shown.address(CSV)), className="buttons"),
        _steps(history, drawn),
        _flagged(history, drawn),
        _as_table(history, drawn.say),
    ]


def parts(
    context: PageContext, view: BenchView, shown: Period, first: bool = False
) -> tuple[Any, ...]:
    """What changes on the page: present values, what was typed last, the choice of the stretch,
    the figure and what stands under it, each of a single look at the bench."""
    say = context.manner(request)
    history = history_of(context, view, shown)
    drawn = drawing_of(context, view, history)
    return (
        present(view, say, first),
        typed_box.recent(context, view.now, say),
        [_spans(shown), _moves(shown)],
        {} if first else figure(history, drawn),  # drawn by a script, which comes later
        _under(shown, history, drawn),
    )


def content(context: PageContext, address: Address, first: bool = False) -> list[Any]:
    """The whole page at an address; first: as the server draws it before any script."""
    view, say = context.bench.view(context.clock()), context.manner(request)
    shown = period_at(context, view, address.query, say)
    tiles, typed, choice, drawing, under = parts(context, view, shown, first)
    return [
        html.Div([html.H1("Air"), links(_NEARBY)], className="head"),
        html.Div(tiles, id="air-now", className="present"),
        html.Section([typed_box.box(say.unit), html.Div(typed, id="air-typed")]),
        html.H2("History"),
        html.Div(
            [html.Div(choice, id="air-choice"), _limit(shown, say)],
            className="choice",
        ),
        chart(FIGURE, drawing, "History of the air", "air-history", zooms=True),
        html.Div(under, id="air-under"),
    ]


def callbacks(app: Dash, context: PageContext) -> None:
    """Put what the page answers on the Dash app."""

    @app.callback(
        Output("air-now", "children"),
        Output("air-typed", "children"),
        Output("air-choice", "children"),
        Output(FIGURE, "figure"),
        Output("air-under", "children"),
        Input("url", "search"),
        Input("again", "data"),
        State("url", "pathname"),
        prevent_initial_call=True,
    )
    def shown(search: str | None, _again: int, path: str) -> tuple[Any, ...]:
        if path != PATH:
            raise PreventUpdate
        view, say = context.bench.view(context.clock()), context.manner(request)
        return parts(context, view, period_at(context, view, search or "", say))

    typed_box.install(app, context)

    @app.callback(
        Output("url", "search"),
        Input(LIMIT, "n_submit"),
        State(LIMIT, "value"),
        State("url", "search"),
        prevent_initial_call=True,
    )
    def limited(sent: int | None, limit: str | None, search: str | None) -> str:
        if not sent:
            raise PreventUpdate
        return with_limit(search or "", limit or "")


PAGE = DashPage(
    "Air",
    content,
    acts=typed_box.ACTS,
    callbacks=callbacks,
    keeps=True,
)
