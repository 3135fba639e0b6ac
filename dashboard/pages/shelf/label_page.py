"""A new product in four boxes, and a product edited; what follows from one box for others."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from dash import ALL, MATCH, Dash, Input, Output, State, ctx, html
from flask import request

from curewatch.errors import CurewatchError, SheetError
from curewatch.garage.shelf import add_sheet, find_sheet, new_id
from curewatch.logbook.photographs import check_kept, name_label
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.hazards import HAZARDS
from curewatch.products.label import ColdRowError
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.pages.components import link
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.shelf import contents, label_photograph
from dashboard.pages.shelf.label_fields import (
    CHEMISTRY,
    KIND,
    NAME,
    ReadLabel,
    in_box,
    read,
    read_box,
    to_fields,
    to_toml,
    trouble,
)
from dashboard.pages.shelf.label_form import (
    ANYWAY,
    OTHER,
    SAVE,
    WHAT,
    contains_box,
    four,
    more,
    questions,
)
from dashboard.pages.touches import Form, TouchOutcome, WrongFields, at_field

NOT_TICKED = "A product of this chemistry can contain it. Does it?"


def _page(
    context: PageContext, title: str, id: str, fields: Mapping[str, str], back: str
) -> list[Any]:
    form, unit = Form(SAVE, id), context.manner(request).unit
    save = html.P([form.send("Save"), link("Cancel", back)], className="buttons")
    return [
        html.H1(title),
        four(form, fields, unit),
        contains_box(form, fields),
        None if id else label_photograph.to_come(form),
        html.H2("More from the label, if you like"),
        html.Div(more(form, fields, unit), className="folded"),
        form.wrong(),
        save,
    ]


def new_product(context: PageContext, _address: Address, _first: bool) -> list[Any]:
    """The page of a new product."""
    return _page(context, "New product", "", {}, "/shelf")


def edit_product(context: PageContext, address: Address, _first: bool) -> list[Any]:
    """The page that edits a product. Raises StepError where there is no such one."""
    sheet = find_sheet(context.store, str(address.values["id"]))
    unit = context.manner(request).unit
    written = to_fields(sheet, sheet.id in context.store.sheets())
    fields = {name: in_box(name, text, unit) for name, text in written.items()}
    return _page(
        context, f"Edit {words.short_name(sheet.name)}", sheet.id, fields, f"/shelf/{sheet.id}"
    )


def typed_fields(values: Mapping[str, Any]) -> dict[str, str]:
    """The boxes as they were typed, ticked and picked."""
    fields = {name: value.strip() for name, value in values.items() if isinstance(value, str)}
    what, _, chemistry = fields.pop(WHAT, "").partition("/")
    if chemistry:
        fields |= {KIND: what, CHEMISTRY: chemistry}
    fields |= {f"hazards.{name}": "on" for name in values.get("hazards") or ()}
    if values.get(ANYWAY):
        fields[ANYWAY] = "on"
    fields.pop("send", None)
    return fields


def _wrong_boxes(wrong: Mapping[str, str]) -> dict[str, str]:
    """What is wrong, at the box that stands for it on the page."""
    return {WHAT if name == KIND else name: text for name, text in wrong.items()}


def _checked(context: PageContext, typed: Mapping[str, str]) -> ReadLabel:
    """The boxes as the label takes them. Raises WrongFields."""
    label = read(typed, context.manner(request).unit)
    wrong = _wrong_boxes(label.wrong)
    wrong |= {f"denied.{name}": NOT_TICKED for name in contents.unanswered(typed)}
    if wrong:
        raise WrongFields(wrong)
    return label


def _photograph(context: PageContext, values: Mapping[str, Any]) -> str:
    """The photograph that waits to be kept with the product, by its name; '' where none does."""
    name = str(values.get(label_photograph.FIELD) or "")
    with at_field(label_photograph.FIELD):
        if name:
            check_kept(context.store.path, name)
    return name


def _save(context: PageContext, key: str, values: Mapping[str, Any]) -> TouchOutcome:
    """Save a product; key: its id, '' for a new one."""
    photograph = _photograph(context, values)
    label = _checked(context, typed_fields({**values, label_photograph.FIELD: None}))
    id = key or new_id(context.store, label.fields[NAME])
    try:
        sheet = add_sheet(context.store, id, to_toml(label.fields), context.clock())
    except ColdRowError as error:
        raise WrongFields({ANYWAY: f"{error.what}; {words.COLD_ROW}."}) from None
    except SheetError as error:
        raise WrongFields({"": trouble(error)}) from None
    if photograph:
        name_label(context.store, id, photograph, now=context.clock())
    used = [_used(name, note) for name, note in label.notes.items()]
    return TouchOutcome(" ".join([f"{sheet.name} is saved.", *used]), go=f"/shelf/{id}")


def _used(name: str, note: str) -> str:
    """What is used of a range, with the time it is of."""
    return f"{words.in_words(name.rpartition('.')[2]).capitalize()}: {note} of the range."


def _note_of(field: str, text: str | None, unit: str) -> str:
    """What is said of a box that was left, before anything is saved."""
    try:
        note = read_box(field, text or "", unit)[1]
    except CurewatchError:
        return ""
    return f"{note}." if note else ""


def _family(what: str | None, chemistry: str | None) -> str:
    return (what or "").partition("/")[2] or chemistry or ""


def reticked(ticked: list[str], before: str, now: str) -> list[str]:
    """The hazards ticked once the chemistry changed: those of the new one, and what a hand added
    to those of the one before."""
    hazards = CHEMISTRIES[before].can_contain if before in CHEMISTRIES else ()
    possible = CHEMISTRIES[now].can_contain if now in CHEMISTRIES else ()
    return [
        name for name in HAZARDS if name in possible or (name in ticked and name not in hazards)
    ]


def callbacks(app: Dash, context: PageContext) -> None:
    """Put what follows from one box for others on the app."""

    @app.callback(
        Output({"form": MATCH, "field": MATCH, "about": "note"}, "children"),
        Input({"form": MATCH, "field": MATCH}, "value"),
        prevent_initial_call=True,
    )
    def noted(text: Any) -> str:
        field = ctx.triggered_id["field"]
        return _note_of(field, text, context.manner(request).unit) if isinstance(text, str) else ""

    @app.callback(
        Output({"form": MATCH, "field": "hazards"}, "value", allow_duplicate=True),
        Output({"form": MATCH, "field": "pair", "about": "other"}, "hidden"),
        Output({"form": MATCH, "field": "hazards", "about": "family"}, "data"),
        Input({"form": MATCH, "field": WHAT}, "value"),
        Input({"form": MATCH, "field": CHEMISTRY}, "value"),
        State({"form": MATCH, "field": "hazards"}, "value"),
        State({"form": MATCH, "field": "hazards", "about": "family"}, "data"),
        prevent_initial_call=True,
    )
    def chosen(what: str | None, chemistry: str | None, ticked: Any, before: str) -> Any:
        family = _family(what, chemistry)
        return reticked(ticked or [], before, family), what != OTHER, family

    @app.callback(
        Output({"form": MATCH, "field": "hazards", "about": "questions"}, "children"),
        Input({"form": MATCH, "field": "hazards"}, "value"),
        Input({"form": MATCH, "field": "hazards", "about": "family"}, "data"),
        State({"form": MATCH, "field": ALL}, "value"),
        prevent_initial_call=True,
    )
    def ticked(_hazards: Any, family: str, _values: Any) -> list[Any]:
        values = {state["id"]["field"]: state.get("value") for state in ctx.states_list[0]}
        form = Form(*json.loads(ctx.states_list[0][0]["id"]["form"]))
        return questions(form, typed_fields(values) | {CHEMISTRY: family})


NEW = DashPage("New product", new_product, acts={SAVE: _save}, callbacks=callbacks)
EDIT = DashPage("Edit product", edit_product)
