"""A product's page: its time against the temperature first, then cans, label, limits, contents."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from urllib.parse import parse_qs

import tomlkit
from dash import html
from flask import request

from curewatch.formats import ReaderFormat
from curewatch.garage.shelf import add_sheet, find_sheet, remove_sheet
from curewatch.notice_words import sentence
from curewatch.plan.by_temperature import ByTemperature, by_temperature, milestones_of
from curewatch.products.label import doubtful
from curewatch.products.sheet import Sheet
from curewatch.wording import product_words, words
from dashboard.context.page_context import PageContext
from dashboard.figures.by_temperature import ProductDrawing, colour, figure
from dashboard.pages.components import chart, choices, link
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.shelf import cans, label_photograph
from dashboard.pages.shelf.label_lines import chemistry, contains, limits, times_table
from dashboard.pages.shelf.page import what_it_is
from dashboard.pages.touches import TouchOutcome, button
from dashboard.request.device import screen_of

REMOVE, MAKE_MINE = "remove product", "make product mine"
FIGURE = "product-figure"
GENERIC = " (generic)"


def chosen_time(sheet: Sheet, query: str) -> str:
    """The milestone that an address shows: the one it names, else the working time."""
    names = milestones_of(sheet)
    text = parse_qs(query).get("time", [""])[0]
    usual = "working_time" if "working_time" in names else names[0]
    return text if text in names else usual


def _choices(sheet: Sheet, shown: str) -> html.Nav:
    ways = [
        link(product_words.choice(name), f"/shelf/{sheet.id}?time={name}", here=name == shown)
        for name in milestones_of(sheet)
    ]
    return choices("Which time", ways)


def _key(curve: ByTemperature, say: ReaderFormat) -> html.Ul:
    """What each line and mark is, with a piece of it."""
    lines = [("likely, 9 in 10 within the band", f"line of-{colour(curve.milestone)}")]
    lines.append(("the label", "mark diamond"))
    if curve.batches:
        lines.append(("your batches; the line goes back to the last “not yet”", "mark batch"))
    if curve.surface_c is not None:
        lines.append((f"surface now, {say.temperature(curve.surface_c)}", "line upright"))
    lines.append((product_words.too_cold(curve, say), "patch too-cold"))
    items = [html.Li([html.I(className=kind), text]) for text, kind in lines]
    return html.Ul(items, className="key")


def _picture(context: PageContext, sheet: Sheet, milestone: str, first: bool) -> list[Any]:
    now, say = context.clock(), context.manner(request)
    curve = by_temperature(context.bench, sheet, milestone, now)
    drawn = ProductDrawing(now, say, screen_of(request))
    label = f"{words.in_words(milestone).capitalize()} against temperature"
    return [
        html.P(product_words.now_sentence(curve, say), className="lead"),
        _choices(sheet, milestone),
        chart(FIGURE, {} if first else figure(curve, drawn), label, "by-temperature"),
        _key(curve, say),
    ]


def _buttons(sheet: Sheet, own: bool) -> html.P:
    mine = (
        button("Remove", REMOVE, sheet.id) if own else button("Make it mine", MAKE_MINE, sheet.id)
    )
    edit = link("Edit", f"/shelf/{sheet.id}/edit")
    track = link("Predicted and actual", f"/log/product/{sheet.id}")
    go = html.A("Mix this", href=f"/mix/{sheet.id}", className="button go")
    return html.P([go, mine, edit, track], className="buttons")


def _lead(sheet: Sheet, own: bool) -> html.P:
    mixed = f", mixed {sheet.mix_ratio}" if sheet.mix_ratio else ""
    whose = "Your own." if own else "Generic: make it yours, and check it against your label."
    return html.P(f"{what_it_is(sheet).capitalize()}{mixed}. {whose}", className="lead")


def _cans(
    context: PageContext, sheet: Sheet, query: str, now: datetime, say: ReaderFormat
) -> html.Section:
    kept = cans.kept_cans(context, sheet.id)
    text = parse_qs(query).get("can", [""])[0]
    chosen = next((can.can for can in kept if str(can.can.id) == text), None)
    components: list[Any] = [html.H2("Cans")]
    if kept:
        components.append(cans.cans_table(kept, now, say, of_one=True))
    if chosen:
        components.append(cans.correct_form(chosen))
    else:
        title = html.Summary("Add a can")
        components.append(html.Details([title, cans.new_form(sheet.id)], open=not kept))
    return html.Section(components)


def content(context: PageContext, address: Address, first: bool) -> list[Any]:
    """The whole page. Raises StepError where there is no such product."""
    now, say = context.clock(), context.manner(request)
    sheet = find_sheet(context.store, str(address.values["id"]))
    own = sheet.id in context.store.sheets()
    doubts = [html.P(f"Check the figures. {doubt}.", className="problem") for doubt in
              doubts_of(sheet, say)]  # fmt: skip
    text = html.Details([html.Summary("Its file"), html.Pre(sheet.text, tabIndex=0)])
    return [
        html.Div([html.H1(words.short_name(sheet.name)), _buttons(sheet, own)], className="head"),
        _lead(sheet, own),
        *doubts,
        html.Section(_picture(context, sheet, chosen_time(sheet, address.query), first)),
        _cans(context, sheet, address.query, now, say),
        label_photograph.section(context, sheet),
        html.Section([html.H2("Times"), times_table(sheet, say)]),
        html.Div([limits(sheet, say), contains(sheet, say, own=own)], className="beside"),
        chemistry(sheet, own=own),
        text,
    ]


def doubts_of(sheet: Sheet, say: ReaderFormat) -> list[str]:
    """What is doubtful about the label's figures, in words."""
    return [sentence(notice, say) for notice in doubtful(sheet)]


def _mine(text: str) -> str:
    """A generic label as a product of one's own: what it denies of the usual product is not
    denied of this one."""
    document = tomlkit.parse(text)
    document["name"] = str(document["name"]).removesuffix(GENERIC)
    hazards: Any = document.get("hazards", {})
    for name in [name for name, value in hazards.items() if value is False]:
        del hazards[name]
    return tomlkit.dumps(document)


def _make_mine(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    sheet = find_sheet(context.store, key)
    if key not in context.store.sheets():
        add_sheet(context.store, key, _mine(sheet.text), context.clock())
    return TouchOutcome("It is yours. Now check each figure against your label.")


def _remove(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    name = remove_sheet(context.store, key, context.clock())
    left = " ".join(product_words.left_behind(context.store, key))
    return TouchOutcome(f"{name} is removed. {left}".strip(), go="/shelf")


def title(context: PageContext, address: Address) -> str:
    """The page's title."""
    return words.short_name(find_sheet(context.store, str(address.values["id"])).name)


PAGE = DashPage(
    title,
    content,
    acts={**cans.ACTS, **label_photograph.ACTS, REMOVE: _remove, MAKE_MINE: _make_mine},
)
