"""The shelf: the sheets at hand, one sheet read, one added or changed in a form."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import tomlkit
from flask import Flask, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.errors import SheetError
from curewatch.events.events import SHEET
from curewatch.garage.shelf import add_sheet, find_sheet, new_id, shelf
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.hardener import fixed_words
from curewatch.products.hazards import HAZARDS, assumed_words
from curewatch.products.label import ColdRowError, doubtful
from curewatch.products.sheet import KINDS, Sheet
from curewatch.units import format_duration, format_film
from curewatch.vocabulary import MILESTONES
from curewatch.wording import words
from dashboard import cans, contents, damaged
from dashboard.hall import Hall

ROWS = 4
TOP = ("name", "kind", "chemistry", "mix_ratio", "film")
ROW = ("temperature", "humidity", *MILESTONES, "pot_mass")
PAIRS = {"temperature": ("least", "most"), "hardener": ("least", "usual", "most")}
SINGLES = ("humidity_max", "dew_spread_min", "bare_max", "peak_max")
LIVES = ("shelf_life", "opened_life")
Fields = Mapping[str, str]
NOT_TICKED = (
    "Not saved yet: a product of this chemistry can contain what you left unticked. Does it?"
)


def _filled(fields: Fields, names: tuple[str, ...], before: str = "") -> dict[str, str]:
    found = {name: fields.get(before + name, "").strip() for name in names}
    return {name: value for name, value in found.items() if value}


def _ends(fields: Fields, table: str, name: str) -> dict[str, Any]:
    values = [fields.get(f"{table}.{name}.{end}", "").strip() for end in PAIRS[name]]
    return {name: values} if any(values) else {}


def _limits(fields: Fields) -> dict[str, Any]:
    held: dict[str, Any] = dict(_filled(fields, SINGLES, "limits."))
    for name in PAIRS:
        held |= _ends(fields, "limits", name)
    return held


def _storage(fields: Fields) -> dict[str, Any]:
    return _ends(fields, "storage", "temperature") | _filled(fields, LIVES, "storage.")


def _mix(fields: Fields) -> dict[str, Any]:
    held: dict[str, Any] = dict(_filled(fields, ("density",), "mix."))
    parts = [each.strip() for each in fields.get("mix.densities", "").split(";")]
    return held | ({"densities": parts} if any(parts) else {})


def _rows(fields: Fields) -> int:
    """How many columns of times the form has."""
    numbers = [int(found[1]) for name in fields if (found := re.match(r"times\.(\d{1,3})\.", name))]
    return max([ROWS - 1, *numbers]) + 1


def to_toml(fields: Fields) -> str:
    """A sheet's TOML from the form's fields; what was left empty is left out."""
    document: dict[str, Any] = dict(_filled(fields, TOP))
    if fields.get("colder_is_faster") == "on":
        document["colder_is_faster"] = True
    rows = [_filled(fields, ROW, f"times.{number}.") for number in range(_rows(fields))]
    document["times"] = [row for row in rows if row]
    tables = {"mix": _mix, "limits": _limits, "storage": _storage, "hazards": contents.to_table}
    for name, read in tables.items():
        if table := read(fields):
            document[name] = table
    document["source"] = {"note": fields.get("note", "").strip()}
    return tomlkit.dumps(document)


def _row_fields(sheet: Sheet) -> dict[str, str]:
    held = {}
    for number, row in enumerate(sheet.times):
        at = f"times.{number}."
        held[at + "temperature"] = f"{row.temperature_c:g} C"
        if row.humidity_pct is not None:
            held[at + "humidity"] = f"{row.humidity_pct:g} %"
        if row.pot_mass_g is not None:
            held[at + "pot_mass"] = f"{row.pot_mass_g:g} g"
        held |= {at + name: format_duration(value) for name, value in row.minutes.items()}
    return held


def _limit_fields(sheet: Sheet) -> dict[str, str]:
    limits, held = sheet.limits, dict[str, str]()
    if limits.humidity_max_pct is not None:
        held["limits.humidity_max"] = f"{limits.humidity_max_pct:g} %"
    if limits.dew_spread_min_c is not None:
        held["limits.dew_spread_min"] = f"{limits.dew_spread_min_c:g} C"
    if limits.bare_max_min is not None:
        held["limits.bare_max"] = format_duration(limits.bare_max_min)
    if limits.peak_max_c is not None:
        held["limits.peak_max"] = f"{limits.peak_max_c:g} C"
    for end, value in zip(PAIRS["temperature"], limits.temperature_c or (), strict=False):
        held[f"limits.temperature.{end}"] = f"{value:g} C"
    for end, value in zip(PAIRS["hardener"], limits.hardener_pct or (), strict=False):
        held[f"limits.hardener.{end}"] = f"{value:g} %"
    return held


def _storage_fields(sheet: Sheet) -> dict[str, str]:
    storage = sheet.storage
    held = {
        f"storage.{name}": str(life)
        for name in LIVES
        if (life := getattr(storage, name)) is not None
    }
    for end, value in zip(PAIRS["temperature"], storage.temperature_c or (), strict=False):
        held[f"storage.temperature.{end}"] = f"{value:g} C"
    return held


def _mix_fields(sheet: Sheet) -> dict[str, str]:
    held = {}
    if sheet.density_g_ml is not None:
        held["mix.density"] = f"{sheet.density_g_ml:g} g/ml"
    if sheet.densities_g_ml:
        held["mix.densities"] = "; ".join(f"{each:g} g/ml" for each in sheet.densities_g_ml)
    return held


def to_fields(sheet: Sheet, own: bool = True) -> dict[str, str]:
    """The form's fields from a sheet."""
    held = {name: str(getattr(sheet, name)) for name in TOP[:4]}
    held["film"] = format_film(sheet.film_um) if sheet.film_um else ""
    held["note"] = sheet.source_note
    held |= {"colder_is_faster": "on"} if sheet.colder_is_faster else {}
    held |= contents.to_fields(sheet, own)
    tables = (_row_fields, _limit_fields, _storage_fields, _mix_fields)
    return held | {key: value for read in tables for key, value in read(sheet).items()}


def _form(fields: Fields, action: str, title: str, error: str = "") -> str:
    return render_template(
        "sheet_form.html",
        fields=fields,
        action=action,
        title=title,
        error=error,
        rows=range(_rows(fields)),
        milestones=MILESTONES,
        kinds=KINDS,
        chemistries=tuple(CHEMISTRIES.values()),
        hazards=tuple(HAZARDS),
        questions=contents.questions(fields),
    )


def _keep(hall: Hall, id: str, action: str, title: str) -> AnyResponse | tuple[str, int]:
    fields = request.form.to_dict()
    if contents.unanswered(fields):
        return _form(fields, action, title, NOT_TICKED), 409
    try:
        add_sheet(hall.store, id, to_toml(fields), hall.clock())
    except ColdRowError as error:
        return _form(fields, action, title, f"{error.what}; {words.COLD_ROW}."), 400
    except SheetError as error:
        return _form(fields, action, title, str(error)), 400
    return redirect(f"/shelf/{id}", 303)


def register(app: Flask, hall: Hall) -> None:
    """Put the shelf and its cans on the app."""
    cans.register(app, hall)

    @app.get("/shelf")
    def shelf_page() -> str:
        sheets = sorted(shelf(hall.store).values(), key=lambda sheet: (sheet.kind, sheet.name))
        held = cans.shown(hall)
        broken = damaged.things(hall, "can", SHEET)
        return render_template(
            "shelf.html", damaged=broken, sheets=sheets, own=set(hall.store.sheets()), **held
        )

    @app.get("/shelf/new")
    def new_sheet() -> str:
        chemistry = "polyester-peroxide"
        empty = {"kind": "filler", "chemistry": chemistry} | contents.by_chemistry(chemistry)
        return _form(empty, "/shelf/new", "A new sheet")

    @app.post("/shelf/new")
    def keep_new() -> AnyResponse | tuple[str, int]:
        id = new_id(hall.store, request.form.get("name", ""))
        return _keep(hall, id, "/shelf/new", "A new sheet")

    @app.get("/shelf/<id>")
    def sheet_page(id: str) -> str:
        sheet = find_sheet(hall.store, id)
        about = CHEMISTRIES[sheet.chemistry]
        own = id in hall.store.sheets()
        held = cans.shown(hall, id)
        return render_template(
            "sheet.html",
            sheet=sheet,
            about=about,
            own=own,
            doubts=doubtful(sheet),
            unsaid=assumed_words(sheet.hazards, sheet.chemistry),
            ratio=fixed_words(sheet),
            **held,
        )

    @app.get("/shelf/<id>/edit")
    def edit_sheet(id: str) -> str:
        sheet = find_sheet(hall.store, id)
        own = id in hall.store.sheets()
        return _form(to_fields(sheet, own), f"/shelf/{id}/edit", words.short(sheet.name))

    @app.post("/shelf/<id>/edit")
    def keep_sheet(id: str) -> AnyResponse | tuple[str, int]:
        sheet = find_sheet(hall.store, id)
        return _keep(hall, id, f"/shelf/{id}/edit", words.short(sheet.name))
