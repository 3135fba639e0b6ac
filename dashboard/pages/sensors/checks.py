"""Checking a sensor against a reference or over salt, and saying that it has a new topic."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from dash import html
from flask import request

from curewatch.errors import ReadingError
from curewatch.formats import ReaderFormat
from curewatch.quality.reference_check import check_sensor, moved_sensor, salt_check_sensor
from curewatch.units import with_unit
from curewatch.wording import sensor_words
from dashboard.context.page_context import PageContext
from dashboard.pages.components import breaking, first_up, link
from dashboard.pages.touches import Act, Form, TouchOutcome, button

FROM_NOW = "It counts from now on; stored readings stay as they were."
_HOW = (
    "Hold it beside a thermometer or hygrometer you trust until both are still. From then on its "
    "readings are corrected by the difference; a later check replaces this one. "
)
_NEW_TOPIC = (
    "A sensor is known by its topic. Touch its new topic, then the one it had, and its checks go "
    "with it. A sensor that only reports another place is noticed by itself."
)


class CheckedSensor(NamedTuple):
    """A sensor that can be checked: its topic, temperature or humidity, and where it measures."""

    source: str
    what: str
    place: str

    @property
    def named(self) -> list[Any]:
        """Where and what it measures, and its topic."""
        return [f"{first_up(self.place)}, {self.what} ", html.Small(breaking(self.source))]


def _check(sensor: CheckedSensor, unit: str) -> html.Details:
    """The boxes for the check of one sensor's temperature or humidity."""
    source, what, _ = sensor
    form, number = Form("sensor check", json.dumps([source, what])), {"inputMode": "decimal"}
    boxes = [
        form.box("reference", f"The reference shows, {unit}", **number),
        form.box(
            "read", f"The sensor itself shows, {unit}", placeholder="its last reading", **number
        ),
        form.box("who", "Checked by", maxLength=60),
    ]
    return html.Details(
        [
            html.Summary(html.Span(sensor.named)),
            html.Div(boxes, className="fields"),
            form.wrong(),
            html.P(form.send("Save the check"), className="buttons"),
        ]
    )


def checks(kinds: Sequence[CheckedSensor], say: ReaderFormat) -> html.Section | None:
    """Every sensor to check."""
    if not kinds:
        return None
    units = {"temperature": f"°{say.unit}", "humidity": "%"}
    sections = [_check(sensor, units[sensor.what]) for sensor in kinds]
    salt = link("salt check", "/air/salt", button=False)
    hint = html.P([_HOW, "For a hygrometer there is the ", salt, "."], className="hint")
    return html.Section([html.H2("Check a sensor"), hint, *sections])


def moves(sources: Sequence[str]) -> html.Details | None:
    """Which sensor had which topic before."""
    if len(sources) < 2:
        return None
    sections = [
        html.Details(
            [
                html.Summary(html.Span(breaking(source))),
                html.P(
                    [
                        button(
                            ["It was ", *breaking(former)],
                            "sensor moved",
                            json.dumps([former, source]),
                        )
                        for former in sources
                        if former != source
                    ],
                    className="buttons",
                ),
            ]
        )
        for source in sources
    ]
    hint = html.P(_NEW_TOPIC, className="hint")
    return html.Details([html.Summary("A sensor has a new topic"), hint, *sections])


def salt(sensors: Sequence[CheckedSensor], say: ReaderFormat) -> list[Any]:
    """The boxes of the salt check, for every hygrometer."""
    if not sensors:
        none = "No hygrometer was heard yet. Let it send first, then check it here."
        return [html.P(none, className="teach")]
    return [_salt(sensor, say) for sensor in sensors]


def _salt(sensor: CheckedSensor, say: ReaderFormat) -> html.Div:
    form, number = Form("salt check", sensor.source), {"inputMode": "decimal"}
    shows = "The hygrometer itself shows, %"
    boxes = [
        form.box("temperature", f"Temperature in the box, °{say.unit}", **number),
        form.box("read", shows, placeholder="its last reading", **number),
        form.box("who", "Checked by", maxLength=60),
    ]
    return html.Div(
        [
            html.H3(sensor.named),
            html.Div(boxes, className="fields"),
            form.wrong(),
            html.P(form.send("Save the check"), className="buttons"),
        ]
    )


def _pair(key: str) -> tuple[str, str]:
    """The two names in a button's key. Raises ReadingError where they are none."""
    try:
        first, second = json.loads(key)
    except (ValueError, TypeError):
        raise ReadingError("there is no such sensor", fix="load the page again") from None
    return str(first), str(second)


def _text(values: Mapping[str, Any], name: str) -> str:
    return (values.get(name) or "").strip()


def _checked(context: PageContext, key: str, values: Mapping[str, Any]) -> TouchOutcome:
    say, (source, what) = context.manner(request), _pair(key)
    unit = "%" if what == "humidity" else say.unit
    reference, read = (with_unit(_text(values, name), unit) for name in ("reference", "read"))
    who, now = _text(values, "who"), context.clock()
    sensor_check = check_sensor(
        context.store, context.settings.place, source, reference, read, who, now
    )
    text = f"{sensor_check.source}: {sensor_words.check(sensor_check, say)}."
    return TouchOutcome(text=f"{text} {FROM_NOW}", clear=True)


def _salted(context: PageContext, key: str, values: Mapping[str, Any]) -> TouchOutcome:
    say = context.manner(request)
    sensor_check, moving = salt_check_sensor(
        context.store,
        context.settings.place,
        key,
        with_unit(_text(values, "temperature"), say.unit),
        with_unit(_text(values, "read"), "%"),
        _text(values, "who"),
        context.clock(),
    )
    text = f"{sensor_check.source}: {sensor_words.check(sensor_check, say)}."
    text += f" But {moving}." if moving else ""
    return TouchOutcome(text=f"{text} {FROM_NOW}", clear=True)


def _moved(context: PageContext, key: str, _values: Mapping[str, Any]) -> None:
    former, source = _pair(key)
    moved_sensor(context.store, former, source, context.clock())


ACTS: dict[str, Act] = {"sensor check": _checked, "salt check": _salted, "sensor moved": _moved}
