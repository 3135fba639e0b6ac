"""Steps laid over each other in one figure over time or equivalent age, and as tables."""

from __future__ import annotations

from typing import Any
from urllib.parse import parse_qsl

from dash import html
from flask import request

from curewatch.errors import StepError
from curewatch.logbook.compare import Comparison, compare
from curewatch.logbook.courses import course
from curewatch.wording import log_words, words
from dashboard.context.page_context import PageContext
from dashboard.figures import overlay
from dashboard.pages.components import choices, figure_box, link, links, scrolled
from dashboard.pages.log.address import COMPARE, numbers_in
from dashboard.pages.routes import Address, DashPage
from dashboard.request.device import screen_of


def _numbers(query: str) -> tuple[tuple[int, ...], bool]:
    """The steps of an address, and whether they are laid over each other by their age."""
    fields = dict(parse_qsl(query))
    numbers = numbers_in(fields.get("steps", ""))
    if len(numbers) < 2:
        raise StepError("two steps or more are compared", fix="choose them in the log")
    return numbers, fields.get("by") == "age"


def _ways(numbers: tuple[int, ...], by_age: bool) -> html.Nav:
    steps = ".".join(map(str, numbers))
    ways = [
        link(text, f"{COMPARE}?steps={steps}&by={way}", here=(way == "age") == by_age)
        for way, text in log_words.BY.items()
    ]
    return choices("Laid over each other by", ways)


def _tables(comparison: Comparison, say: Any) -> list[Any]:
    heads = [
        html.Th(link(log_words.name(step), f"/step/{step.id}", button=False), scope="col")
        for step in comparison.steps
    ]
    groups: list[Any] = []
    for name, rows in comparison.groups:
        lines = [
            html.Tr(
                [html.Th(row.what, scope="row"), *map(html.Td, row.values)],
                className="differs" if row.differs else None,
            )
            for row in rows
        ]
        head = html.Thead(html.Tr([html.Th("what", scope="col"), *heads]))
        table = html.Table([head, html.Tbody(lines)], className="pair")
        folded = name != comparison.groups[0][0]
        groups += [_group(name, scrolled(table, name), folded)] if rows else []
    return groups


def _lines(comparison: Comparison) -> list[html.Li]:
    """The steps, each with its line of the figure."""
    return [
        html.Li([html.I(className=f"line {colour} {dash}"), log_words.name(step)])
        for step, (colour, dash) in zip(comparison.steps, overlay.LOOKS, strict=False)
    ]


def _key() -> list[html.Li]:
    return [html.Li([html.I(className=kind), text]) for kind, text in log_words.KEY]


def _group(name: str, box: html.Div, folded: bool) -> Any:
    """A table with its heading; all but the first are folded."""
    if folded:
        return html.Details([html.Summary(name), box])
    return html.Section([html.H2(name), box])


def _title(context: PageContext, address: Address) -> str:
    return f"Steps {', '.join(map(str, _numbers(address.query)[0]))}"


def content(context: PageContext, address: Address, first: bool) -> list[Any]:
    """The whole page at an address."""
    now, say = context.clock(), context.manner(request)
    numbers, by_age = _numbers(address.query)
    comparison = compare(context.bench, numbers, now, context.field_formatter(request))
    courses = [course(context.bench, step, now) for step in comparison.steps]
    drawn = overlay.figure(courses, by_age, say, screen_of(request))
    names = ", ".join(log_words.name(step) for step in comparison.steps)
    products = {step.sheet.name for step in comparison.steps}
    title = words.short_name(products.pop()) if len(products) == 1 else "Steps"
    return [
        html.Div([html.H1(f"{title}: {len(numbers)} steps"), links([("Log", "/logbook")])],
                 className="head"),
        _ways(numbers, by_age),
        figure_box("overlay", drawn, f"Steps {names} laid over each other"),
        html.P(log_words.AGE if by_age else log_words.TIME, className="hint"),
        html.Ul([*_lines(comparison), *_key()], className="key marks"),
        html.P("What differs is marked by a line at its left.", className="hint"),
        *_tables(comparison, say),
    ]  # fmt: skip


PAGE = DashPage(_title, content, under="/logbook")
