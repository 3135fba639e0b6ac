"""Sensors: each one's day as a picture, its last value, what was rejected, and its checks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from dash import html
from flask import request

from curewatch.climate.reading import Reading
from curewatch.formats import ReaderFormat
from curewatch.quality.availability import LastReadings
from curewatch.quality.calibration import is_sensor
from curewatch.quality.overview import Sensor, Sensors, sensors
from curewatch.wording import sensor_words, words
from dashboard.context.page_context import PageContext
from dashboard.figures.sensor_days import DAY, SensorDrawing, figure, sensor_days
from dashboard.pages.components import age, breaking, figure_box, link, links, table
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.sensors import checks, typed
from dashboard.pages.touches import button
from dashboard.request.device import screen_of

_NEARBY = (
    ("Air", "/air"),
    ("Listen for a sensor", "/air/listen"),
    ("Salt check", "/air/salt"),
    ("Room and fan", "/air/out"),
    ("Masks and filters", "/air/masks"),
    ("Entered last", "/undo"),
)
_MOST = 30
_BUCKET_S = 600.0
_AHEAD = (
    "A clock was ahead when they came. Set aside, they are not used when their time comes either."
)


def sources_of(listed: Sensors) -> list[checks.CheckedSensor]:
    """The sensors that can be checked, by their places."""
    last = [sensor.last for sensor in listed.all if is_sensor(sensor.last.source)]
    places = {(reading.source, _kind(reading)): reading.place for reading in last}
    kinds = [checks.CheckedSensor(*kind, place) for kind, place in places.items()]
    return sorted(kinds, key=lambda sensor: (sensor.place, sensor.what == "humidity", sensor))


def _kind(reading: Reading) -> str:
    return "humidity" if reading.quantity == "relative_humidity" else "temperature"


def _days(context: PageContext, now: datetime, say: ReaderFormat) -> Any:
    """Every sensor's last day."""
    days = sensor_days(
        context.store.latest(now),
        context.store.readings(now - DAY, now, bucket_s=_BUCKET_S),
        context.store.flagged(now - DAY, now, DAY / 96, 200),
    )
    if not days:
        return None
    drawn = figure(SensorDrawing(now, days, say, screen_of(request)))
    label = "The last day of each sensor; the table below has its last values."
    return html.Section([html.H2("The last 24 hours"), figure_box("sensor-days", drawn, label)])


def _notes(context: PageContext, listed: Sensors, now: datetime, say: ReaderFormat) -> list[Any]:
    """What is wrong with the sensors as they stand."""
    ends = LastReadings(
        context.store.latest(now), context.store.usable(now), context.settings.place
    )
    texts = [sensor_words.lost(outage, say, now) for outage in ends.lost(now, {})]
    texts += [sensor_words.ahead(ahead, say, now) for ahead in listed.ahead]
    texts += [sensor_words.split(disagreement, say) for disagreement in listed.splits]
    aside = [
        html.P(button("Set them aside", "set aside"), className="buttons"),
        html.P(_AHEAD, className="hint"),
    ]
    broker = html.P(f"Sensors: {context.link()}.", className="hint") if context.link() else None
    return [
        broker,
        *(html.P(text, className="note") for text in texts),
        *(aside if listed.ahead else ()),
    ]


def _row(sensor: Sensor, now: datetime, say: ReaderFormat, first: bool) -> list[Any]:
    last = sensor.last
    notes: list[Any] = breaking(last.source)
    if last.flag:
        why = sensor_words.flag(last.flag, last.quantity, say, now)
        notes.append(html.Small(f"flagged, not used: {why}"))
    if sensor.check:
        notes.append(html.Small(sensor_words.check(sensor.check, say)))
    if sensor.move:
        notes.append(html.Small(sensor_words.move(sensor.move, say, now)))
    since = ["old: " if sensor.old else "", age(last.at, now, first)]
    value = words.value(say, last.quantity, last.value)
    return [last.place, words.QUANTITY[last.quantity], value, since, notes]


def _latest(listed: Sensors, now: datetime, say: ReaderFormat, first: bool) -> Any:
    if not listed.all:
        return html.P(words.EMPTY["air"], className="teach")
    head = ["place", "what", "value", "age", "from"]
    return table(head, [_row(sensor, now, say, first) for sensor in listed.all], "Latest readings")


def _rejected(context: PageContext, now: datetime, first: bool) -> html.Section:
    """The messages that were rejected, and the sensors that were not let in."""
    refusals, away = context.store.refusals()[:_MOST], context.store.turned_away()[:_MOST]
    components: list[Any] = [html.H2("Rejected messages")]
    if refusals:
        rows = [
            [refusal.source, refusal.sentence, f"{refusal.count}", age(refusal.last, now, first)]
            for refusal in refusals
        ]
        components.append(table(["from", "why", "times", "last"], rows, "Rejected messages"))
    elif not away:
        components.append(html.P(words.EMPTY["refused"], className="hint"))
    components += [html.H3("Sensors not let in")] if away else []
    for refused in away:
        times = "once" if refused.count == 1 else f"{refused.count} times"
        who = html.B(sensor_words.stranger(refused.who))
        line: list[Any] = [who, f", {times}, last ", age(refused.last, now, first), "."]
        components.append(
            html.P([*line, html.Br(), sensor_words.not_let_in(refused.who)], className="stranger")
        )
    return html.Section(components)


def _point(context: PageContext) -> html.Section:
    """Where a sensor sends to."""
    ours = context.needs_passcode and context.settings.mqtt.embedded
    secret = [" with the user and password that ", html.Code("curewatch access show"), " showed"]
    topics = ("panel/surface_temperature", "air/air_temperature", "air/relative_humidity")
    first, second, third = (html.Code(f"curewatch/{topic}") for topic in topics)
    lead: list[Any] = ["Publish a bare number over MQTT to ", html.Code(context.broker(request))]
    lead += [*(secret if ours else ()), ", topic ", first, ", ", second, " or ", third, "."]
    other: list[Any] = ["A sensor that sends something else: "]
    other += [link("listen for it", "/air/listen", button=False), ", and say what it measures."]
    return html.Section([html.H2("Point a sensor here"), html.P(lead), html.P(other)])


def content(context: PageContext, _address: Address, first: bool) -> list[Any]:
    """The sensors as they stand."""
    now, say = context.clock(), context.manner(request)
    listed = sensors(context.store, now, context.settings.place)
    kinds = sources_of(listed)
    return [
        html.Div([html.H1("Sensors"), links(_NEARBY)], className="head"),
        *_notes(context, listed, now, say),
        _days(context, now, say),
        html.Section(
            [html.H2("Latest readings"), _latest(listed, now, say, first)], className="few"
        ),
        typed.form(say),
        typed.listed(context, now, say),
        checks.checks(kinds, say),
        checks.moves(_names(kinds)),
        _rejected(context, now, first),
        _point(context),
    ]


def _names(kinds: Sequence[checks.CheckedSensor]) -> list[str]:
    return sorted({sensor.source for sensor in kinds})


def _set_aside(context: PageContext, _key: str, _values: Mapping[str, Any]) -> None:
    context.store.set_aside(context.clock())


PAGE = DashPage("Sensors", content, acts={"set aside": _set_aside, **typed.ACTS, **checks.ACTS})
