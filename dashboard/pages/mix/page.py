"""Mix: what was mixed lately to start again, and the products, one's own first. A row opens; only
a button that says so starts a clock."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from dash import Dash, dcc, html
from flask import request

from curewatch.bench.bench import Bench, Details
from curewatch.errors import StepError
from curewatch.formats import ReaderFormat
from curewatch.garage.shelf import shelf
from curewatch.garage.step import Step
from curewatch.garage.steps import steps
from curewatch.plan.recent_mixes import LOOKED_THROUGH, details_again, owned
from curewatch.products.sheet import Sheet
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.endpoints.mixed import begin
from dashboard.pages.components import link, on_search
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.shelf.page import first_time, fits, what_it_is
from dashboard.pages.touches import TouchOutcome, button
from dashboard.request.numbers import number_of

AGAIN, SEARCH, FOUND = "mix again", "mix-search", "mix-found"
MOST_AGAIN = 4


def last_mixes(bench: Bench) -> list[Step]:
    """The last step of each product on the shelf with the same part, the latest first."""
    sheets, by_product = shelf(bench.store), dict[tuple[str, str], Step]()
    for step in steps(bench.store, most=LOOKED_THROUGH):
        if step.sheet.id in sheets:
            by_product.setdefault((step.sheet.id, step.part), step)
    return list(by_product.values())[:MOST_AGAIN]


def again_details(bench: Bench, step: Step) -> Details:
    """What the same mix again is: all that was entered of the last."""
    return details_again(bench, step).but(part=step.part or None)


def _again(step: Step, say: ReaderFormat) -> html.Li:
    text = words.mixed_details(say, step.sheet.name, step.amount_g, step.hardener_pct)
    name = words.part_of(step.part, step.sheet.name)
    attributes: dict[str, Any] = {"aria-label": f"Mixed again now: {name}, {text}"}
    start = button("Mixed again now", AGAIN, str(step.id), "go", **attributes)
    way = html.A([html.B(name), html.Span(text)], href=f"/mix/{step.sheet.id}")
    return html.Li([way, start])


def _row(sheet: Sheet, say: ReaderFormat) -> html.Li:
    text = f"{what_it_is(sheet)}; {first_time(sheet, say)}"
    lines = [html.B(words.short_name(sheet.name)), html.Span(text)]
    return html.Li(html.A(lines, href=f"/mix/{sheet.id}", className="row"))


def _rows(sheets: list[Sheet], say: ReaderFormat) -> html.Ul:
    return html.Ul([_row(sheet, say) for sheet in sheets], className="rows plain")


def products(context: PageContext, sought: str) -> list[Any]:
    """The products, those sought; one's own first, the generic ones folded."""
    say = context.manner(request)
    mine, generic = ([e for e in sheets if fits(e, sought)] for sheets in owned(context.bench))
    if not mine and not generic:
        return [html.P(["No product like that. ", link("New product", "/shelf/new")])]
    title = html.Summary(f"Generic products, {len(generic)}")
    more = html.Details([title, _rows(generic, say)], open=bool(sought) or not mine)
    return [_rows(mine, say), more if generic else None]


def content(context: PageContext, _address: Address, _first: bool) -> list[Any]:
    """The whole page."""
    say, lately = context.manner(request), last_mixes(context.bench)
    repeats = [
        html.H2("Mixed lately"),
        html.Ul([_again(step, say) for step in lately], className="lately plain"),
        html.P("For a mix in hand: its clock starts at once, and you can undo it. Safety reminders "
               "follow on the bench.", className="hint"),
    ]  # fmt: skip
    box = dcc.Input(id=SEARCH, type="search", debounce=0.25, maxLength=80, autoComplete="off")
    return [
        html.H1("Mix"),
        html.Section(repeats) if lately else None,
        html.Section(
            [
                html.H2("Pick the product"),
                html.Label(["Search", box], className="search"),
                html.Div(products(context, ""), id=FOUND),
            ]
        ),
        html.P(link("New product", "/shelf/new"), className="buttons"),
    ]


def _mixed_again(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    """Start the same mix again, its clock at once."""
    now, number = context.clock(), number_of(key)
    step = next((mixe for mixe in last_mixes(context.bench) if mixe.id == number), None)
    if step is None:
        raise StepError("that was not mixed lately", fix="open the product instead")
    begin(context, step.sheet.id, again_details(context.bench, step), now, now)
    return TouchOutcome(go="/")


def callbacks(app: Dash, context: PageContext) -> None:
    """Put the search on the app."""
    on_search(app, SEARCH, FOUND, partial(products, context))


PAGE = DashPage("Mix", content, acts={AGAIN: _mixed_again}, callbacks=callbacks)
