"""Components that several pages share: plain data in, components out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from typing import Any

from dash import Dash, Input, Output, dcc, html
from dash.exceptions import PreventUpdate

from curewatch.bench.views import AirTile
from curewatch.formats import ReaderFormat
from curewatch.units import minutes
from curewatch.wording import words
from curewatch.wording.words import Rounding
from dashboard.endpoints.damaged import DamagedEntry
from dashboard.figures.palette import Figure
from dashboard.figures.sizes import rows_class
from dashboard.pages import touches
from dashboard.request.numbers import ms

REMOVE_DAMAGED = "remove damaged"


def age(at: datetime, now: datetime, first: bool) -> html.Time:
    """How long ago, which the script goes on counting; in words only where the server draws it
    first, since what the script writes is not Dash's to replace."""
    text = words.ago(minutes(now - at)) if first else None
    attributes: dict[str, Any] = {"data-age": ms(at)}
    return html.Time(text, **attributes)


def first_up(text: str) -> str:
    """A text that begins with a capital, as a sentence does."""
    return text[:1].upper() + text[1:]


def on_search(app: Dash, box: str, results: str, products: Callable[[str], list[Any]]) -> None:
    """Show what a search finds as it is typed; box and results: their ids."""

    @app.callback(Output(results, "children"), Input(box, "value"), prevent_initial_call=True)
    def sought(text: str | None) -> list[Any]:
        if text is None:
            raise PreventUpdate
        return products(text)


def link(text: str, address: str, *, button: bool = True, here: bool = False) -> html.A:
    """A link to a page of ours; here: it is what is shown now."""
    attributes: dict[str, Any] = {"aria-current": "true"} if here else {}
    return html.A(text, href=address, className="button" if button else None, **attributes)


def links(pairs: Sequence[tuple[str, str]]) -> html.P:
    """Links to pages nearby, in a row."""
    return html.P([link(text, address) for text, address in pairs], className="buttons")


def choices(label: str, ways: Sequence[html.A]) -> html.Nav:
    """Links of which one leads to what is shown now, or moves it; label: what they are about."""
    attributes: dict[str, Any] = {"aria-label": label}
    return html.Nav(list(ways), className="buttons spans", **attributes)


def tile(air: AirTile, now: datetime, say: ReaderFormat, first: bool, dew: str = "") -> html.Div:
    """A present value with its age; an old one says so. dew: from when dew is likely, in words."""
    dewy = bool(dew) or (
        air.quantity == "dew_point_spread" and air.value is not None and air.value < 3
    )
    kinds = ["figure", *(["old"] if air.old else []), *(["dewy"] if dewy else [])]
    head: list[Any] = [words.air_label(air.place, air.quantity)]
    if air.at:
        before = "flagged; used: " if air.flag else "old: " if air.old else ""
        head += [" ", html.Span([before, age(air.at, now, first)])]
    value = "none" if air.value is None else words.value(say, air.quantity, air.value)
    more = html.Span([html.Small("dew likely"), " ", html.Small(dew)]) if dew else None
    return html.Div([html.Dt(head), html.Dd([html.B(value), more])], className=" ".join(kinds))


def table(head: Sequence[str], rows: Sequence[Sequence[Any]], label: str) -> html.Div:
    """A table whose first column names its rows; on the phone each row stands alone."""
    body = [html.Tr([html.Th(row[0], scope="row"), *_cells(head, row)]) for row in rows]
    heads = html.Thead(html.Tr([html.Th(name, scope="col") for name in head]))
    return scrolled(html.Table([heads, html.Tbody(body)], className="stack"), label)


def _cells(head: Sequence[str], row: Sequence[Any]) -> Iterator[html.Td]:
    for name, value in zip(head[1:], row[1:], strict=True):
        yield cell(name, value)


def scrolled(table: html.Table, label: str) -> html.Div:
    """A table in a box of its own that scrolls sideways where it is too narrow."""
    attributes: dict[str, Any] = {"aria-label": label}
    return html.Div(table, className="scroll", tabIndex=0, role="region", **attributes)


def cell(head: str, value: Any) -> html.Td:
    """A cell; head: the name of its column, said beside it where each row stands alone."""
    attributes: dict[str, Any] = {"data-head": head}
    return html.Td(value, **attributes)


def figure_box(id: str, drawn: Figure, label: str) -> html.Figure:
    """A figure that only eyes and hands read, at its height before it is drawn; what it shows must
    stand beside it as text too."""
    attributes: dict[str, Any] = {"aria-hidden": "true"}
    graph = dcc.Graph(
        id=id,
        figure=drawn,
        config={"displayModeBar": False, "doubleClick": "reset", "showTips": False},
        responsive=False,
        className=rows_class(drawn["layout"]["height"]),
    )
    box = html.Div(graph, className="chart", **attributes)
    return html.Figure([html.Figcaption(label, className="unseen"), box])


def chart(
    name: str, drawing: Any, label: str, kind: str, says: str = "", *, zooms: bool = False
) -> html.Div:
    """A figure in its room, read by touch and by the arrow keys; kind: the class of its height;
    says: where what is touched stands as text, for a figure along which a finger slides; zooms: a
    stretch that is dragged over is shown by the page's address."""
    attributes: dict[str, Any] = {
        "aria-label": f"{label}, read with the arrow keys",
        "aria-valuemin": 0,
        "aria-valuemax": 0,
        "aria-valuenow": 0,
        **({"data-zoom": "address"} if zooms else {}),
    }
    if says:
        attributes["data-says"] = says
    graph = dcc.Graph(
        id=name,
        figure=drawing,
        config={"displayModeBar": False, "doubleClick": False, "showTips": False},
        responsive=False,
        className=kind,
    )
    return html.Div(graph, role="slider", tabIndex=0, className="chart", **attributes)


def breaking(topic: str) -> list[Any]:
    """A sensor's topic, which a narrow screen breaks behind its slashes and underlines."""
    pieces = re.split(r"(?<=[/_])", topic)
    return [part for piece in pieces for part in (piece, html.Wbr())][:-1]


def damaged_entries(entries: Sequence[DamagedEntry]) -> list[html.Div]:
    """Each damaged entry, with the button that removes it and the history of its step."""
    return [_damaged(*entry) for entry in entries]


def _damaged(id: str, sentence: str, step: int | None) -> html.Div:
    attributes: dict[str, Any] = {"aria-label": f"Remove: {sentence}"}
    remove = touches.button("Remove the damaged entry", REMOVE_DAMAGED, id, "small", **attributes)
    text: list[Any] = [f"{sentence}."]
    if step:
        text += [" ", link(f"History of step {step}", f"/step/{step}/history", button=False)]
    return html.Div([html.P(text), remove], className="problem")


def _lengths(minutes: float, rounding: Rounding) -> list[Any]:
    pairs = words.parts(minutes, rounding)
    return [part for n, unit in pairs for part in (html.B(n), html.I(unit) if unit else None)]


def countdown(
    at: datetime, now: datetime, rounding: Rounding, first: bool, kind: str = "count"
) -> html.Span:
    """How long until an instant, which the script goes on counting down."""
    length = _lengths(minutes(at - now), rounding) if first else None
    attributes: dict[str, Any] = {"data-down": ms(at), "data-round": rounding}
    return html.Span(length, role="timer", className=kind, **attributes)


def counting_up(at: datetime, now: datetime, first: bool, kind: str = "count") -> html.Span:
    """How long since an instant, which the script goes on counting up."""
    length = _lengths(minutes(now - at), "down") if first else None
    attributes: dict[str, Any] = {"data-up": ms(at)}
    return html.Span(length, role="timer", className=kind, **attributes)
