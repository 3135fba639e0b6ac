"""Everything ever entered for a step, in order, each with its undo."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from dash import html
from flask import request

from curewatch.logbook.history import Line, history
from curewatch.logbook.undo import undoable
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.pages.components import links
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.step.chips import undo_button

_LATE = timedelta(minutes=1)


def _line(line: Line, step: Any, opened: set[int], stamp: Any) -> html.Li:
    head: list[Any] = [html.B(stamp(line.told))]
    head += [html.Span(f" by {line.by}")] if line.by else []
    if abs(line.told - line.at) >= _LATE:
        head.append(html.Span(f" for {stamp(line.at)}", className="hint"))
    sentence: list[Any] = [html.Strong("Correction. ")] if line.correction else []
    sentence.append(line.words)
    sentence += [". ", html.Em(f"Reason: {line.why}")] if line.why else []
    undo = undo_button(step, line.number, line.words, line.undo) if line.number in opened else None
    clock = html.P(f"{line.clock.capitalize()}.", className="warn") if line.clock else None
    return html.Li(
        [*head, html.P(sentence), undo, clock], className="correction" if line.correction else None
    )


def content(context: PageContext, address: Address, first: bool) -> list[Any]:
    """The whole page."""
    number = int(address.values["number"])
    step, formatter = context.bench.step(number), context.field_formatter(request)
    opened = set(undoable(context.store, number))
    lines = history(context.store.events([number])[number], formatter)
    return [
        html.H1(f"History of step {number}: {words.part_of(step.part, step.sheet.name)}"),
        html.P(
            "Everything ever entered for it, in order. Nothing is rewritten: a correction stands "
            "beside what it corrects.",
            className="lead",
        ),
        links([("Back to the step", f"/step/{number}")]),
        html.Ol(
            [_line(line, step, opened, formatter.stamp) for line in lines], className="history"
        ),
    ]


def _title(context: PageContext, address: Address) -> str:
    return f"History of step {address.values['number']}"


PAGE = DashPage(_title, content, under="/logbook")
