"""Last night: a sentence, a figure with what each step got of its need, and the lines of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from dash import html
from flask import request

from curewatch.formats import ReaderFormat
from curewatch.logbook.air_history import air_history
from curewatch.plan.morning import Morning, bare_lines, morning, step_lines
from curewatch.plan.night_course import night_courses
from curewatch.wording import night_words
from dashboard.context.page_context import PageContext
from dashboard.figures.night import NightDrawing, figure
from dashboard.pages.components import chart, first_up, link, links
from dashboard.pages.routes import Address, DashPage
from dashboard.request.device import screen_of

_NEARBY = (("Parts", "/parts"), ("Air", "/air"))
_USUAL_LIMIT_C = 10.0
_NEXT = "What cures overnight is shown here in the morning: how far each step has cured."
_KEY = (
    ("how far it has cured", "part-got"),
    ("probably enough", "enough"),
    ("too cold to cure", "cold"),
    ("near the dew point", "near-dew"),
    ("surface", "line"),
    ("air", "line amber dash"),
)


def _drawing(context: PageContext, night: Morning) -> NightDrawing:
    """What the figure needs: the courses of the steps, and the air around the first of them."""
    timed = [overnight for overnight in night.steps if not overnight.structural]
    place = next((context.bench.step(overnight.step.id).place for overnight in timed), "panel")
    limit_c = max((overnight.least_c for overnight in timed), default=_USUAL_LIMIT_C)
    air = air_history(context.store, night.start, night.end, place=place, limit_c=limit_c)
    courses = night_courses(context.bench, night)
    return NightDrawing(night, courses, air, context.manner(request), screen_of(request))


def _chart(context: PageContext, night: Morning, first: bool) -> Any:
    """The figure with what its marks mean; none where nothing has a lane."""
    drawn = _drawing(context, night)
    if not drawn.lanes:
        return None
    drawing = {} if first else figure(drawn)  # drawn by a script, which comes later
    key = [html.Li([html.I(className=kind), text]) for text, kind in _KEY]
    kind = f"night-figure lanes-{len(drawn.lanes)}"
    return html.Div([chart("night", drawing, "Last night", kind), html.Ul(key, className="key")])


def _lines(night: Morning, say: ReaderFormat) -> Iterator[Any]:
    """Everything that is known of each step and each bare part."""
    for overnight in night.steps:
        name = html.H3(
            link(night_words.step_name(overnight), f"/step/{overnight.step.id}", button=False)
        )
        yield html.Section([name, _list(step_lines(overnight, night.now, say))])
    for bare in night.bare:
        yield html.Section([html.H3(bare.part.name), _list(bare_lines(bare, night.now, say))])


def _list(lines: Iterator[str]) -> html.Ul:
    texts = [f"{first_up(line)}." for line in lines]
    return html.Ul([html.Li(line.replace("..", ".")) for line in texts], className="plain")


def content(context: PageContext, _address: Address, first: bool) -> list[Any]:
    """The page of the last night."""
    now, say = context.clock(), context.manner(request)
    night = morning(context.bench, now, context.zone)
    span = f"{say.moment(night.start, now)} to {say.moment(night.end, now)}"
    return [
        html.Div([html.H1("Last night"), links(_NEARBY)], className="head"),
        html.P(night_words.headline(night, say), className="lead told"),
        html.P(f"From {span}.", className="hint"),
        None if night.steps or night.bare else html.P(_NEXT, className="hint"),
        _chart(context, night, first),
        html.Div([*_lines(night, say)], className="night"),
    ]


PAGE = DashPage("Last night", content, under="/parts")
