"""Settings: those of the garage, kept in its file, and those of the device that asks."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from dash import dcc, html, set_props
from flask import request

from curewatch.errors import ConfigError
from curewatch.frozen import frozen
from curewatch.garage import evening
from curewatch.gate.gather import bare_limit_min, set_bare_limit
from curewatch.settings.edit import set_values
from curewatch.settings.settings import Settings, is_zone
from curewatch.units import parse_duration
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.endpoints.choices import ALLOWED, NAME
from dashboard.pages.components import link, links
from dashboard.pages.garage import until
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import Form, TouchOutcome, at_field, button
from dashboard.request.boxes import in_unit

_NEARBY = (
    ("Guide", "/guide"),
    ("Entered last", "/undo"),
    ("Lamps and heaters", "/heaters"),
    ("Parts", "/parts"),
    ("Plan", "/plan"),
    ("Last night", "/morning"),
    ("Shelf", "/shelf"),
    ("Log", "/logbook"),
)
_DEVICE: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...] = (
    ("theme", "Theme", (("", "automatic"), ("dark", "dark"), ("light", "light"))),
    (
        "layout",
        "Layout",
        (
            ("", "automatic"),
            ("garage", "garage: big, three metres"),
            ("desk", "desk"),
            ("phone", "phone"),
        ),
    ),
    (
        "span",
        "Time axis of the bench",
        (("", "as needed"), ("60", "1 h"), ("360", "6 h"), ("1440", "24 h"), ("4320", "3 days")),
    ),
    ("looks", "Time for a dab check", (("", "silent"), ("sound", "with a sound"))),
)
_SOUNDS = (
    ("ending", "Try: nearly over"),
    ("due", "Try: due"),
    ("stop", "Try: stop"),
    ("lost", "Try: sensor lost"),
)
_TEXTS = {
    "theme": "Automatic: light or dark, as this device is set.",
    "layout": "Automatic: phone in a small window, garage in a larger one.",
    "sound": "Four sounds: working time nearly over, due, stop, sensor lost. Each repeats until it "
    "is answered or silenced, and the next one arms itself.",
    "screen": "Where the browser can, every page has a button for full screen, and the screen is "
    "kept awake while something cures. To open curewatch like an app: in the browser's menu, "
    "install or add to home screen.",
    "calendar": "What is coming, for the calendar of your phone or computer. Import it again when "
    "times have moved: the events move, none is doubled.",
    "name": "Kept in the history of every step, beside when it was entered. Empty: nobody is "
    "named.",
    "sign out": "Signs this device out. To sign all out at once, make a new passcode on the "
    "computer that runs curewatch.",
}


@frozen
class GarageChoice:
    """A setting of the garage with its answers, each with the value that the file keeps."""

    key: str
    title: str
    answers: Sequence[tuple[str, str | int]]
    answered: Callable[[str], str]


_CHOICES = (
    GarageChoice(
        "temperature_unit",
        "Temperatures",
        (("°C", "C"), ("°F", "F")),
        lambda text: f"Temperatures are in {text} now.",
    ),
    GarageChoice(
        "hours", "Clock", (("19:30", 24), ("7:30 pm", 12)), lambda text: f"Times read {text} now."
    ),
    GarageChoice(
        "decimal",
        "Decimals",
        (("14.2", "point"), ("14,2", "comma")),
        lambda text: f"Figures read {text} now.",
    ),
    GarageChoice(
        "dates",
        "A typed date 3/4 is",
        (("3 April", "dmy"), ("4 March", "mdy")),
        lambda text: f"A typed 3/4 is {text} now.",
    ),
)
_BY_KEY = {
    f"{choice.key}:{value}": (choice, text, value)
    for choice in _CHOICES
    for text, value in choice.answers
}


def _garage(context: PageContext) -> list[Any]:
    """What holds for the whole garage, on every screen and in the commands."""
    decimal = "comma" if context.manner(request).decimal == "," else "point"
    kept = {choice.key: getattr(context.settings, choice.key) for choice in _CHOICES}
    kept["decimal"] = decimal
    return [_choice(choice, kept[choice.key]) for choice in _CHOICES]


def _choice(choice: GarageChoice, kept: object) -> html.Section:
    answers = [
        button(text, "garage setting", f"{choice.key}:{value}", **_pressed(value == kept))
        for text, value in choice.answers
    ]
    return html.Section([html.H3(choice.title), html.P(answers, className="buttons")])


def _pressed(pressed: bool) -> dict[str, Any]:
    return {"aria-pressed": "true" if pressed else "false"}


def _boxes(context: PageContext) -> list[Any]:
    """The garage's zone, how long metal may stay bare, and until when one works tonight."""
    now, say = context.clock(), context.manner(request)
    zone, limit = Form("zone"), Form("bare limit")
    limit_min = bare_limit_min(context.bench)
    bare = words.duration(limit_min) if limit_min else ""
    return [
        html.Div(
            [zone.box("zone", "Time zone", context.zone.key), zone.send("Save", kind=None)],
            className="until",
        ),
        html.Div(
            [
                limit.box("limit", "Max. time on bare metal", bare, placeholder="4 h"),
                limit.send("Save", kind=None),
            ],
            className="until",
        ),
        until.box(evening.stop_of(context.store, now, context.zone), say),
    ]


def _device(kept: Mapping[str, str]) -> list[Any]:
    """What holds for this device: plain forms, since the page itself is drawn by them."""
    return [
        html.Section(
            [
                html.H3(title),
                html.Form(
                    [
                        html.Button(
                            text,
                            name=name,
                            value=value,
                            type="submit",
                            **_pressed(kept[name] == value),
                        )
                        for value, text in answers
                    ],
                    method="post",
                    action="/choices",
                    className="buttons",
                ),
                html.P(_TEXTS[name], className="hint") if name in _TEXTS else None,
            ]
        )
        for name, title, answers in _DEVICE
    ]


def _name(kept: str) -> html.Section:
    typed = dcc.Input(id="own-name", name=NAME, value=kept, maxLength=60, autoComplete="off")
    label = html.Div(html.Label(["Your name", typed]), className="field")
    save = html.Button("Save", type="submit")
    row = html.Form([label, save], method="post", action="/choices", className="until")
    return html.Section([html.H3("Who enters"), row, html.P(_TEXTS["name"], className="hint")])


def _sound() -> html.Section:
    toggles = [
        html.Button(text, id=name, type="button", **_pressed(True))
        for name, text in (("sound", "Sound on"), ("speech", "Speech on"))
    ]
    tries: list[Any] = []
    for kind, text in _SOUNDS:
        attributes: dict[str, Any] = {"data-try": kind}
        tries.append(html.Button(text, type="button", **attributes))
    return html.Section(
        [
            html.H3("Sound and speech"),
            html.P([*toggles, *tries], className="buttons"),
            html.P(_TEXTS["sound"], className="hint"),
        ]
    )


def _rest(context: PageContext) -> list[Any]:
    calendar = html.P(link("Add to calendar", "/bench.ics"), className="buttons")
    out = html.Form(
        html.Button("Sign out", type="submit"),
        method="post",
        action="/login/out",
        className="buttons",
    )
    signing_out = [html.H3("Sign out"), out, html.P(_TEXTS["sign out"], className="hint")]
    return [
        html.Section([html.H3("Screen"), html.P(_TEXTS["screen"], className="hint")]),
        html.Section([html.H3("Calendar"), calendar, html.P(_TEXTS["calendar"], className="hint")]),
        html.Section(signing_out) if context.needs_passcode else None,
    ]


def content(context: PageContext, _address: Address, _first: bool) -> list[Any]:
    """The settings of the garage, then those of this device."""
    kept = {name: request.cookies.get(name, "") for name in (*ALLOWED, NAME)}
    everywhere = "These apply to every screen and to the commands."
    return [
        html.Div([html.H1("Settings"), links(_NEARBY)], className="head"),
        html.H2("The garage"),
        html.P(everywhere, className="hint"),
        html.Div(_garage(context), className="settings"),
        html.Div(_boxes(context), className="settings"),
        html.H2("This device"),
        html.Div([*_device(kept), _name(kept[NAME])], className="settings"),
        _sound(),
        *_rest(context),
    ]


def _again() -> None:
    """Draw the page anew: what is kept in no logbook changes none of its marks."""
    set_props("redraw", {"data": uuid.uuid4().hex})


def _kept(context: PageContext, values: Mapping[str, str | int]) -> Settings:
    settings = set_values(context.settings.folder, values)
    context.use(settings)
    _again()
    return settings


def _set(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome | None:
    if key not in _BY_KEY:
        return None
    choice, text, value = _BY_KEY[key]
    _kept(context, {choice.key: value})
    return TouchOutcome(text=choice.answered(text))


def _zone(context: PageContext, _key: str, values: Mapping[str, Any]) -> TouchOutcome:
    name = (values.get("zone") or "").strip()
    with at_field("zone"):
        if not is_zone(name):
            raise ConfigError(
                f"{name[:40]!r} is not a time zone", fix="type one like Europe/Dublin"
            )
        _kept(context, {"zone": name})
    return TouchOutcome(text=f"The garage's clock is that of {context.zone.key} now.")


def _limit(context: PageContext, _key: str, values: Mapping[str, Any]) -> None:
    with at_field("limit"):
        limit_min = in_unit(values.get("limit") or "", "h", parse_duration)
        set_bare_limit(context.bench, limit_min, now=context.clock())


PAGE = DashPage(
    "Settings",
    content,
    acts={"garage setting": _set, "zone": _zone, "bare limit": _limit},
)
