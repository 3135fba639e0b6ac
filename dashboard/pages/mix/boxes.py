"""The boxes of a mix: amount, part and heat, how it is applied, why it is mixed anyway, the
cautions, what may be added later, and the start."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from dash import dcc, html

from curewatch.bench import reminders, spraying
from curewatch.durations import duration, rounding
from curewatch.formats import ReaderFormat
from curewatch.products.sheet import Sheet
from curewatch.wording import words
from dashboard.pages.mix.details import HEAT, HEAT_FOR
from dashboard.pages.mix.gate_answers import fills
from dashboard.pages.touches import KEPT, Form

NOW, WHY, CAUTIONS = "now", "mix-why", "mix-cautions"
BEFORE = "Before the clock starts"
_UNSAID: Any = {"aria-hidden": "true"}
CHECKING = html.P("Checking …", className="checking", **_UNSAID)
AGO = {"0": "just now", "3": "3 min ago", "5": "5 min ago", "10": "10 min ago"}
Values = Mapping[str, Any]


def _box(
    form: Form, name: str, label: str, values: Values, offered: Mapping[str, list[str]], **more: Any
) -> html.Div:
    """A box with what was entered last to choose from."""
    chips = [fills(form, {name: value}, value) for value in offered.get(name, ())]
    return _with_chips(form, name, label, values, chips, **more)


def _with_chips(
    form: Form, name: str, label: str, values: Values, chips: Sequence[Any], **more: Any
) -> html.Div:
    typed = form.box(name, label, values.get(name, ""), debounce=True, **more)
    return html.Div([typed, html.Div(chips, className="fills") if chips else None])


def _part(form: Form, values: Values, parts: Sequence[tuple[str, str]]) -> html.Div:
    """The box of the part; a touch on one that is known enters its job too."""
    names = Counter(part for part, _ in parts)
    chips = [
        fills(form, {"part": part, "job": job}, part if names[part] == 1 else f"{part}, {job}")
        for part, job in parts
    ]
    return _with_chips(form, "part", "Part", values, chips)


def amounts(
    form: Form,
    sheet: Sheet,
    values: Values,
    offered: Mapping[str, list[str]],
    parts: Sequence[tuple[str, str]],
    say: ReaderFormat,
) -> Any:
    """The boxes that the answer follows."""
    hardener = sheet.limits.hardener_pct
    warm = say.number(say.degrees(sheet.reference.temperature_c), 0)
    blocks = [_box(form, "amount", "Amount, g", values, offered)]
    if hardener:
        blocks.append(_box(form, "hardener", "Hardener, %", values, offered))
    blocks.append(_part(form, values, parts))
    heat = _box(form, HEAT, f"Panel warmed to, °{say.unit}", {}, {HEAT: [warm]})
    length = _box(form, HEAT_FOR, "for, h", {}, {}, placeholder="2")
    blocks.append(html.Div([heat, length], className="heating"))
    return html.Div(blocks, className="fields")


def _picked(form: Form, field: str, options: Mapping[str, str], value: str | None) -> Any:
    return dcc.RadioItems(
        id=form.id(field), options=dict(options), value=value, className="picks-one", **KEPT
    )


def applied(form: Form, sheet: Sheet) -> html.Fieldset | None:
    """How a product with isocyanate is applied."""
    if not spraying.sprayable(sheet):
        return None
    ways = {key: text.split(",")[0] for key, text in words.APPLIED.items()}
    title = html.Legend("Contains isocyanate: how do you apply it?")
    return html.Fieldset(
        [title, _picked(form, "applied", ways, None), form.wrong("applied")], className="choices"
    )


def why(form: Form, reasons_shown: tuple[bool, bool]) -> html.Details:
    """Why it is mixed all the same: open where that is needed, folded where it may be said.
    reasons_shown: whether it is open, and whether it is hidden."""
    reasons = {reason: reason for reason in words.WHY}
    title = html.Legend("Mixing anyway because", className="unseen")
    other = form.box("why_else", "or, in your words", maxLength=300)
    fieldset = html.Fieldset(
        [title, _picked(form, "why", reasons, None), other], className="choices"
    )
    opened, hidden = reasons_shown
    summary = html.Summary("Mixing anyway because")
    return html.Details([summary, fieldset, form.wrong("why")], id=WHY, open=opened, hidden=hidden)


def _heads(sheet: Sheet) -> dict[str, str]:
    """The product's cautions in a few words each, by their keys."""
    keys = [caution.key for caution in reminders.cautions(sheet)]
    return {key: words.REMIND.get(key, key) for key in keys}


def before(sheet: Sheet) -> html.P | None:
    """What the cautions ask for, in a line that is seen before all else is read."""
    heads = [head[:1].lower() + head[1:] for head in _heads(sheet).values()]
    way = html.A(BEFORE, href=f"#{CAUTIONS}")
    return html.P([way, ": ", "; ".join(heads), "."], className="before") if heads else None


def cautions_box(form: Form, sheet: Sheet) -> html.Section | None:
    """The usual cautions, right over the start; each is ticked or asked again on the bench."""
    cautions, heads = reminders.cautions(sheet), _heads(sheet)
    if not cautions:
        return None
    options = [
        {"value": caution.key, "label": html.Span([html.B(heads[caution.key]), " ", caution.words])}
        for caution in cautions
    ]
    ticks = dcc.Checklist(id=form.id("acknowledged"), options=options, value=[],
                          className="picks-many cautions", **KEPT)  # fmt: skip
    title = html.Summary("Where these come from")
    sources = html.Details(
        [title, *[html.Small([html.B(f"{heads[e.key]}: "), e.source]) for e in cautions]],
        className="source sources",
    )  # fmt: skip
    return html.Section([html.H2(BEFORE), ticks, sources], id=CAUTIONS)


def more(form: Form, values: Values, offered: Mapping[str, list[str]], in_use: str) -> html.Details:
    """What may be added later; in_use: the batches of the can in use."""
    blocks = [
        _box(form, "job", "Job", values, offered),
        _box(form, "place", "Sensor at", {"place": values.get("place") or "panel"}, offered),
        _box(form, "batch", "Batch", values, offered, placeholder=in_use),
    ]
    title = html.Summary("Details (you can add them later)")
    return html.Details([title, html.Div(blocks, className="fields")])


def start(form: Form) -> html.Section:
    """When it was mixed, and the button that starts its clock."""
    title = html.Legend("Mixed")
    ago = html.Fieldset([title, _picked(form, "ago", AGO, "0")], className="choices")
    go = html.P([form.send("Mixed now", NOW)], className="buttons")
    return html.Section([ago, form.wrong("ago"), form.wrong(), go], className="starts")


def label_line(sheet: Sheet, say: ReaderFormat) -> str:
    """What the label says of its times, in one line."""
    times = ", ".join(
        f"{words.in_words(name)} {duration(minutes, rounding(name))}"
        for name, minutes in sheet.reference.minutes.items()
    )
    mixed = f"Mix {sheet.mix_ratio}. " if sheet.mix_ratio else ""
    return f"{mixed}By the label at {say.temperature(sheet.reference.temperature_c, 0)}: {times}."
