"""One box for a reading off a thermometer: what was typed, asked about where odd, taken back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update, set_props
from dash.exceptions import PreventUpdate
from flask import request

from curewatch.climate.reading import Quantity, Reading
from curewatch.errors import CurewatchError, ReadingError
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.quality import typed
from curewatch.quality.intake import Intake
from curewatch.quality.places import known_places, place_named
from curewatch.quality.slips import Slip
from curewatch.quality.typed import BesideSensor
from curewatch.walltime import from_ms, to_ms
from curewatch.wording import sensor_words, words
from dashboard.context.page_context import PageContext
from dashboard.pages.components import link
from dashboard.pages.touches import Act, TouchOutcome, button, did
from dashboard.request.numbers import MOST_MS, number_of
from sensors.manual import typed_readings
from sensors.manual.one_line import TypedValue, by_place, in_line

RECENT, MOST = timedelta(hours=12), 3
BOX, SAVE, SAID = "typed", "typed-save", "typed-said"


@frozen
class AskedAbout:
    """Values that may be slips, and the line as it was typed and as it may have been meant."""

    slips: tuple[Slip, ...]
    as_typed: str
    as_meant: str = ""


@frozen
class Taken:
    """What was entered that differs from the sensor at its place."""

    beside: tuple[BesideSensor, ...]


def _line(values: Sequence[TypedValue], meant: Mapping[tuple[str, Quantity], str]) -> str:
    """The values as a line again, with what was meant by some."""
    names = {"panel": "surface"}
    written = {value: meant.get((value.place, value.quantity), value.text) for value in values}
    return " ".join(f"{names.get(v.place, v.place)} {text}" for v, text in written.items())


def _readings(
    context: PageContext, values: Sequence[TypedValue], now: datetime
) -> tuple[list[Reading], list[Slip]]:
    """The readings of a line, and those that may be slips."""
    places = known_places(context.store, context.settings)
    readings, slips = list[Reading](), list[Slip]()
    for place, texts in by_place(list(values)).items():
        of_place = typed_readings.typed(place_named(place, places), now, texts)
        slips += typed.suspects(context.store, of_place, texts)
        readings += of_place
    return readings, slips


def take(
    context: PageContext, line: str, now: datetime, unit: str, *, sure: bool = False
) -> AskedAbout | Taken:
    """Enter the readings of a line; where one may be a slip, what is to be asked first, unless the
    user is sure. Raises CurewatchError."""
    values = in_line(line, unit)
    readings, slips = _readings(context, values, now)
    if slips and not sure:
        meant = {
            (slip.reading.place, slip.reading.quantity): slip.meant for slip in slips if slip.meant
        }
        return AskedAbout(tuple(slips), _line(values, {}), _line(values, meant) if meant else "")
    typed.enter(context.store, Intake(context.store, context.settings.places), readings, now)
    return Taken(tuple(typed.beside_sensors(context.store, readings, now)))


def key_of(reading: Reading) -> str:
    """What a button that takes a reading back sends."""
    return f"{reading.place}/{reading.quantity}/{to_ms(reading.at)}"


def _typed_reading(context: PageContext, key: str) -> Reading:
    place, _, more = key.partition("/")
    quantity, _, text = more.partition("/")
    at = number_of(text)
    if at is None or at > MOST_MS:
        raise ReadingError("there is no such typed reading", fix="load the page again")
    return typed.at_instant(context.store, place, quantity, from_ms(at))


def act(
    context: PageContext, what: str, key: str, now: datetime, unit: str
) -> AskedAbout | Taken | None:
    """Do what a button under the box says. Raises CurewatchError."""
    if what == "enter":
        return take(context, key, now, unit, sure=True)
    if what == "take back":
        typed.take_back(context.store, [_typed_reading(context, key)], now)
    return None


def answer(outcome: AskedAbout | Taken | None, say: ReaderFormat, now: datetime) -> list[Any]:
    """What stands under the box once a line was sent: a question, or what becomes of a reading
    that differs from its sensor."""
    if isinstance(outcome, AskedAbout):
        return [question(outcome, say, now)]
    if outcome is None or not outcome.beside:
        return []
    notes = [
        html.P(sensor_words.beside_sensor(pair, say, now), className="note", role="status")
        for pair in outcome.beside
    ]
    check = link("Check the sensor", "/air/sensors", button=False)
    return [*notes, html.P(["Is the sensor wrong? ", check, "."], className="hint")]


def question(asked_about: AskedAbout, say: ReaderFormat, now: datetime) -> html.Div:
    """Whether an odd value is right, with the answers as buttons."""
    lines = [
        html.P(
            f"{words.QUANTITY[slip.reading.quantity].capitalize()}: "
            f"{sensor_words.slip(slip, say, now)}.",
            className="lead",
        )
        for slip in asked_about.slips
    ]
    values = ", ".join(
        words.value(say, slip.reading.quantity, slip.reading.value) for slip in asked_about.slips
    )
    meant = ", ".join(sensor_words.meant(slip, say) for slip in asked_about.slips if slip.meant)
    answers = [button(f"It is right: {values}", "enter", asked_about.as_typed)]
    if asked_about.as_meant:
        answers.insert(0, button(f"It was {meant}", "enter", asked_about.as_meant, "go"))
    return html.Div([html.H3("Is this right?"), *lines, html.Div(answers, className="buttons")])


def problem(error: CurewatchError) -> html.P:
    """Why nothing was entered."""
    return html.P(str(error), className="problem", role="alert")


def _recent(context: PageContext, now: datetime, say: ReaderFormat) -> list[Any]:
    """What was typed last and still stands, each to be taken back."""
    readings = [
        reading for reading in typed.history(context.store, now, now - RECENT) if not reading.flag
    ]
    return [
        html.Li(
            [
                html.Span(f"{sensor_words.typed(reading, say, now)} "),
                button("Take back", "take back", key_of(reading)),
            ]
        )
        for reading in readings[:MOST]
    ]


def recent(context: PageContext, now: datetime, say: ReaderFormat) -> html.Div:
    """The last typed readings, if any."""
    items = _recent(context, now, say)
    return html.Div(html.Ul(items, className="typed-last") if items else None)


def box(unit: str) -> html.Div:
    """The box itself: it stays while what is around it is drawn anew."""
    label = html.Label(
        [
            f"Type a reading, °{unit}",
            dcc.Input(id=BOX, type="text", autoComplete="off", maxLength=120, className="one-box"),
        ]
    )
    save = html.Button("Save", id=SAVE, type="button", n_clicks=0, className="go")
    hint = "A number alone is the panel's surface. Or: air 16, 62 %, outdoors 3, all in one line."
    return html.Div(
        [
            html.Div([label, save], className="one-line"),
            html.P(hint, className="hint"),
            html.Div(id=SAID),
        ]
    )


def _entered(context: PageContext, line: str) -> tuple[Any, bool]:
    """What stands under the box once a line was sent, and whether the line is entered."""
    now, say = context.clock(), context.manner(request)
    try:
        outcome = take(context, line, now, say.unit)
    except CurewatchError as error:
        return problem(error), False
    return answer(outcome, say, now), isinstance(outcome, Taken)


def _touched(what: str) -> Act:
    """What a button under the box does."""

    def touched(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
        now, say = context.clock(), context.manner(request)
        try:
            below: Any = answer(act(context, what, key, now, say.unit), say, now)
        except CurewatchError as error:
            below = problem(error)
        set_props(SAID, {"children": below})
        return TouchOutcome()

    return touched


ACTS = {what: _touched(what) for what in ("enter", "take back")}


def install(app: Dash, context: PageContext) -> None:
    """Put the box's own button and its Enter key on the Dash app."""

    @app.callback(
        Output(SAID, "children"),
        Output(BOX, "value"),
        Output("did", "data", allow_duplicate=True),
        Input(SAVE, "n_clicks"),
        Input(BOX, "n_submit"),
        State(BOX, "value"),
        prevent_initial_call=True,
    )
    def entered(clicks: int | None, sent: int | None, line: str | None) -> tuple[Any, ...]:
        if not (clicks or sent):
            raise PreventUpdate
        below, done = _entered(context, line or "")
        return below, "" if done else no_update, did(context)
