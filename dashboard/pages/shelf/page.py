"""The shelf: the user's products and cans first, the generic products under them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from dash import Dash, dcc, html
from flask import request

from curewatch.durations import duration, rounding
from curewatch.events.events import SHEET
from curewatch.formats import ReaderFormat
from curewatch.garage.cans import Can
from curewatch.garage.cans import cans as all_cans
from curewatch.plan.recent_mixes import owned
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.sheet import Sheet
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.endpoints import damaged
from dashboard.pages.components import damaged_entries, link, links, on_search, table
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.shelf.cans import cans_table, kept_cans

SEARCH, FOUND = "shelf-search", "shelf-found"
NEARBY = (("New product", "/shelf/new"), ("Entered last", "/undo"))
_HEAD = ("Product", "What it is", "By the label", "Cans")


def first_time(sheet: Sheet, say: ReaderFormat) -> str:
    """The first of its times as the label gives it."""
    row = sheet.reference
    name = next(
        milestone for milestone in ("working_time", *words.MILESTONES) if milestone in row.minutes
    )
    length = duration(row.minutes[name], rounding(name))
    return f"{words.in_words(name)} {length} at {say.temperature(row.temperature_c, 0)}"


def what_it_is(sheet: Sheet) -> str:
    """Its kind and chemistry in words."""
    return f"{words.KIND[sheet.kind]}, {CHEMISTRIES[sheet.chemistry].words}"


def _cans_of(sheet: Sheet, kept: Mapping[str, list[Can]]) -> str:
    count = sum(not can.used_up for can in kept.get(sheet.id, ()))
    return "" if not count else "1 can" if count == 1 else f"{count} cans"


def fits(sheet: Sheet, sought: str) -> bool:
    """Whether every word sought is in the product's name or in what it is."""
    text = f"{sheet.name} {what_it_is(sheet)} {sheet.id}".casefold()
    return all(word in text for word in sought.casefold().split())


def _table(sheets: list[Sheet], cans: Mapping[str, list[Can]], say: ReaderFormat, of: str) -> Any:
    rows = [
        [
            link(words.short_name(sheet.name), f"/shelf/{sheet.id}", button=False),
            what_it_is(sheet),
            first_time(sheet, say),
            _cans_of(sheet, cans),
        ]
        for sheet in sheets
    ]
    return table(_HEAD, rows, of)


def products(context: PageContext, sought: str) -> list[Any]:
    """The products, those sought; one's own first."""
    say, cans = context.manner(request), dict[str, list[Can]]()
    for can in all_cans(context.store):
        cans.setdefault(can.sheet_id, []).append(can)
    mine, generic = ([e for e in sheets if fits(e, sought)] for sheets in owned(context.bench))
    if not mine and not generic:
        return [html.P(["No product like that. ", link("New product", "/shelf/new")])]
    components: list[Any] = [html.H2("Your products"), _table(mine, cans, say, "Your products")]
    if not mine:
        teach = "None yet: copy a label, or open a generic product and make it yours."
        components = (
            [html.H2("Your products"), html.P(teach, className="teach")] if not sought else []
        )
    title = html.Summary(f"Generic products, {len(generic)}")
    more = html.Details(
        [title, _table(generic, cans, say, "Generic products")], open=bool(sought) or not mine
    )
    return [*components, more] if generic else components


def _cans(context: PageContext) -> list[Any]:
    kept, say = kept_cans(context), context.manner(request)
    if not kept:
        return []
    current = [can for can in kept if not can.can.used_up]
    over = [can for can in kept if can.can.used_up]
    components: list[Any] = [html.H2("Cans")]
    components += [cans_table(current, context.clock(), say)] if current else []
    if over:
        title = html.Summary(f"Used up, {len(over)}")
        components.append(html.Details([title, cans_table(over, context.clock(), say)]))
    return components


def content(context: PageContext, _address: Address, _first: bool) -> list[Any]:
    """The whole page."""
    box = dcc.Input(id=SEARCH, type="search", debounce=0.25, maxLength=80, autoComplete="off")
    broken = damaged.things(context, "can", SHEET)
    return [
        html.Div([html.H1("Shelf"), links(NEARBY)], className="head"),
        *damaged_entries(broken),
        html.Section(_cans(context)),
        html.Section([html.Label(["Search", box], className="search"),
                      html.Div(products(context, ""), id=FOUND, className="products")]),
    ]  # fmt: skip


def callbacks(app: Dash, context: PageContext) -> None:
    """Put the search on the app."""
    on_search(app, SEARCH, FOUND, partial(products, context))


PAGE = DashPage("Shelf", content, callbacks=callbacks)
