"""The boxes of a product as components: four that make it, its hazards, all else folded."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import dcc, html

from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.hazards import HAZARDS
from curewatch.products.sheet import KINDS, generic_sheets
from curewatch.wording import words
from dashboard.pages.components import first_up, scrolled
from dashboard.pages.shelf import contents
from dashboard.pages.shelf.label_fields import (
    BOXES,
    CHEMISTRY,
    FIRST_TEMPERATURE,
    FIRST_TIME,
    NAME,
    ROW_BOXES,
    LabelBox,
    box_of,
    count_rows,
)
from dashboard.pages.touches import Form

SAVE, WHAT, OTHER, ANYWAY = "save product", "what", "other", "colder_is_faster"
_LIMITS = tuple(name for name in BOXES if name.startswith("limits."))
_STORAGE = tuple(name for name in BOXES if name.startswith("storage."))
_MIX = ("mix_ratio", "film", "mix.density")
_DENIALS = {
    contents.NONE: "No, its safety data sheet says so",
    contents.KEEP: "Yes, or I cannot tell",
}


def usual_products() -> dict[str, str]:
    """What a product can be: kind and chemistry that go together, in words."""
    pairs = sorted({(sheet.kind, sheet.chemistry) for sheet in generic_sheets().values()})
    return {
        f"{kind}/{chemistry}": f"{words.KIND[kind].capitalize()}: {CHEMISTRIES[chemistry].words}"
        for kind, chemistry in pairs
    }


def _note(form: Form, field: str) -> html.P:
    """The place for what is said of a box that was read."""
    return html.P(id=form.id(field) | {"about": "note"}, className="hint", role="status")


def _words(box: LabelBox, unit: str) -> str:
    return box.words.format(unit)


def _box(form: Form, name: str, fields: Mapping[str, str], unit: str, label: str = "") -> html.Div:
    box = box_of(name)
    text = label or (_words(box, unit) if box else name)
    example = box.example if box else ""
    block = form.box(name, text, fields.get(name, ""), placeholder=example, debounce=True)
    return html.Div([block, _note(form, name)])


def _choice(
    form: Form, field: str, options: Mapping[str, str], value: str | None, title: str
) -> html.Fieldset:
    """One of a few answers, each a wide touch."""
    picked = dcc.RadioItems(
        id=form.id(field), options=dict(options), value=value, className="picks-one"
    )
    return html.Fieldset([html.Legend(title), picked, form.wrong(field)], className="choices")


def what(form: Form, fields: Mapping[str, str]) -> list[Any]:
    """What the product is: usual pairs of kind and chemistry, or each by itself."""
    pair = f"{fields.get('kind')}/{fields.get('chemistry')}"
    usual = usual_products()
    text = None if not fields.get("kind") else pair if pair in usual else OTHER
    kinds = {kind: words.KIND[kind].capitalize() for kind in KINDS}
    families = {name: family.words.capitalize() for name, family in CHEMISTRIES.items()}
    fieldsets = [
        _choice(form, "kind", kinds, fields.get("kind"), "Kind"),
        _choice(form, "chemistry", families, fields.get("chemistry"), "Chemistry"),
    ]
    block = html.Div(fieldsets, id=form.id("pair") | {"about": "other"}, hidden=text != OTHER)
    return [_choice(form, WHAT, usual | {OTHER: "Something else"}, text, "What is it?"), block]


def four(form: Form, fields: Mapping[str, str], unit: str) -> html.Section:
    """The four boxes that make a product."""
    boxes = [
        _box(form, NAME, fields, unit, "Name, as on the label"),
        _box(form, FIRST_TIME, fields, unit, "Working time, min"),
        _box(form, FIRST_TEMPERATURE, fields, unit, f"At temperature, °{unit}"),
    ]
    hint = html.P("A range like “4-6 min” is fine.", className="hint")
    return html.Section([html.Div(boxes, className="fields four"), hint, *what(form, fields)])


def questions(form: Form, fields: Mapping[str, str]) -> list[Any]:
    """What is asked of a hazard that was unticked."""
    return [
        _choice(
            form,
            f"denied.{name}",
            _DENIALS,
            fields.get(f"denied.{name}"),
            f"{first_up(HAZARDS[name].split(' (')[0])}?",
        )
        for name in contents.questions(fields)
    ]


def contains_box(form: Form, fields: Mapping[str, str]) -> html.Section:
    """What it contains, ticked by its chemistry, with the questions about what is unticked."""
    ticked = [name for name in HAZARDS if fields.get(f"hazards.{name}") == "on"]
    options = {name: first_up(text) for name, text in HAZARDS.items()}
    ticks = dcc.Checklist(id=form.id("hazards"), options=options, value=ticked,
                          className="picks-many")  # fmt: skip
    hint = (
        "Picking what it is ticks what its chemistry can contain. Untick only what the safety data "
        "sheet says it does not contain."
    )
    block = html.Div(questions(form, fields), id=form.id("hazards") | {"about": "questions"})
    fieldset = html.Fieldset([html.Legend("Contains"), html.P(hint, className="hint"), ticks])
    family = dcc.Store(id=form.id("hazards") | {"about": "family"}, data=fields.get(CHEMISTRY, ""))
    return html.Section([fieldset, block, family])


def _solvent(form: Form, fields: Mapping[str, str]) -> html.Details:
    boxes = [
        form.box("solvent.name", "Solvent", fields.get("solvent.name", "")),
        form.box("solvent.g_per_l", "Solvent, g/l", fields.get("solvent.g_per_l", "")),
    ]
    return html.Details([html.Summary("Solvent"), html.Div(boxes, className="fields")])


def _cell(form: Form, number: int, key: str, fields: Mapping[str, str]) -> Any:
    """A cell of the times; the two of the first column that stand above are not asked twice."""
    name = f"times.{number}.{key}"
    if name in (FIRST_TIME, FIRST_TEMPERATURE):
        return html.Span("as above", className="hint")
    box = ROW_BOXES[key]
    typed = dcc.Input(
        id=form.id(name), value=fields.get(name, ""), type="text", autoComplete="off",
        maxLength=60, placeholder=box.example if not number else "", debounce=True,
    )  # fmt: skip
    label = html.Span(f"column {number + 1}", className="unseen")
    return [html.Label([label, typed]), form.wrong(name), _note(form, name)]


def _times(form: Form, fields: Mapping[str, str], unit: str) -> html.Details:
    """All times of the label, a column for each of its temperatures."""
    numbers = range(count_rows(fields))
    rows = [
        html.Tr(
            [
                html.Th(_words(box, unit), scope="row"),
                *(html.Td(_cell(form, number, key, fields)) for number in numbers),
            ]
        )
        for key, box in ROW_BOXES.items()
    ]
    grid = html.Table(html.Tbody(rows), className="times")
    faster = dcc.Checklist(
        id=form.id(ANYWAY),
        options={"on": "The label really gives a shorter time in the cold"},
        value=["on"] if fields.get(ANYWAY) == "on" else [],
        className="picks-many",
    )
    title = html.Summary("Other times, other temperatures")
    return html.Details([title, scrolled(grid, "Times on the label"), faster, form.wrong(ANYWAY)])


def _folded(
    form: Form, title: str, names: tuple[str, ...], fields: Mapping[str, str], unit: str
) -> html.Details:
    block = html.Div([_box(form, name, fields, unit) for name in names], className="fields")
    return html.Details([html.Summary(title), block])


def more(form: Form, fields: Mapping[str, str], unit: str) -> list[Any]:
    """What else a label can say."""
    parts = form.box("mix.densities", "Densities of the parts", fields.get("mix.densities", ""),
                     placeholder="1.2 g/ml; 0.97 g/ml")  # fmt: skip
    source = form.box("note", "Where the figures come from", fields.get("note", ""),
                      placeholder="the label, 2024 tin")  # fmt: skip
    mixing = _folded(form, "Mixing and film", _MIX, fields, unit)
    return [
        _times(form, fields, unit),
        html.Details([*mixing.children, html.Div(parts, className="fields")]),
        _folded(form, "Limits", _LIMITS, fields, unit),
        _folded(form, "Storage", _STORAGE, fields, unit),
        _solvent(form, fields),
        html.Details([html.Summary("Source"), html.Div(source, className="fields")]),
    ]
