"""Masks and filters: opened, worn for how long, and when to throw them away."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from dash import html
from flask import request

from curewatch.formats import ReaderFormat
from curewatch.protection import cartridges, wearing
from curewatch.protection.cartridges import State
from curewatch.units import parse_duration
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.pages.components import first_up, links
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import Form, TouchOutcome, at_field, button
from dashboard.request.boxes import in_unit

_NEARBY = (("Air", "/air"), ("Room and fan", "/air/out"))
_KINDS = {"vapour": "vapour cartridge", "dust": "dust filter"}
_RULE = (
    "A vapour cartridge is thrown away at the end of the day, after 8 hours worn, or after the "
    "maker's figure, whichever is first; where humidity is above 85 %, after half of that. A dust "
    "filter stops no vapour. For sprayed isocyanate neither is enough."
)


def _meter(state: State) -> Any:
    """How much of its hours a set was worn, where it has a limit."""
    if state.most_h is None:
        return None
    attributes: dict[str, Any] = {"aria-label": "Hours worn, of the most"}
    worn = f"{min(state.worn_h, state.most_h):.2f}"
    return html.Meter(value=worn, min="0", max=f"{state.most_h:g}", **attributes)


def _set(state: State, now: datetime, say: ReaderFormat) -> html.Section:
    """One set in use, verdict first."""
    cartridge, form = state.cartridge, Form("worn besides", state.cartridge.name)
    maker = (
        f"; the maker says {words.figure(cartridge.maker_h, say)} h" if cartridge.maker_h else ""
    )
    opened = (
        f"{first_up(_KINDS[cartridge.kind])}, opened {say.moment(cartridge.opened, now)}{maker}."
    )
    named: dict[str, Any] = {"aria-label": f"Thrown away: {cartridge.name}"}
    source = html.Details([html.Summary("Where this rule is from"), html.P(state.source)])
    hours = form.box("hours", "Extra hours worn", placeholder="1.5", inputMode="decimal")
    buttons = [
        form.send("Add", kind=None),
        button("Thrown away", "mask gone", cartridge.name, **named),
    ]
    return html.Section(
        [
            html.H2(cartridge.name),
            html.P(f"{first_up(state.words)}.", className="problem" if state.discard else "lead"),
            _meter(state),
            html.P(opened, className="hint"),
            html.Div([hours, *buttons], className="one-line"),
            source,
        ],
        className="mask",
    )


def _open() -> html.Section:
    form = Form("mask opened")
    kinds = [form.send(f"{first_up(text)} opened now", kind) for kind, text in _KINDS.items()]
    return html.Section(
        [
            html.H2("A new cartridge or filter"),
            html.Div(
                [
                    form.box("name", "Name", "mask", maxLength=60),
                    form.box("maker", "Maker's figure, hours (if any)", inputMode="decimal"),
                ],
                className="fields",
            ),
            form.wrong(),
            html.P(kinds, className="buttons"),
            html.P(_RULE, className="hint"),
        ]
    )


def content(context: PageContext, _address: Address, _first: bool) -> list[Any]:
    """The sets in use, those to be thrown away first; and opening a new one."""
    now, say = context.clock(), context.manner(request)
    states = sorted(
        wearing.states(context.bench, now, context.zone), key=lambda state: not state.discard
    )
    none = (
        "No cartridge or filter is in use. Enter one when you open it; its hours are counted from "
        "the steps whose respirator reminder you answer."
    )
    sets: list[Any] = [_set(state, now, say) for state in states]
    return [
        html.Div([html.H1("Masks and filters"), links(_NEARBY)], className="head"),
        *(sets or [html.P(none, className="teach")]),
        _open(),
    ]


def _hours(values: Mapping[str, Any], name: str) -> float | None:
    text = (values.get(name) or "").strip()
    with at_field(name):
        return in_unit(text, "h", parse_duration) / 60 if text else None


def _opened(context: PageContext, _key: str, values: Mapping[str, Any]) -> TouchOutcome:
    maker_h, kind = _hours(values, "maker"), values.get("send") or "vapour"
    name = values.get("name") or ""
    cartridges.open_new(context.store, name, kind, now=context.clock(), maker_h=maker_h)
    return TouchOutcome()


def _worn(context: PageContext, key: str, values: Mapping[str, Any]) -> TouchOutcome:
    hours = _hours(values, "hours")
    with at_field("hours"):
        cartridges.worn(context.store, key, hours or 0.0, now=context.clock())
    return TouchOutcome(clear=True)


def _gone(context: PageContext, key: str, _values: Mapping[str, Any]) -> None:
    cartridges.discard(context.store, key, now=context.clock())


PAGE = DashPage(
    "Masks and filters",
    content,
    acts={"mask opened": _opened, "worn besides": _worn, "mask gone": _gone},
)
