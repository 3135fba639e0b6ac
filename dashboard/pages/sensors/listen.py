"""Listening: every number that the broker hears for a while, and one touch to say what it is."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any
from urllib.parse import parse_qs

from dash import ALL, Dash, Input, Output, State, dcc, html, no_update, set_props
from dash.exceptions import PreventUpdate
from flask import request

from curewatch.errors import ConfigError
from dashboard.context.listener import BrokerListener
from dashboard.context.page_context import PageContext
from dashboard.pages.components import link, links
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.sensors.heard import (
    NAMED,
    UNITS,
    HeardNumber,
    HeardNumbers,
    chosen,
    heard_numbers,
    leaf_of,
    taken_as,
)
from dashboard.pages.touches import KEPT, Form, TouchOutcome, button

Values = Mapping[str, Any]

PATH, KEEP, SAY = "/air/listen", "listen keep", "say"
LEFT, NUMBERS, SHOWN = "listen-left", "listen-heard", "listen-shown"
PLACES = {
    "panel": "On the panel",
    "air": "In the air",
    "outdoors": "Outdoors",
    "shelf": "On the shelf",
}
_LEAD = (
    "Let the sensor send to this broker and touch Listen. Then say for each number where it is "
    "measured. To tell which is which, warm the sensor in your hand and see what rises."
)
_NOTHING = (
    "Nothing heard yet. A sensor that sleeps may take minutes: press its button, or start it anew."
)
_OUTSIDE = "Not passed on by the broker until you have said where it measures."
_NEARBY = (("Sensors", "/air/sensors"), ("Air", "/air"))


def _said_of(query: str) -> str:
    """The number whose form is open, from the address."""
    return (parse_qs(query.removeprefix("?")).get(SAY) or [""])[0]


def _left(listener: BrokerListener) -> list[Any]:
    """How long it still listens, and what keeps it from hearing all."""
    if not listener.left_s:
        return []
    texts: list[Any] = [html.B("Listening"), f", {round(listener.left_s)} s more."]
    if listener.trouble:
        texts += [" ", html.Span(f"But {listener.trouble}.", className="warn")]
    if listener.full:
        texts += [" ", html.Span("There are more numbers than are shown.", className="warn")]
    return texts


def _switch(listens: bool, heard: bool) -> html.Button:
    if listens:
        return button("Stop", "listen stop")
    return button("Listen again" if heard else "Listen", "listen", kind="go")


def _live(number: HeardNumber) -> list[Any]:
    """What changes of a number while it is listened to."""
    last, *before = reversed(number.values)
    values: list[Any] = [html.B(last)]
    if before:
        values.append(html.Span(f"before: {'  '.join(before)}"))
    values.append(html.Small(f"heard {number.leaf.count}\u00a0×"))
    outside = html.Small(_OUTSIDE) if number.leaf.outside and not number.taken else None
    seems = html.P([number.seems, outside], className="seems") if number.seems else None
    return [html.P(values, className="values"), seems]


def _picked(form: Form, field: str, title: str, options: dict[str, str]) -> html.Fieldset:
    radio = dcc.RadioItems(
        id=form.id(field), options=options, value="", className="picks-one", **KEPT
    )
    return html.Fieldset([html.Legend(title), radio], className="choices")


def _form(number: HeardNumber) -> html.Div:
    """What a number is and where it measures, where that is not what it seems to be."""
    form, guessed = Form(KEEP, number.id), "as it seems" if number.seems else "choose"
    usual = "as it seems" if number.seems else "as usual"
    own = form.box(
        "own", "Or a place of your own", placeholder="tailgate", maxLength=40, spellCheck="false"
    )
    places = [form.send(text, place, None) for place, text in PLACES.items()]
    return html.Div(
        [
            _picked(form, "quantity", "It measures", {"": guessed, **NAMED}),
            _picked(form, "unit", "in", {"": usual, **UNITS}),
            html.Div(places, className="buttons"),
            html.Div(own, className="fields"),
            form.wrong(),
            html.P(
                [form.send("Keep with that name", "", None), link("Leave it", PATH)],
                className="buttons",
            ),
        ],
        className="sits",
    )


def _question(number: HeardNumber, open_form: bool) -> Any:
    """Where a number measures: a touch where it can be guessed, else its form."""
    if open_form:
        return _form(number)
    more = "Elsewhere, or something else" if number.seems else "Say what it is"
    places = [
        button(text, "listen place", f"{number.id}/{place}")
        for place, text in (PLACES.items() if number.seems else ())
    ]
    return html.Div([*places, link(more, f"{PATH}?{SAY}={number.id}")], className="buttons")


def _taken(number: HeardNumber) -> Any:
    if not number.ours:
        return None
    attributes: dict[str, Any] = {"aria-label": f"Let go of {number.topic} {number.at}"}
    let_go = button("Let go", "listen let go", number.id, **attributes)
    return html.Div([link("To the bench", "/"), let_go], className="buttons")


def _article(number: HeardNumber, said_of: str) -> html.Article:
    at = html.Code(number.at, className="at") if number.at else None
    return html.Article(
        [
            html.H3([html.Code(number.topic), " ", at]),
            html.Div(_live(number), id={"heard": number.id}),
            _taken(number) if number.taken else _question(number, number.id == said_of),
        ],
        className="leaf",
    )


def _numbers(numbers: HeardNumbers, listens: bool, said_of: str) -> list[Any]:
    """The button, and the numbers under their headings."""
    groups = (
        ("useful", "Where does it measure?", numbers.useful),
        ("taken", "Taken already", numbers.taken),
        ("rest", "Other numbers", numbers.rest),
    )
    sections = [
        html.Section([html.H2(title), *(_article(number, said_of) for number in group)], id=name)
        for name, title, group in groups
        if group
    ]
    nothing = html.P(_NOTHING, className="teach") if listens and not sections else None
    return [html.P(_switch(listens, bool(sections)), className="buttons"), *sections, nothing]


def _shown(numbers: HeardNumbers, listens: bool, said_of: str) -> str:
    """What the list is drawn anew for: a number more or elsewhere, another form, the button; while
    a form is open, no number more."""
    ids = [
        [number.id for number in group] for group in (numbers.useful, numbers.taken, numbers.rest)
    ]
    filled = any(number.id == said_of and not number.taken for number in numbers)
    return f"{said_of} {listens} {said_of if filled else ids}"


def _point(context: PageContext) -> html.Section:
    """Where a sensor sends."""
    mqtt, lan = context.settings.mqtt, context.settings.lan
    ours: list[Any] = ["this machine's address, port ", html.Code(mqtt.port)]
    ours += [", with the user and password that ", html.Code("curewatch access show"), " showed"]
    other: list[Any] = [html.Code(mqtt.host), ", port ", html.Code(mqtt.port)]
    to = ours if mqtt.embedded and lan else other
    ways = ["MQTT 3.1.1 or 5 to ", *to, ", on any topic, as a bare number, JSON or SenML."]
    return html.Section([html.H2("Where a sensor sends"), html.P(ways)])


def _listed(context: PageContext, query: str) -> tuple[list[Any], str, dict[str, list[Any]]]:
    """The list, what it is drawn anew for, and what changes in it by the numbers' names."""
    listens, said_of = bool(context.listener.left_s), _said_of(query)
    try:
        numbers = heard_numbers(context, context.manner(request))
    except ConfigError as error:
        return [html.P(str(error), className="problem", role="alert")], str(error), {}
    lives = {number.id: _live(number) for number in numbers}
    return _numbers(numbers, listens, said_of), _shown(numbers, listens, said_of), lives


def content(context: PageContext, address: Address, _first: bool) -> list[Any]:
    """The whole page."""
    components, shown, _ = _listed(context, address.query)
    return [
        html.Div([html.H1("Listen for a sensor"), links(_NEARBY)], className="head"),
        html.P(_LEAD, className="lead"),
        html.P(_left(context.listener), id=LEFT),
        html.Div(components, id=NUMBERS),
        dcc.Store(id=SHOWN, data=shown),
        _point(context),
    ]


def _drawn_anew() -> None:
    """Draw the list at once, and not when its time comes."""
    set_props("again", {"data": uuid.uuid4().hex})


def _begin(context: PageContext, _key: str, _values: Values) -> TouchOutcome:
    context.listener.begin()
    _drawn_anew()
    return TouchOutcome("Listening.")


def _stop(context: PageContext, _key: str, _values: Values) -> TouchOutcome:
    context.listener.end()
    _drawn_anew()
    return TouchOutcome("Stopped listening.")


def _keep(context: PageContext, id: str, values: Values) -> TouchOutcome:
    """Take a number as what the form says, or seems to say, from now on."""
    leaf = leaf_of(context.listener, id)
    mapping = chosen(leaf, values)
    context.listener.keep(mapping)
    _drawn_anew()
    return TouchOutcome(f"Kept: {taken_as(leaf, mapping, context.manner(request))}.", go=PATH)


def _place(context: PageContext, key: str, _values: Values) -> TouchOutcome:
    id, _, place = key.partition("/")
    return _keep(context, id, {"send": place})


def _let_go(context: PageContext, id: str, _values: Values) -> TouchOutcome:
    context.listener.let_go(leaf_of(context.listener, id).mapping("here", None, None))
    _drawn_anew()
    return TouchOutcome("Let go.")


def callbacks(app: Dash, context: PageContext) -> None:
    """Put what changes while it is listened on the app."""

    @app.callback(
        Output(LEFT, "children"),
        Output(NUMBERS, "children"),
        Output(SHOWN, "data"),
        Input("again", "data"),
        Input("url", "search"),
        State("url", "pathname"),
        State(SHOWN, "data"),
        State({"heard": ALL}, "id"),
        prevent_initial_call=True,
    )
    def heard(_again: Any, query: str | None, path: str, shown: str, ids: Any) -> tuple[Any, ...]:
        if path != PATH:
            raise PreventUpdate
        components, now, lives = _listed(context, query or "")
        if now != shown:
            return _left(context.listener), components, now
        for id in ids:
            set_props(id, {"children": lives.get(id["heard"])})
        return _left(context.listener), no_update, no_update


PAGE = DashPage(
    "Listen",
    content,
    acts={
        "listen": _begin,
        "listen stop": _stop,
        "listen place": _place,
        KEEP: _keep,
        "listen let go": _let_go,
    },
    callbacks=callbacks,
    keeps=True,
    clock_s=1.0,
)
