"""Readings typed in full, with place and age; asked about where odd, taken back, used again."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from dash import html
from flask import request

from curewatch.climate.reading import Quantity, Reading
from curewatch.errors import ReadingError
from curewatch.formats import ReaderFormat
from curewatch.quality import typed
from curewatch.quality.intake import Intake
from curewatch.quality.places import known_places, place_named
from curewatch.quality.slips import Slip
from curewatch.units import with_unit
from curewatch.walltime import check_time, from_ms, to_ms
from curewatch.wording import sensor_words, words
from dashboard.context.page_context import PageContext
from dashboard.pages.components import table
from dashboard.pages.touches import Act, Form, TouchOutcome, at_field, button
from dashboard.request.forms import ago_of
from dashboard.request.numbers import MOST_MS, number_of
from sensors.manual import typed_readings

LISTED, MOST_LISTED = timedelta(days=8), 20
_FIELDS: dict[str, Quantity] = {
    "surface": "surface_temperature",
    "air": "air_temperature",
    "humidity": "relative_humidity",
}
_HINT = (
    "Shiny metal fools an infrared thermometer: measure on a patch of masking tape. A reading "
    "typed up to ten minutes after another for the same thing corrects it."
)
Texts = Mapping[Quantity, str]


def form(say: ReaderFormat) -> html.Details:
    """The boxes of a reading at any place, taken some minutes ago."""
    entry, number = Form("typed reading"), {"inputMode": "decimal"}
    boxes = [
        entry.box("place", "Place", "panel", spellCheck="false"),
        entry.box("surface", f"Surface, °{say.unit}", **number),
        entry.box("air", f"Air, °{say.unit}", **number),
        entry.box("humidity", "Humidity, %", **number),
        entry.box("ago", "Taken, minutes ago", "0", **number),
    ]
    return html.Details(
        [
            html.Summary("Type a reading for any place or time"),
            html.Div(boxes, className="fields"),
            entry.wrong(),
            html.P(entry.send("Save"), className="buttons"),
            html.P(_HINT, className="hint"),
        ]
    )


def _texts(context: PageContext, values: Mapping[str, Any]) -> dict[Quantity, str]:
    """What was typed of each quantity, with its unit."""
    unit = context.manner(request).unit
    units = {"surface": unit, "air": unit, "humidity": "%"}
    return {
        quantity: with_unit((values.get(name) or "").strip(), units[name])
        for name, quantity in _FIELDS.items()
    }


def _take(
    context: PageContext, place: str, at: datetime, texts: Texts, *, sure: bool
) -> TouchOutcome:
    """Store the readings; where one may be a slip, ask first, unless the user is sure."""
    now, store = context.clock(), context.store
    places = known_places(store, context.settings)
    named = place_named(place, places)
    readings = typed_readings.typed(named, check_time(at, now, "the reading"), texts)
    slips = [] if sure else typed.suspects(store, readings, texts)
    if slips:
        return TouchOutcome(question=_question(context, readings[0], texts, slips))
    typed.enter(store, Intake(store, context.settings.places), readings, now)
    return TouchOutcome(clear=True)


def _question(
    context: PageContext, first: Reading, texts: Texts, slips: Sequence[Slip]
) -> list[Any]:
    """A value that may be a slip: the readings as typed, and as they may have been meant."""
    say, now = context.manner(request), context.clock()
    meant = {slip.reading.quantity: slip.meant for slip in slips if slip.meant}
    values = ", ".join(
        words.value(say, slip.reading.quantity, slip.reading.value) for slip in slips
    )
    lines = [
        html.P(
            f"{words.QUANTITY[slip.reading.quantity].capitalize()}: "
            f"{sensor_words.slip(slip, say, now)}."
        )
        for slip in slips
    ]
    answers = [button(f"It is right: {values}", "typed for sure", _key(first, texts))]
    if meant:
        text = ", ".join(sensor_words.meant(slip, say) for slip in slips if slip.meant)
        key = _key(first, {**texts, **meant})
        answers.insert(0, button(f"It was {text}", "typed for sure", key, "go"))
    answers.append(button("Leave it", "leave it"))
    return [html.H2("Is this right?"), *lines, html.P(answers, className="buttons")]


def _key(first: Reading, texts: Texts) -> str:
    data = {"place": f"new {first.place}", "at": to_ms(first.at), "texts": texts}
    return json.dumps(data)


def _entered(context: PageContext, _key: str, values: Mapping[str, Any]) -> TouchOutcome:
    place = (values.get("place") or "").strip() or "panel"
    with at_field("ago"):
        at = context.clock() - ago_of(values.get("ago"))
    return _take(context, place, at, _texts(context, values), sure=False)


def _for_sure(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    try:
        fields = json.loads(key)
        texts = {name: str(fields["texts"].get(name, "")) for name in _FIELDS.values()}
        place, at_ms = str(fields["place"]), int(fields["at"])
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError):
        raise ReadingError("there is no such reading", fix="type it again") from None
    return _take(context, place, _instant(str(at_ms)), texts, sure=True)


def _instant(text: str) -> datetime:
    """The instant of a button's milliseconds [ms]. Raises ReadingError where it is none."""
    number = number_of(text)
    if number is None or number > MOST_MS:
        raise ReadingError("that is not an instant", fix="load the page again")
    return from_ms(number)


def listed(context: PageContext, now: datetime, say: ReaderFormat) -> html.Section | None:
    """The readings typed in the last days, each to be taken back or used again."""
    readings = typed.history(context.store, now, now - LISTED)[:MOST_LISTED]
    if not readings:
        return None
    head = ["place", "what", "value", "measured", "change"]
    rows = [_row(reading, now, say) for reading in readings]
    return html.Section([html.H2("Typed readings"), table(head, rows, "Typed readings")])


def _row(reading: Reading, now: datetime, say: ReaderFormat) -> list[Any]:
    value: list[Any] = [words.value(say, reading.quantity, reading.value)]
    if reading.flag:
        why = sensor_words.flag(reading.flag, reading.quantity, say, now)
        value.append(html.Small(f"{why}, not used"))
    key = json.dumps([reading.place, reading.quantity, to_ms(reading.at)])
    change = ("Use again", "typed again") if reading.flag else ("Take back", "typed taken back")
    what = words.QUANTITY[reading.quantity]
    return [reading.place, what, value, say.moment(reading.at, now), button(*change, key)]


def _of_key(context: PageContext, key: str) -> Reading:
    try:
        place, quantity, at_ms = json.loads(key)
    except (ValueError, TypeError):
        raise ReadingError("there is no such typed reading", fix="load the page again") from None
    return typed.at_instant(context.store, str(place), str(quantity), _instant(str(at_ms)))


def _taken_back(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    """Take a reading back; what it had replaced counts again, and is said."""
    now, say, reading = context.clock(), context.manner(request), _of_key(context, key)
    again = typed.take_back(context.store, [reading], now)
    text = f"Taken back: {sensor_words.typed(reading, say, now)}."
    text += "".join(f" Used again: {sensor_words.typed(former, say, now)}." for former in again)
    return TouchOutcome(text=text)


def _used_again(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    now, reading = context.clock(), _of_key(context, key)
    typed.use_again(context.store, [reading], now)
    return TouchOutcome(
        text=f"Used again: {sensor_words.typed(reading, context.manner(request), now)}."
    )


ACTS: dict[str, Act] = {
    "typed reading": _entered,
    "typed for sure": _for_sure,
    "typed taken back": _taken_back,
    "typed again": _used_again,
}
