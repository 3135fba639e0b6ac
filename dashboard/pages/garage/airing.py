"""The room and its fan, and the vapour of a product in it: building up, clearing, its limits."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from dash import dcc, html
from flask import request

from curewatch.errors import CurewatchError, QuantityError
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.garage.shelf import find_sheet, shelf
from curewatch.protection import airing
from curewatch.protection.airing import Airing
from curewatch.protection.ventilation import Room, parse_flow, parse_volume
from curewatch.units import parse_duration, parse_mass
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.figures.vapour import VapourDrawing, above_min, figure
from dashboard.pages.components import chart, first_up, links
from dashboard.pages.garage.query import asked_of
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import KEPT, Form, TouchOutcome, at_field
from dashboard.request.boxes import in_unit
from dashboard.request.device import screen_of

USED = ("sheet", "amount", "over")
_SIDES = {"length": "Length, m", "width": "Width, m", "height": "Height, m"}
_WAYS = {"spray": "Is it sprayed?", "sand": "Is it sanded?"}
_NEARBY = (("Air", "/air"), ("Masks and filters", "/air/masks"), ("Lamps and heaters", "/heaters"))
_NO_ROOM = (
    "Enter the room and its fan once: the bench then counts the least airing time after each step "
    "with solvent."
)
_NO_AMOUNT = "Enter an amount to see the vapour it leaves in the room."
_MIXING = "Air mixing (1 good, 5 usual, 10 poor)"
_NUMBER = re.compile(r"[0-9]{1,9}(\.[0-9]{0,9})?")


@frozen
class Worked:
    """The airing as asked for; wrong: in which field nothing could be worked out, and why."""

    airing: Airing | None
    wrong: str = ""


def _plain_number(text: str, name: str, fix: str) -> float:
    plain = text.strip().replace(",", ".")
    if not _NUMBER.fullmatch(plain):
        raise QuantityError(f"{text[:20]!r} is not a number for {name}", fix=fix)
    return float(plain)


def _worked(context: PageContext, room: Room, used: Mapping[str, str]) -> Worked:
    """The airing of a room with what an address says is used in it."""
    try:
        sheet = find_sheet(context.store, used["sheet"]) if used.get("sheet") else None
        amount = used.get("amount", "").strip()
        over = used.get("over", "").strip() or "30 min"
        result = airing.airing(
            room,
            sheet,
            amount_g=in_unit(amount, "g", parse_mass) if amount else None,
            over_min=in_unit(over, "min", parse_duration),
            sprayed=used.get("spray") == "1",
            sanded=used.get("sand") == "1",
        )
    except CurewatchError as error:
        return Worked(None, str(error))
    return Worked(result)


def _room_boxes(form: Form, room: Room | None, say: ReaderFormat) -> list[Any]:
    """The room by length, width and height, or by its volume; its fan and how the air mixes."""
    number = {"inputMode": "decimal"}
    sides = [form.box(name, label, **number) for name, label in _SIDES.items()]
    volume = words.figure(room.volume_m3, say) if room else ""
    flow = words.figure(room.flow_m3_h, say) if room else ""
    mixing = words.figure(room.mixing, say) if room else "5"
    return [
        *sides,
        form.box("room", "Or its volume, m³", volume, placeholder="60", **number),
        form.box("fan", "Fan, m³/h", flow, placeholder="300", **number),
        form.box("mixing", _MIXING, mixing, **number),
    ]


def _picked(form: Form, label: str, chosen: str, field: str, texts: Mapping[str, str]) -> Any:
    """What a field may be, one of which is picked; what is typed beside it stays."""
    options = [{"label": text, "value": value} for value, text in texts.items()]
    picked = dcc.RadioItems(
        id=form.id(field),
        options=options,
        value=chosen if chosen in texts else "",
        className="picks-one",
        **KEPT,
    )
    return html.Fieldset([html.Legend(label), picked], className="choices")


def _address(used: Mapping[str, str]) -> str:
    kept = {name: used[name] for name in (*USED, *_WAYS) if used.get(name)}
    return f"/air/out?{urlencode(kept)}"


def _used_boxes(context: PageContext, form: Form, used: Mapping[str, str]) -> list[Any]:
    """What is used in the room: the product, how much, for how long it evaporates."""
    sheets = sorted(shelf(context.store).values(), key=lambda sheet: sheet.name)
    names = {"": "No product"} | {sheet.id: words.short_name(sheet.name) for sheet in sheets}
    ways = [
        _picked(form, text, used.get(name, ""), name, {"": "No", "1": "Yes"})
        for name, text in _WAYS.items()
    ]
    boxes = [
        form.box("amount", "Amount", used.get("amount", ""), placeholder="300 g"),
        form.box("over", "Evaporates over", used.get("over", ""), placeholder="30 min"),
    ]
    products = _picked(form, "Product", used.get("sheet", ""), "sheet", names)
    return [products, html.Div(ways, className="ways"), html.Div(boxes, className="fields")]


def _purge(result: Airing, say: ReaderFormat) -> list[Any]:
    """How long until so much is gone, at least."""
    room = result.room
    times = [
        html.Div(
            [
                html.Dt(f"{share.replace('.', say.decimal)} % gone"),
                html.Dd(words.duration(time_min, "up")),
            ]
        )
        for share, time_min in (result.purge or {}).items()
    ]
    text = (
        f"{words.figure(room.volume_m3, say)} m³ and {words.figure(room.flow_m3_h, say)} m³/h are "
        f"{say.number(room.air_changes_per_h)} air changes an hour; with a mixing factor of "
        f"{words.figure(room.mixing, say)}, once nothing more evaporates:"
    )
    return [html.P(text), html.Dl(times, className="airing")]


def _verdict(result: Airing) -> html.P | None:
    """The vapour against its limits, in a sentence."""
    level = result.level
    if level is None or level.times_limit is None:
        return None
    above = above_min(result)
    text = "The mean of the room stays below the strictest exposure limit found."
    if above > 0:
        text = (
            f"Above the strictest exposure limit found for about {words.duration(above, 'up')}: "
            f"wear the respirator that the safety data sheet names, and keep the fan on."
        )
    return html.P(text, className="problem" if above > 0 else "lead")


def _level(result: Airing, say: ReaderFormat, first: bool) -> list[Any]:
    """The vapour: its verdict, its figure, its lines."""
    if result.level is None:
        return []
    drawn = VapourDrawing(result, result.level, say, screen_of(request))
    drawing = {} if first else figure(drawn)  # drawn by a script, which comes later
    lines = [html.P(first_up(line.strip())) for line in airing.level_lines(result, say)]
    return [
        html.H2("Vapour in the room"),
        _verdict(result),
        chart("vapour", drawing, "Vapour in the room", "vapour-figure"),
        *lines,
    ]


def _answer(worked: Worked, say: ReaderFormat, first: bool) -> list[Any]:
    """What is known of the airing, with its cautions."""
    result = worked.airing
    if result is None:
        return [html.P(worked.wrong, className="problem", role="alert")]
    if result.refused:
        return [html.P(f"{first_up(result.refused)}.", className="problem")]
    notes = [html.P(f"{first_up(note)}.", className="note") for note in result.notes]
    head = html.H2("At least how long")
    return [*_level(result, say, first), head, *_purge(result, say), *notes]


def content(context: PageContext, address: Address, first: bool) -> list[Any]:
    """The room, what is used in it, and how long it takes to air out."""
    say, used = context.manner(request), asked_of(address)
    form = Form("room and use")
    room = airing.last_room(context.store)
    answer = _answer(_worked(context, room, used), say, first) if room else []
    amount = html.P(_NO_AMOUNT, className="teach")
    answer += [amount] if used.get("sheet") and not used.get("amount", "").strip() else []
    hint = "Three sides, or the volume alone. Kept until you change it."
    return [
        html.Div([html.H1("Room and fan"), links(_NEARBY)], className="head"),
        None if room else html.P(_NO_ROOM, className="teach"),
        html.Section(answer),
        html.H2("The room"),
        html.P(hint, className="hint"),
        html.Div(_room_boxes(form, room, say), className="fields"),
        html.H2("What is used in it"),
        *_used_boxes(context, form, used),
        form.wrong(),
        html.P(form.send("Work it out"), className="buttons"),
    ]


def _volume_m3(values: Mapping[str, Any]) -> float:
    """The room's volume, of its sides where one is typed. [m3]"""
    sides = {name: (values.get(name) or "").strip() for name in _SIDES}
    if not any(sides.values()):
        with at_field("room"):
            return in_unit(values.get("room") or "", "m3", parse_volume)
    product = 1.0
    for name, text in sides.items():
        with at_field(name):
            product *= _plain_number(text.removesuffix("m"), f"the {name}", "type metres, like 6.5")
    return product


def _room(context: PageContext, _key: str, values: Mapping[str, Any]) -> TouchOutcome:
    """Keep the room, and lead to the answer for what is used in it."""
    volume_m3, mixing = _volume_m3(values), (values.get("mixing") or "").strip()
    with at_field("fan"):
        flow_m3_h = in_unit(values.get("fan") or "", "m3/h", parse_flow)
    with at_field("mixing"):
        factor = _plain_number(mixing, "mixing", "type a number from 1 to 10") if mixing else None
    airing.entered(context.store, volume_m3, flow_m3_h, factor, now=context.clock())
    entered = {name: str(values.get(name) or "").strip() for name in (*USED, *_WAYS)}
    return TouchOutcome(go=_address(entered))


PAGE = DashPage("Room and fan", content, acts={"room and use": _room})
