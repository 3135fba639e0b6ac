"""Everything entered of a step as chips: each opens where it stands, and is corrected there."""

from __future__ import annotations

from typing import Any

from dash import html

from curewatch.events.fields import FIELDS, MIXED_AT, Field
from curewatch.formats import ReaderFormat
from curewatch.garage.shelf import shelf
from curewatch.garage.step import Step
from curewatch.logbook.paper import NOT_TOLD, FieldFormatter
from curewatch.products.solvents import most_c
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.pages.step.data import StepPage
from dashboard.pages.touches import Form, button


def _chip(name: str, value: str, inside: list[Any]) -> html.Details:
    """A value that opens to be corrected; what is missing says so."""
    kind = "chip" if value else "chip empty"
    summary = html.Summary([html.Span(f"{name}:"), html.B(value or "add")])
    return html.Details([summary, html.Div(inside, className="inside")], className=kind)


def _reasons(form: Form) -> list[Any]:
    """Why it is corrected and who says so, where something stood before."""
    return [
        form.box("why", "Why it is corrected", maxLength=300),
        form.box("by", "Who says so", maxLength=60),
    ]


def _example(field: Field, step: Step) -> str:
    if field.name == "ratio" and step.sheet.mix_ratio:
        return step.sheet.mix_ratio
    return field.example


def _field(field: Field, step: Step, formatter: FieldFormatter) -> html.Details:
    value = step.value(field)
    text = "" if value is None or value == "" else formatter.field(field, value)
    text = "" if text == NOT_TOLD else text
    form = Form("step field", f"{step.id}/{field.name}")
    if field.choices:
        sends = [form.send(word, choice, None) for choice, word in field.choices.items()]
        inside: list[Any] = [html.Div(sends, className="buttons"), form.wrong("value")]
    else:
        mode = {"inputMode": "numeric"} if field.in_minutes else {}
        typed = "" if field.in_minutes else text
        example = _example(field, step)
        box = form.box("value", field.label, typed, placeholder=example, maxLength=400, **mode)
        inside = [box, *(_reasons(form) if text else []), form.send("Save")]
    return _chip(field.words.capitalize(), text, [*inside, form.wrong()])


def _mixed(step: Step, say: ReaderFormat, now: Any) -> html.Details:
    form = Form("step field", f"{step.id}/{MIXED_AT.name}")
    box = form.box("value", "Mixed, minutes ago", inputMode="numeric")
    inside = [box, *_reasons(form), form.send("Save"), form.wrong()]
    at = say.moment(step.mixed_at, now)
    return _chip("Mixed", at, inside)


def _product(context: PageContext, step: Step, changed: bool) -> html.Details:
    form = Form("step product", str(step.id))
    sheets = sorted(shelf(context.store).values(), key=lambda sheet: sheet.name)
    offered = [sheet for sheet in sheets if sheet.id != step.sheet.id or changed]
    sends = [
        form.send(
            f"{sheet.name}{', as it is now' if sheet.id == step.sheet.id else ''}", sheet.id, None
        )
        for sheet in offered
    ]
    inside = [*_reasons(form), html.Div(sends, className="offered"), form.wrong()]
    return _chip("Product", words.short_name(step.sheet.name), inside)


def _heat(step: Step, page: StepPage, say: ReaderFormat, solvent: Any) -> html.Details:
    form = Form("step heat", str(step.id))
    limit = f"At most {say.temperature(most_c(step.sheet), 0)} at the panel"
    limit += ". " if step.sheet.limits.temperature_c else " (the label gives no limit). "
    if solvent:
        until = f"{say.moment(solvent[1], page.now)} at the latest" if solvent[1] else ""
        until = until or "no time can be given"
        limit += f"No heat while solvent evaporates, until {words.in_words(solvent[0])}: {until}."
    spells = [
        html.Li(
            f"{say.moment(heat_spell.start, page.now)} to {say.moment(heat_spell.until, page.now)}"
            + (
                f", about {say.temperature(heat_spell.surface_c, 0)}"
                if heat_spell.surface_c
                else ""
            )
        )
        for heat_spell in step.heated
    ]
    inside = [
        html.P("A lamp, a mat, a tent: from when to when, and about how warm the metal is under "
               "it. curewatch switches nothing on. " + limit),
        html.Ul(spells) if spells else None,
        form.box("from", "From", placeholder="19:30"),
        form.box("until", "Until", placeholder="21:00"),
        form.box("surface", f"At the panel, °{say.unit}", inputMode="decimal"),
        form.box("place", "Its own sensor place", step.place, maxLength=60),
        form.box("why", "If against a limit: why", maxLength=300),
        form.send("Save"),
        form.wrong(),
        html.P(
            "If a probe on the metal at the step's own place reports during the heat, its "
            "readings count instead. An entry that overlaps an earlier one replaces it. A burner "
            "adds damp and carbon monoxide; never leave heat alone.",
            className="hint",
        ),
    ]  # fmt: skip
    count = len(step.heated)
    value = f"{count} {'spell' if count == 1 else 'spells'}" if count else ""
    return _chip("Heat", value, inside)


def _marks(step: Step) -> html.Details:
    form = Form("step mark", str(step.id))
    buttons = [
        form.send("Coat on", "coat", None),
        form.send("Clamps on", "clamps-on", None),
        form.send("Clamps off", "clamps-off", None),
    ]
    inside = [
        form.box("ago", "Minutes ago", "0", inputMode="numeric"),
        form.box("film", "Film of the coat, wet, measured", placeholder="120 um"),
        html.Div(buttons, className="buttons"),
        form.wrong(),
    ]
    marks = step.of("coated", "clamped", "unclamped")
    value = f"{len(marks)} entered" if marks else ""
    return _chip("Coats and clamps", value, inside)


def _note(step: Step) -> html.Details:
    form = Form("step note", str(step.id))
    box = form.box("text", "Note", maxLength=400)
    count = len(step.notes)
    value = f"{count} entered" if count else ""
    return _chip("Note", value, [box, form.send("Save note"), form.wrong()])


def chips(
    context: PageContext, page: StepPage, formatter: FieldFormatter, changed: bool, solvent: Any
) -> list[Any]:
    """All chips: what happens while it cures, what was entered, what is missing."""
    step, say = page.step, formatter.say
    shown = [
        field for field in FIELDS if field.name != "hardener_pct" or step.sheet.limits.hardener_pct
    ]
    filled = [field for field in shown if step.value(field) not in (None, "")]
    missing = [field for field in shown if field not in filled]
    first = [_note(step), _marks(step), _heat(step, page, say, solvent)]
    entered = [_product(context, step, changed), _mixed(step, say, page.now)]
    entered += [_field(field, step, formatter) for field in filled]
    others = [_field(field, step, formatter) for field in missing]
    return [
        html.Div([*first, *entered], className="chips"),
        html.Details(
            [html.Summary("Add what was not entered"), html.Div(others, className="chips")]
        )
        if others
        else None,
    ]


def unexplained(page: StepPage) -> html.Section | None:
    """Why it was mixed despite a stop, where nobody said so yet."""
    stops = page.view.unexplained
    if not stops:
        return None
    form = Form("step why", str(page.step.id))
    return html.Section(
        [
            html.H2("Mixed despite a stop: why?"),
            *(html.P(stop, className="note") for stop in stops),
            html.Div([form.send(text, text, None) for text in words.WHY], className="buttons"),
            html.Div(
                [form.box("why", "Or, in your words", maxLength=400), form.send("Save")],
                className="one-line",
            ),
            form.wrong(),
        ]
    )


def undo_button(step: Step, event: int, text: str, back: bool = False) -> html.Button:
    """Undo what recorded an event; or bring it back."""
    label = "Bring it back" if back else "Undo"
    attributes: dict[str, Any] = {"aria-label": f"{label}: {text}"}
    return button(label, "step undo", f"{step.id}/{event}", "small", **attributes)
