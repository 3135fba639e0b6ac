"""Listening: every number that the broker hears for a while, and one touch to say what it is."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, get_args

from flask import Flask, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.climate.reading import Quantity, check_place
from curewatch.errors import ConfigError, CurewatchError, ReadingError
from curewatch.settings.settings import HUMIDITY_UNITS, TEMPERATURE_UNITS, Mapping, load_settings
from curewatch.text import plain
from curewatch.wording import words
from dashboard.ears import Ears
from dashboard.hall import Hall

if TYPE_CHECKING:
    from sensors.mqtt.discovery import Leaf

QUANTITIES: tuple[Quantity, ...] = get_args(Quantity)
UNITS = (*TEMPERATURE_UNITS, *HUMIDITY_UNITS)
PLACES = (
    ("panel", "On the panel"),
    ("air", "In the air"),
    ("outdoors", "Outdoors"),
    ("shelf", "On the shelf"),
)
_UNIT_SAID = {"C": "°C", "F": "°F", "K": "K", "%": "%", "fraction": "0 to 1"}
_SENT = {"C": "in °C", "F": "in °F", "K": "in K", "%": "in %", "fraction": "as 0 to 1"}
_NAMED = {
    "surface_temperature": "the temperature of a surface",
    "air_temperature": "the temperature of the air",
    "relative_humidity": "humidity",
}


@dataclass(frozen=True)
class Row:
    """One number as the page shows it; `mapping`: as what it is taken already."""

    leaf: Leaf
    id: str
    topic: str
    at: str
    values: tuple[str, ...]
    seems: str
    mapping: Mapping | None
    taken: str
    own: bool
    removable: bool


def _row(hall: Hall, leaf: Leaf, mappings: Sequence[Mapping]) -> Row:
    mapping = next((each for each in mappings if leaf.fits(each)), None)
    levels = leaf.topic.split("/")
    own = levels[0] == "curewatch" and len(levels) == 3
    return Row(
        leaf,
        _id(leaf),
        plain(leaf.topic),
        plain(leaf.record or leaf.pointer),
        tuple(f"{value:.6g}" for value in leaf.last),
        _seems(hall, leaf),
        mapping,
        _taken(hall, leaf, mapping),
        own,
        mapping is not None and mapping.topic == leaf.topic,
    )


def _id(leaf: Leaf) -> str:
    whole = f"{leaf.topic}\0{leaf.pointer}\0{leaf.record}".encode(errors="replace")
    return f"h{hashlib.sha256(whole).hexdigest()[:12]}"


def _seems(hall: Hall, leaf: Leaf) -> str:
    """What a number seems to be, in this reader's units."""
    if leaf.guess is None:
        return ""
    quantity, unit = leaf.guess
    value = leaf.read(leaf.mapping("here", quantity, unit))
    if value is None:
        return f"may be {_NAMED[quantity]}, sent {_SENT[unit]}"
    now = words.value(hall.manner(request), quantity, value)
    return f"may be {_NAMED[quantity]}: {now}, sent {_SENT[unit]}"


def _taken(hall: Hall, leaf: Leaf, mapping: Mapping | None) -> str:
    if mapping is None:
        return ""
    value = leaf.read(mapping)
    named = words.QUANTITY[mapping.quantity]
    if value is None:
        return f"{mapping.place} {named}"
    return f"{mapping.place} {named}: {words.value(hall.manner(request), mapping.quantity, value)}"


def rows(hall: Hall, ears: Ears) -> tuple[list[Row], list[Row], list[Row]]:
    """The numbers heard: those that may be of use, those taken already, and the rest."""
    mappings = load_settings(hall.settings.folder).mappings
    found = [_row(hall, leaf, mappings) for leaf in ears.leaves]
    taken = [each for each in found if each.own or each.mapping]
    free = [each for each in found if not each.own and not each.mapping]
    return [each for each in free if each.seems], taken, [each for each in free if not each.seems]


def _page(hall: Hall, error: str = "", template: str = "listen.html") -> str:
    ears = hall.ears
    try:
        useful, taken, rest = rows(hall, ears)
    except ConfigError as wrong:
        useful, taken, rest = [], [], []
        error = error or str(wrong)
    return render_template(
        template,
        useful=useful,
        taken=taken,
        rest=rest,
        left_s=round(ears.left_s),
        full=ears.full,
        trouble=ears.trouble,
        error=error,
        places=PLACES,
        quantities=[(each, _NAMED[each]) for each in QUANTITIES],
        units=[(each, _UNIT_SAID[each]) for each in UNITS],
        mqtt=hall.settings.mqtt,
        lan=hall.settings.lan,
    )


def _asked(ears: Ears) -> Leaf:
    for leaf in ears.leaves:
        if _id(leaf) == request.form.get("heard"):
            return leaf
    raise ReadingError("that sensor is heard no more", fix="touch Listen again")


def chosen(leaf: Leaf) -> Mapping:
    """The mapping that a form asks for. Raises CurewatchError in the user's words."""
    place = request.form.get("place") or request.form.get("own", "").strip()
    if not place:
        raise ReadingError("no place was named", fix="touch one, or write its name")
    quantity = next((each for each in QUANTITIES if each == request.form.get("quantity")), None)
    unit = next((each for each in UNITS if each == request.form.get("unit")), None)
    if leaf.guess is None and quantity is None:
        raise ReadingError("it is not said what that number measures", fix="choose it first")
    mapping = leaf.mapping(check_place(place), quantity, unit)
    humid = mapping.quantity == "relative_humidity"
    if mapping.unit not in (HUMIDITY_UNITS if humid else TEMPERATURE_UNITS):
        raise ReadingError(
            f"{_NAMED[mapping.quantity]} is not measured in {_UNIT_SAID[mapping.unit]}",
            fix="choose another unit",
        )
    return mapping


def _choose(hall: Hall) -> str:
    """Keep or let go of a mapping; the mark of its row from then on."""
    leaf = _asked(hall.ears)
    if request.form.get("does") == "let go":
        hall.ears.let_go(leaf.mapping("here", None, None))
        return _id(leaf)
    hall.ears.keep(chosen(leaf))
    return f"{_id(leaf)}-taken"


def register(app: Flask, hall: Hall) -> None:
    """Put the listening page on the app."""

    @app.get("/air/listen")
    def listen_page() -> str:
        return _page(hall)

    @app.get("/air/listen/heard")
    def listen_heard() -> str:
        return _page(hall, template="_heard.html")

    @app.post("/air/listen")
    def listen_begin() -> AnyResponse | tuple[str, int]:
        try:
            act = hall.ears.end if request.form.get("does") == "stop" else hall.ears.begin
            act()
        except CurewatchError as error:
            return _page(hall, str(error)), 400
        return redirect("/air/listen", 303)

    @app.post("/air/listen/choose")
    def listen_choose() -> AnyResponse | tuple[str, int]:
        try:
            mark = _choose(hall)
        except CurewatchError as error:
            return _page(hall, str(error)), 400
        return redirect(f"/air/listen#{mark}", 303)
