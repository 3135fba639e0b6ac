"""The band on top of the bench: the one thing to do next, when, and what follows."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from dash import html

from curewatch.bench.views import BenchView, StepView
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.garage.step import Step
from curewatch.garage.unnamed_mix import UnnamedMix
from curewatch.wording import words
from dashboard.pages.bench.data import Next, Then, due_in_order, next_of, stalled, then_of, when_due
from dashboard.pages.components import countdown, counting_up, link
from dashboard.pages.touches import button

_LONG = 34


@frozen
class BandData:
    """What the band is made of: the view, what was touched and has no name yet, what was mixed
    last, whose cup may be empty; first: the server draws it before any script."""

    view: BenchView
    say: ReaderFormat
    waiting: UnnamedMix | None
    lately: Sequence[Step]
    tools: StepView | None
    first: bool


def _then(data: BandData, most: int) -> html.Div | None:
    later = then_of(data.view, data.say, most)
    if not later:
        return None
    head = html.H3(["Next ", html.A("Add to calendar", href="/bench.ics", className="calendar")])
    return html.Div([head, html.Ul([_later(then, data) for then in later])], className="then")


def _later(then: Then, data: BandData) -> html.Li:
    now, kind = data.view.now, "also-due" if then.due else None
    when: Any = "no time: too cold"
    if then.due and then.at:
        when = ["test now, due ", counting_up(then.at, now, data.first), " ago"]
    elif then.at and then.far:
        when = data.say.moment(then.at, now)
    elif then.at:
        when = countdown(then.at, now, then.rounding, data.first)
    return html.Li([html.Span(then.text), html.Strong(when)], className=kind)


def _head(text: str) -> str:
    """How the head of a band is written: smaller where it would take a line more."""
    return "todo long" if len(text) > _LONG else "todo"


def due_band(due: Next, data: BandData, kind: str = "") -> html.Div:
    """What is asked once a countdown has run out: the test, and its answers."""
    name = f"{due.step_id}/{due.milestone}"
    attributes: dict[str, Any] = {"data-step": due.step_id}
    answers = [
        button(text, "answer", f"{name}/{value}", **{"aria-label": f"{text}: {due.sentence}"})
        for value, text in due.answers
    ]
    if data.tools:
        part = words.part_of(data.tools.part, data.tools.sheet.name)
        text = [html.Small(f"{part}:"), " Cup empty, tools cleaned"]
        texts = {"aria-label": f"Cup empty, tools cleaned: {part}"}
        answers.append(button(text, "emptied", str(data.tools.id), "yes", **texts))
    since = [
        html.Span("due", className="due-word"),
        counting_up(due.at or data.view.now, data.view.now, data.first, "digits"),
        html.Span("ago", className="due-word"),
    ]
    row = [
        html.P(since, className="since"),
        html.P(due.test, className="test"),
        html.Div(answers, className="answers"),
        _then(data, 2),
    ]
    sentence = f" {due.sentence}"
    head = html.H2([html.Em(due.call), sentence], className=_head(due.call + sentence))
    body = html.Div(row, className="count-row answering")
    return html.Div([head, body], className=f"band due {kind}".strip(), **attributes)


def _counting(next_act: Next, data: BandData, tight: bool) -> html.Div:
    attributes: dict[str, Any] = {"data-step": next_act.step_id}
    lines = [html.P(line, className="big") for line in next_act.lines]
    if next_act.cold:
        lines.append(html.P(words.TOO_COLD, className="test"))
    lines.append(html.P(next_act.reason, className="why"))
    now = data.view.now
    at = next_act.at or now
    row = [
        html.P(
            countdown(at, data.view.now, next_act.rounding, data.first, "digits"), className="left"
        ),
        html.Div(lines, className="lines"),
        _then(data, 2 if tight else 3),
    ]
    head = html.H2(next_act.sentence, className=_head(next_act.sentence))
    return html.Div([head, html.Div(row, className="count-row")], className="band", **attributes)


def _stalled(step: StepView, next_act: Next, data: BandData) -> html.Div:
    attributes: dict[str, Any] = {"data-step": step.id}
    lines = [html.P(line, className="test") for line in next_act.lines]
    lines.append(html.P(next_act.reason, className="why"))
    halt = html.P([html.B("no time"), html.I("can be given")], className="halt")
    row = html.Div(
        [halt, html.Div(lines, className="lines"), _then(data, 3)], className="count-row"
    )
    head = html.H2(next_act.sentence, className="todo long")
    return html.Div([head, row], className="band stop", **attributes)


def _unnamed(at: datetime, data: BandData) -> html.Div:
    since = [
        html.Span("mixed", className="due-word"),
        counting_up(at, data.view.now, data.first, "digits"),
        html.Span("ago", className="due-word"),
    ]
    hint = "The clock is running. Pick the product to see its times."
    row = [
        html.P(since, className="since"),
        html.Div(html.P(hint, className="test"), className="lines"),
    ]
    return html.Div(
        [html.H2("What was mixed?", className="todo"), html.Div(row, className="count-row")],
        className="band",
    )


def _start(step: Step, say: ReaderFormat) -> html.Button:
    details = words.mixed_details(say, step.sheet.name, step.amount_g, step.hardener_pct)
    components = [html.B("Start again, clock runs at once"), html.Span(details)]
    return button(components, "start again", step.sheet.id, "wide")


def _idle(data: BandData) -> html.Div:
    steps = bool(data.view.steps)
    text = (
        "Nothing on the bench asks for anything more. Finish a step when it is done."
        if steps
        else words.EMPTY["bench"]
    )
    head = "Nothing to do" if steps else "Nothing on the bench"
    begins: list[Any] = [_start(step, data.say) for step in data.lately]
    begins = [*(begins or [button("Mixed now", "mixed", "", "wide")]), link("Mix", "/mix")]
    begins += [] if data.view.air else [link("Type a reading", "/air")]
    begins.append(link("Shelf", "/shelf"))
    answers = None if steps else html.Div(begins, className="answers mixes")
    lines = html.Div([html.P(text, className="test"), answers], className="lines")
    return html.Div([html.H2(head, className="todo"), lines], className="band idle")


def band(data: BandData, tight: bool) -> list[Any]:
    """The band; behind it, unseen, what it will ask when its countdown has run out. tight: there
    are many steps, and each needs its row."""
    step = stalled(data.view)
    if data.view.due:
        next_act = next_of(due_in_order(data.view)[0], data.view, data.say)
        if step:
            return [_stalled(step, next_act, data)]
        if next_act.due:
            return [due_band(next_act, data)]
        over = when_due(data.view, data.say)
        return [_counting(next_act, data, tight), due_band(over, data, "after") if over else None]
    if data.waiting and not data.view.steps:
        return [_unnamed(data.waiting.at, data)]
    return [_idle(data)]
