"""Mixing a product: the answer first and its ribbon, then the gate, the cautions, and the start."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any
from urllib.parse import parse_qsl

from dash import ALL, Dash, Input, Output, State, ctx, html, set_props
from dash.exceptions import PreventUpdate
from flask import request

from curewatch.bench import spraying
from curewatch.bench.bench import Details, check_mix
from curewatch.errors import CurewatchError
from curewatch.garage import cans, parts
from curewatch.garage.shelf import find_sheet
from curewatch.gate import starting
from curewatch.plan.mix_by import MixBy
from curewatch.products.sheet import Sheet
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.context.turns import OneAtATime
from dashboard.endpoints.mixed import forget, remember
from dashboard.pages.components import link
from dashboard.pages.mix import when
from dashboard.pages.mix.answer import answer
from dashboard.pages.mix.boxes import (
    CHECKING,
    NOW,
    WHY,
    amounts,
    applied,
    before,
    cautions_box,
    label_line,
    more,
    start,
    why,
)
from dashboard.pages.mix.data import BY, WAIT, asked_by, mix_warmth, mix_when, proposed
from dashboard.pages.mix.details import (
    HEAT,
    HEAT_FOR,
    choices,
    details_of,
    first_details,
    heat_of,
    known_parts,
)
from dashboard.pages.mix.gate_answers import answers, reasons_wanted
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import Form, TouchOutcome, WrongField, WrongFields
from dashboard.request.device import screen_of
from dashboard.request.forms import ago_of

START, ANSWER, GATE = "mix", "mix-answer", "mix-gate"
LIVE = (
    *("amount", "hardener", HEAT, HEAT_FOR, "part", "job", "place", "batch", "applied"),
    *(WAIT, BY),
)
UNREAD = "Not worked out: one of the boxes below cannot be read, and says why."
Values = Mapping[str, Any]
_ONE_AT_A_TIME = OneAtATime(
    "The table is being worked out for someone else. Open it again.", waiting=4
)


def _when(
    context: PageContext, sheet: Sheet, details: Details, values: Values, first: bool
) -> tuple[MixBy | None, list[Any]]:
    """When it may be mixed, and what the page says of that; why nobody can say."""
    say, screen = context.manner(request), screen_of(request)
    try:
        mix_by = mix_when(context, sheet, details, values, context.clock())
    except CurewatchError as error:
        return None, when.problem(error)
    return mix_by, when.shown(mix_by, say, screen, first)


def live_parts(context: PageContext, sheet: Sheet, values: Values, first: bool) -> tuple[Any, ...]:
    """What follows from the boxes: the answer with its ribbon, when to mix, the gate, whether a
    reason is needed, and whether none is asked. Raises CurewatchError where a box cannot be
    read."""
    now, say = context.clock(), context.manner(request)
    details = details_of(context, values)
    check_mix(sheet, details)
    heat = heat_of(values, now, say.unit)
    mix = proposed(context, sheet, details, heat, now, say)
    mix_by, by_when = _when(context, sheet, details, values, first)
    return (
        answer(context, mix, mix_by, values, first),
        by_when,
        answers(mix.gate, _form(sheet), say),
        reasons_wanted(mix.gate),
        mix.gate.verdict == "go",
    )


def _warmth(context: PageContext, sheet: Sheet, values: Values) -> list[Any]:
    """What heat or another product would change, or why nobody can say."""
    try:
        with _ONE_AT_A_TIME.turn():
            trial = mix_warmth(context, sheet, details_of(context, values), values, context.clock())
    except CurewatchError as error:
        return when.problem(error)
    return when.not_asked() if trial is None else when.warmth_table(trial, context.manner(request))


def _form(sheet: Sheet) -> Form:
    return Form(START, sheet.id)


def _in_use(context: PageContext, sheet: Sheet) -> str:
    """The batches that a mix takes over from the can in use; '' where none is."""
    can = cans.in_use(context.store, sheet.id)
    return f"{can.batches}, the can in use" if can and can.batches else ""


def _stop(context: PageContext) -> datetime | None:
    """Tonight's stopping time, where it is to come."""
    return asked_by(context, {}, context.clock())


def _first_values(context: PageContext, sheet: Sheet, address: Address) -> dict[str, str]:
    return first_details(context.bench, sheet, dict(parse_qsl(address.query)))


def _not_worked_out(why: str) -> tuple[Any, ...]:
    """What stands in the places of `live_parts` where a box is wrong."""
    return [html.P(why, className="problem")], [], [], False, True


def _safely(context: PageContext, sheet: Sheet, values: Values, first: bool) -> tuple[Any, ...]:
    try:
        return live_parts(context, sheet, values, first)
    except CurewatchError as error:
        return _not_worked_out(str(error))


def content(context: PageContext, address: Address, first: bool) -> list[Any]:
    """The whole page. Raises StepError where there is no such product."""
    sheet = find_sheet(context.store, str(address.values["id"]))
    remember(sheet.id)
    say, form = context.manner(request), _form(sheet)
    values, offered = _first_values(context, sheet, address), choices(context.bench, sheet)
    answered, when_said, gate, *reasons = _safely(context, sheet, values, first)
    # on a structural joint the page shows no time, also not that of the label
    joint = context.bench.reader.joint(values.get("part") or "", values.get("job") or "")
    title = words.short_name(sheet.name)
    rehearse = link("Rehearse it dry", f"/mix/{sheet.id}/rehearse")
    nearby = [rehearse] if sheet.kind == "adhesive" else []
    nearby.append(link("Its label", f"/shelf/{sheet.id}"))
    return [
        html.Div([html.H1(title), html.P(nearby, className="buttons"), CHECKING], className="head"),
        html.Div(answered, id=ANSWER),
        before(sheet),
        amounts(form, sheet, values, offered, known_parts(context.bench), say),
        html.P(label_line(sheet, say), className="hint") if joint == "body" else None,
        applied(form, sheet),
        html.Section(html.Div(gate, id=GATE)),
        why(form, (reasons[0], reasons[1])),
        when.section(form, sheet, _stop(context), when_said, say),
        more(form, values, offered, _in_use(context, sheet)),
        cautions_box(form, sheet),
        start(form),
    ]  # fmt: skip


def _reason(values: Values) -> str:
    return str(values.get("why_else") or "").strip() or str(values.get("why") or "").strip()


def _begin(context: PageContext, id: str, details: Details, values: Values) -> None:
    """Start the step. Raises WrongFields where something is to be answered first."""
    now, ago = context.clock(), ago_of(str(values.get("ago") or "0"))
    try:
        starting.start(
            context.bench, id, details, now=now, say=context.manner(request), zone=context.zone,
            at=now - ago, acknowledged=list(values.get("acknowledged") or ()), why=_reason(values),
        )  # fmt: skip
    except spraying.HeldBack as held:
        raise WrongFields({"applied": held.question}) from None
    except starting.Unreasoned as stopped:
        stop = stopped.stops[0].rstrip(".")
        text = f"Stop: {stop}. Say first why you mix anyway."
        raise WrongFields({"why": text, "": "Not started. " + text}) from None


def _started(context: PageContext, key: str, values: Values) -> TouchOutcome:
    """Start the mix, or mark its part where that was asked; Enter in a box starts nothing."""
    sheet, sent = find_sheet(context.store, key), str(values.get("send") or "")
    details = details_of(context, values)
    if sent in words.STRUCTURAL:
        parts.mark(context.store, details.part or "", details.job or "", sent, now=context.clock())
        return TouchOutcome(words.MARKED[sent])
    if sent != NOW:
        return TouchOutcome()
    _begin(context, sheet.id, details, values)
    forget()
    return TouchOutcome(go="/")


def _sent_boxes() -> tuple[str, dict[str, Any]]:
    """Of which product the boxes are that are sent, and what stands in them."""
    path = next(state["value"] for state in ctx.states_list)
    product = app_address(str(path))
    if product is None:
        raise PreventUpdate
    form = json.dumps([START, product])
    boxes = [box for group in ctx.inputs_list if isinstance(group, list) for box in group]
    own = [box for box in boxes if box["id"]["form"] == form]
    return product, {box["id"]["field"]: box.get("value") for box in own}


def callbacks(app: Dash, context: PageContext) -> None:
    """Put what follows from the boxes on the app, and the table of warmth while it is open."""
    boxes = [Input({"form": ALL, "field": name}, "value") for name in LIVE]

    @app.callback(
        Output(ANSWER, "children"),
        Output(when.WHEN, "children"),
        Output(GATE, "children"),
        Output(WHY, "open"),
        Output(WHY, "hidden"),
        *boxes,
        Input("again", "data"),
        State("url", "pathname"),
        prevent_initial_call=True,
    )
    def followed(*_values: Any) -> tuple[Any, ...]:
        product, values = _sent_boxes()
        sheet = find_sheet(context.store, product)
        try:
            drawn, wrong = live_parts(context, sheet, values, False), {}
        except WrongField as error:
            drawn, wrong = _not_worked_out(UNREAD), {error.field: str(error)}
        except CurewatchError as error:
            drawn, wrong = _not_worked_out(str(error)), {}
        for field in values.keys() - {WAIT}:
            set_props(_form(sheet).place(field), {"children": wrong.get(field, "")})
        return drawn

    @app.callback(
        Output(when.WARMTH, "children"),
        Input(when.FOLD, "n_clicks"),
        *boxes,
        State("url", "pathname"),
        prevent_initial_call=True,
    )
    def unfolded(touches: int | None, *_values: Any) -> list[Any]:
        if not (touches or 0) % 2:  # an even number of touches has closed it
            raise PreventUpdate
        product, values = _sent_boxes()
        return _warmth(context, find_sheet(context.store, product), values)


def app_address(path: str) -> str | None:
    """The product whose mix page a path is; None for another path."""
    parts_of = path.split("/")
    return parts_of[2] if len(parts_of) == 3 and parts_of[1] == "mix" and parts_of[2] else None


def title(context: PageContext, address: Address) -> str:
    """The page's title."""
    return f"Mix {words.short_name(find_sheet(context.store, str(address.values['id'])).name)}"


PAGE = DashPage(title, content, acts={START: _started}, callbacks=callbacks, keeps=True)
