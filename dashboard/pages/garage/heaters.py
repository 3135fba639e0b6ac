"""The lamps and heaters one owns, what they really did, and what energy costs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html
from flask import request

from curewatch.bench.reminders import HEATER
from curewatch.events.bodies import HeatedPlace
from curewatch.formats import ReaderFormat
from curewatch.units import (
    parse_area,
    parse_power,
    parse_price,
    parse_temperature,
)
from curewatch.walltime import last_time
from curewatch.warmth import owned, words
from curewatch.warmth.owned import Heater
from dashboard.context.page_context import PageContext
from dashboard.pages.components import first_up, links
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import Form, TouchOutcome, at_field, button
from dashboard.request.boxes import in_unit

ADD, PROBED, RAN, REMOVED, PRICE = (
    *("heater added", "heater probed", "heater ran", "heater removed"),
    "energy price",
)
_NEARBY = (("Mix", "/mix"), ("Room and fan", "/air/out"), ("Settings", "/choices"))
_ADDS: dict[str, tuple[HeatedPlace, str]] = {
    "panel": ("panel", "Add a lamp on the panel"),
    "room": ("room", "Add a heater in the room"),
}
_PER_KWH = "Price of a kilowatt hour, in your money"
_TEACH = (
    "Enter the lamps and heaters you own. The page Mix then says for each how likely the clamps "
    "come off in time, from when to when it must be on, and what that takes."
)
Values = Mapping[str, Any]


def _text(values: Values, field: str) -> str:
    return str(values.get(field) or "").strip()


def _boxes(heater: Heater, say: ReaderFormat) -> tuple[Form, list[Any]]:
    """What is asked of a heater so that its heat need not be assumed."""
    if heater.on == "panel":
        form, unit = Form(PROBED, heater.name), say.unit
        return form, [
            form.box("before", f"Metal before, °{unit}", inputMode="decimal"),
            form.box("under", f"Under it after 30 min, °{unit}", inputMode="decimal"),
        ]
    form = Form(RAN, heater.name)
    return form, [
        form.box("start", "It was on from", placeholder="17:00"),
        form.box("end", "until", placeholder="21:00"),
    ]


def _heater(heater: Heater, say: ReaderFormat) -> html.Section:
    """One lamp or heater with what is known of it."""
    named: dict[str, Any] = {"aria-label": f"Remove: {heater.name}"}
    text = words.heater_words(heater, say).removeprefix(f"{heater.name}: ")
    form, boxes = _boxes(heater, say)
    buttons = [form.send("Save", kind=None), button("Remove", REMOVED, heater.name, **named)]
    return html.Section(
        [
            html.H2(heater.name),
            html.P(f"{first_up(text)}.", className="lead"),
            html.Div(boxes, className="fields"),
            html.P(buttons, className="buttons"),
        ],
        className="mask",
    )


def _add() -> html.Section:
    form = Form(ADD)
    boxes = [
        form.box("name", "Name", placeholder="work lamp", maxLength=owned.LONGEST_NAME),
        form.box("watts", "Power, W", placeholder="500", inputMode="decimal"),
        form.box("lit", "Area a lamp lights, m²", placeholder="0.5", inputMode="decimal"),
    ]
    adds = [form.send(text, key, kind=None) for key, (_, text) in _ADDS.items()]
    return html.Section(
        [
            html.H2("A lamp or heater"),
            html.Div(boxes, className="fields"),
            form.wrong(),
            html.P(adds, className="buttons"),
        ]
    )


def _price(price: float | None, say: ReaderFormat) -> html.Section:
    form = Form(PRICE)
    shown = "" if price is None else say.number(price, 2)
    box = form.box("price", _PER_KWH, shown, placeholder="0.32", inputMode="decimal")
    row = html.Div([box, form.send("Save", kind=None)], className="until")
    return html.Section([html.H2("What energy costs"), row])


def content(context: PageContext, _address: Address, _first: bool) -> list[Any]:
    """What is owned, what may be added, and the price."""
    say, heaters = context.manner(request), owned.heaters(context.store)
    listed: list[Any] = [_heater(heater, say) for heater in heaters]
    return [
        html.Div([html.H1("Lamps and heaters"), links(_NEARBY)], className="head"),
        *(listed or [html.P(_TEACH, className="teach")]),
        _add(),
        _price(owned.energy_price(context.store), say),
        html.P(HEATER.words, className="hint"),
        html.P("curewatch switches nothing on or off.", className="hint"),
    ]


def _added(context: PageContext, _key: str, values: Values) -> TouchOutcome:
    name, kind = _text(values, "name"), _text(values, "send")
    place = _ADDS.get(kind, _ADDS["panel"])[0]
    with at_field("watts"):
        watts = owned.within(
            in_unit(_text(values, "watts"), "W", parse_power), owned.WATTS, "a power", "W"
        )
    with at_field("lit"):
        lit = _text(values, "lit")
        lit_m2 = in_unit(lit, "m²", parse_area) if lit else owned.USUAL_LIT_M2
        owned.within(lit_m2, owned.LIT_M2, "a lit area", "m²")
    with at_field("name"):
        owned.own(context.store, name, watts, place, now=context.clock(), lit_m2=lit_m2)
    return TouchOutcome(clear=True)


def _probed(context: PageContext, key: str, values: Values) -> TouchOutcome:
    unit, read = context.manner(request).unit, dict[str, float]()
    for field in ("before", "under"):
        with at_field(field):
            read[field] = in_unit(_text(values, field), unit, parse_temperature)
    with at_field("under"):
        owned.probed(context.store, key, read["under"] - read["before"], now=context.clock())
    return TouchOutcome(clear=True)


def _ran(context: PageContext, key: str, values: Values) -> TouchOutcome:
    now, order = context.clock(), context.date_order(request)
    with at_field("end"):
        off = last_time(_text(values, "end"), now, context.zone, order)
    with at_field("start"):
        on = last_time(_text(values, "start"), off, context.zone, order)
        owned.ran(context.store, key, on, off, now=now)
    return TouchOutcome(clear=True)


def _removed(context: PageContext, key: str, _values: Values) -> None:
    owned.sold(context.store, key, now=context.clock())


def _priced(context: PageContext, _key: str, values: Values) -> None:
    with at_field("price"):
        owned.set_energy_price(
            context.store, parse_price(_text(values, "price")), now=context.clock()
        )


PAGE = DashPage(
    "Lamps and heaters",
    content,
    acts={ADD: _added, PROBED: _probed, RAN: _ran, REMOVED: _removed, PRICE: _priced},
    under="/choices",
)
