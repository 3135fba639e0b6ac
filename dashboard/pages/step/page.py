"""A step: its ribbon and conditions in one figure, three actions, everything entered as chips."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from dash import html
from flask import request

from curewatch.bench import marks
from curewatch.formats import ReaderFormat
from curewatch.garage.damaged import of_steps
from curewatch.garage.shelf import shelf
from curewatch.garage.step import Step
from curewatch.notice_words import sentence, sentences
from curewatch.plan.next_action import asked_next, waiting
from curewatch.plan.sentences import waiting_words
from curewatch.vocabulary import STEP_STATES
from curewatch.wording import air_words, sensor_words, step_words, words
from dashboard.context.page_context import PageContext
from dashboard.endpoints import damaged
from dashboard.figures.air import styles
from dashboard.figures.ribbons.step_figure import figure
from dashboard.pages.air.periods import Period
from dashboard.pages.components import chart, choices, damaged_entries, first_up, link, links
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.step import data
from dashboard.pages.step.actions import actions, turned
from dashboard.pages.step.acts import ACTS
from dashboard.pages.step.chips import chips, unexplained
from dashboard.pages.step.data import StepPage
from dashboard.pages.step.folded import folded, photographs

_FIGURE = "The step and its conditions"


def _lead(page: StepPage, say: ReaderFormat) -> html.P:
    step = page.step
    made = words.mixed_details(say, step.sheet.name, step.amount_g, step.hardener_pct)
    late = words.entered_late(step.mixed_at, step.recorded_at)
    mixed = f"{made}, mixed {say.moment(step.mixed_at, page.now)}"
    mixed += f", for {step.job}" if step.job else ""
    mixed += f" ({late})" if late else ""
    state = "" if step.state == "hardening" else STEP_STATES[step.state]
    return html.P([f"{mixed}. ", html.B(state)], className="lead")


def _next(page: StepPage, say: ReaderFormat) -> html.P | None:
    """What the step waits for, and from when to test it."""
    waited = asked_next(page.view, page.now) if page.view.state == "hardening" else None
    if waited is None:
        return None
    text = waiting_words(waiting(waited, page.now), page.now, say)
    return html.P(html.B(first_up(text)), className="lead next")


def _nearby(context: PageContext, step: Step) -> html.P:
    pairs = [("History and undo", f"/step/{step.id}/history")]
    if before := data.earlier(context, step):
        pairs.append(
            ("Compare with the one before", f"/log/compare?steps={before}.{step.id}&by=age")
        )
    pairs.append(("Track record", f"/log/product/{step.sheet.id}"))
    if step.part:
        pairs.append(("Part", f"/parts?{urlencode({'part': step.part, 'job': step.job})}"))
    if step.job:
        pairs.append(("Job", f"/logbook?{urlencode({'job': step.job})}"))
    return links(pairs)


def _moves(shown: Period, path: str) -> html.Nav:
    ways = (
        ("Earlier", shown.moved(path, -0.5)),
        ("Later", shown.moved(path, 0.5)),
        ("Closer", shown.moved(path, 0, 0.5)),
        ("Wider", shown.moved(path, 0, 2)),
    )
    stretches = [link(text, address) for text, address in ways]
    stretches.insert(0, link("Whole step", path, here=shown.name == "whole"))
    return choices("Move the stretch", stretches)


def _key(page: StepPage, history: Any) -> html.Ul:
    """The lines of the figure, and the signs of its marks."""
    kinds = {mark.kind for mark in page.record.step.happened}
    lines = [
        html.Li([html.I(className=f"line {colour} {dash}"),
                 air_words.name(course.place, course.quantity)])
        for course, colour, dash in styles(history.courses)
    ]  # fmt: skip
    if not page.step.closed_at:
        lines.append(html.Li([html.I(className="line ahead dash"), air_words.FORECAST]))
    signs = step_words.signs(page.step, kinds)
    lines += [html.Li([html.I(className=f"sign {kind}"), text]) for kind, text in signs]
    return html.Ul(lines, className="key marks")


def _why(page: StepPage, say: ReaderFormat) -> list[Any]:
    """Why its times are what they are."""
    view = page.view
    components: list[Any] = [html.P(first_up(sentences(view.forecast.reason, say)))]
    if view.forecast.led and not page.step.closed_at:
        components.append(html.P(words.leading_source(view.forecast.led)))
    notes = [sensor_words.lost(outage, say, page.now) for outage in view.lost]
    notes += [sentence(warning, say) for warning in view.warnings]
    components += [html.P(first_up(note), className="note") for note in notes]
    return components


def content(context: PageContext, address: Address, first: bool) -> list[Any]:
    """The whole page."""
    page = data.step_page(context, int(address.values["number"]))
    formatter = context.field_formatter(request)
    step, say = page.step, formatter.say
    shown = data.period(page, address.query)
    history = data.history(context, page, shown)
    drawing: Any = {}  # drawn by a script, which comes later
    if not first:
        drawing = figure(data.step_drawing(context, page), history, data.drawing(context, page))
    now_sheet = shelf(context.store).get(step.sheet.id)
    changed = now_sheet is not None and now_sheet.text != step.sheet.text
    solvent = marks.gone_at(context.bench, step, page.now)
    return [
        html.Div([html.H1(words.part_of(step.part, step.sheet.name)), _nearby(context, step)],
                 className="head"),
        _lead(page, say),
        _next(page, say),
        html.Div(damaged_entries(damaged.in_words(context, of_steps(context.store, [step.id])))),
        unexplained(page),
        turned(page),
        actions(page),
        html.Div([_moves(shown, address.path)], className="choice"),
        chart("step-figure", drawing, _FIGURE, "step-history", zooms=True),
        _key(page, history),
        html.Div(_why(page, say), className="why-so"),
        html.Div(chips(context, page, formatter, changed, solvent)),
        html.Div([html.P(note, className="note") for note in step.notes]),
        photographs(page, say),
        html.Div(list(folded(context, page, formatter, changed)), className="folds"),
    ]  # fmt: skip


def _title(context: PageContext, address: Address) -> str:
    step = context.bench.step(int(address.values["number"]))
    return words.part_of(step.part, step.sheet.name)


PAGE = DashPage(_title, content, acts=ACTS, under="/logbook")
