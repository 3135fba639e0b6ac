"""What a product did in this garage: actual beside predicted times, a figure and tables."""

from __future__ import annotations

from typing import Any
from urllib.parse import parse_qsl, urlencode

from dash import html
from flask import request

from curewatch.durations import between, duration, rounding
from curewatch.errors import StepError
from curewatch.formats import ReaderFormat
from curewatch.logbook import predictions
from curewatch.logbook.predictions import Prediction, StepPredictions
from curewatch.store.search import StepQuery
from curewatch.vocabulary import STEP_STATES, in_words
from curewatch.wording import log_words, words
from dashboard.context.page_context import PageContext
from dashboard.figures import predicted
from dashboard.pages.components import figure_box, link, links, table
from dashboard.pages.log.address import COMPARE, MOST_PICKED, PRODUCT
from dashboard.pages.routes import Address, DashPage
from dashboard.request.device import screen_of
from dashboard.request.numbers import number_of

_HEAD = ("milestone", "label", "predicted", "actual", "verdict")


def _times(prediction: Prediction) -> str:
    early, late = prediction.early_min, prediction.late_min
    if prediction.likely_min is None or early is None or late is None:
        return "no time"
    return between(early, late, rounding(prediction.milestone))


def _row(prediction: Prediction) -> list[Any]:
    tested = prediction.seen_min is not None or prediction.not_min is not None
    return [
        in_words(prediction.milestone),
        duration(prediction.label_min, rounding(prediction.milestone)),
        _times(prediction),
        log_words.found(prediction),
        prediction.verdict if tested else "",
    ]


def _step(course: StepPredictions, context: PageContext, say: ReaderFormat) -> html.Details:
    step = course.step
    felt = "surface not measured"
    if course.surface_c is not None:
        felt = f"surface {say.temperature(course.surface_c)} on average"
    state, name = STEP_STATES[step.state], log_words.name(step)
    when = f"Mixed {say.moment(step.mixed_at, context.clock())}; {state}; {felt}. "
    rows = [_row(prediction) for prediction in course.predictions]
    way = link("Open the step", f"/step/{step.id}", button=False)
    mixed = html.P([when, way], className="hint")
    return html.Details([html.Summary(name), mixed, table(_HEAD, rows, name) if rows else None])


def _figure(courses: list[StepPredictions], say: ReaderFormat) -> list[Any]:
    predicted_points = predicted.tested(courses)
    if not predicted_points:
        return [html.P(log_words.UNTESTED, className="teach")]
    drawn = predicted.figure(courses, screen_of(request))
    lines = [
        html.Li([html.B(f"{in_words(name).capitalize()}: "), predicted.sentence(points, say)])
        for name, points in predicted_points.items()
    ]
    key = [html.Li([html.I(className=kind), text]) for kind, text in log_words.FOUND_KEY]
    return [
        figure_box("predicted", drawn, "Actual beside predicted times, step by step"),
        html.Ul(key, className="key marks"),
        html.Ul(lines, className="list"),
    ]


def _shown(courses: list[StepPredictions], total: int, id: str) -> html.P | None:
    """Which steps are shown where there are more."""
    if len(courses) >= total:
        return None
    newest, oldest = courses[0].step.id, courses[-1].step.id
    text = f"{len(courses)} of {total} steps, from {oldest} to {newest}."
    older = f"{PRODUCT}/{id}?before={oldest}"
    more: list[Any] = [" ", link("The steps before", older, button=False)]
    return html.P([text, *(more if len(courses) == predictions.MOST else [])], className="hint")


def _nearby(courses: list[StepPredictions], id: str) -> html.P:
    in_log = f"/logbook?{urlencode({'product': id})}"
    pairs = [("Product", f"/shelf/{id}"), ("Its steps in the log", in_log)]
    latest = [str(course.step.id) for course in courses[:MOST_PICKED]]
    if len(latest) > 1:
        over = f"{COMPARE}?steps={'.'.join(latest)}&by=age"
        pairs.append(("Compare the latest", over))
    return links(pairs)


def _courses(context: PageContext, address: Address) -> list[StepPredictions]:
    id, before = str(address.values["id"]), number_of(dict(parse_qsl(address.query)).get("before"))
    courses = predictions.of_product(context.bench, id, context.clock(), before=before)
    if not courses:
        raise StepError(f"no step was made with {id[:60]!r}", fix="see the log")
    return courses


def content(context: PageContext, address: Address, first: bool) -> list[Any]:
    """The whole page at an address."""
    say, id = context.manner(request), str(address.values["id"])
    courses = _courses(context, address)
    title = html.H1(f"{words.short_name(courses[0].step.sheet.name)}: predicted and actual")
    return [
        html.Div([title, _nearby(courses, id)], className="head"),
        html.P(log_words.LEARNED, className="lead"),
        _shown(courses, context.store.count(StepQuery(sheet=id)), id),
        *_figure(courses, say),
        html.H2("Step by step"),
        *(_step(course, context, say) for course in courses),
    ]


PAGE = DashPage("Predicted and actual", content, under="/logbook")
