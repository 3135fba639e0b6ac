"""What would help several parts: tried when it is asked for, beside the pages, since it takes
seconds; the page asks again until it is there."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future
from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, State, dcc, html
from dash.exceptions import PreventUpdate
from flask import request

from curewatch.errors import StepError
from curewatch.formats import ReaderFormat
from curewatch.ways.words import heat_cautions
from dashboard.context.page_context import PageContext
from dashboard.pages.components import first_up

if TYPE_CHECKING:
    from curewatch.week.helps import WeekHelp
    from curewatch.week.plan import WeekPlan

HELPS, TRY, AGAIN, PATH = "plan-helps", "plan-helps-try", "plan-helps-again", "/plan"
AGAIN_MS = 1000
WORKING, NOTHING = "Trying it out, which takes some seconds.", "Nothing that was tried would help."


def _listed(options: Sequence[WeekHelp], week: WeekPlan, say: ReaderFormat) -> list[Any]:
    """What would help, with the parts that gain and the cautions of heat."""
    from curewatch.week.words import help_words

    rows = [html.Li(first_up(help_words(option, week, say))) for option in options]
    cautions = heat_cautions([option.code for option in options])
    return [
        html.P("What would help:" if rows else NOTHING),
        html.Ul(rows, className="plain") if rows else None,
        *(html.P(caution, className="hint") for caution in cautions),
    ]


def _outcome(tried: Future[Any] | None, week: WeekPlan, say: ReaderFormat) -> list[Any]:
    """What is known of a trial: nothing where it was not begun."""
    if tried is None:
        return []
    if not tried.done():
        return [html.P(WORKING, className="hint", role="status")]
    error = tried.exception()
    if isinstance(error, StepError):
        return [html.P(first_up(str(error)), className="problem")]
    return _listed(tried.result(), week, say)


def helps(context: PageContext, week: WeekPlan) -> html.Div:
    """The button that tries what would help, and what came of it."""
    tried = context.background.begun(week)
    still = tried is not None and not tried.done()
    return html.Div(
        [
            html.P(
                html.Button("Try what would help", id=TRY, type="button", n_clicks=0),
                className="buttons",
            ),
            dcc.Interval(id=AGAIN, interval=AGAIN_MS, disabled=not still),
            html.Div(_outcome(tried, week, context.manner(request)), id=HELPS),
        ]
    )


def tried(context: PageContext) -> tuple[list[Any], bool]:
    """What came of the trial of the plans as they are, which is begun where it was not; and whether
    it need not be asked for again."""
    from curewatch.week.gather import week_helps

    if context.plans is None:
        return [], True
    week, now, zone = context.plans.week, context.clock(), context.zone
    trial = context.background.begin(week, lambda: week_helps(context.bench, now, zone))
    if trial is None:
        return [html.P(WORKING, className="hint", role="status")], False
    return _outcome(trial, week, context.manner(request)), trial.done()


def callbacks(app: Dash, context: PageContext) -> None:
    """Put the trial on the app."""

    @app.callback(
        Output(HELPS, "children"),
        Output(AGAIN, "disabled"),
        Input(TRY, "n_clicks"),
        Input(AGAIN, "n_intervals"),
        State("url", "pathname"),
        prevent_initial_call=True,
    )
    def answered(clicks: int | None, ticks: int | None, path: str) -> tuple[list[Any], bool]:
        if path != PATH or not (clicks or ticks):
            raise PreventUpdate
        return tried(context)
