"""The plan: what is asked where nothing is known, else the answer, which comes after the page."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, html
from dash.exceptions import PreventUpdate
from flask import request

from curewatch.ways import entered
from dashboard.context import planning
from dashboard.context.page_context import PageContext, WishedPlans
from dashboard.pages.components import links
from dashboard.pages.plan import helps
from dashboard.pages.plan.acts import ACTS
from dashboard.pages.plan.answers import Reminded, answer
from dashboard.pages.plan.asked import hours_box, other_day, wish_box, wishes
from dashboard.pages.plan.steps import steps_box
from dashboard.pages.plan.strip import strip
from dashboard.pages.routes import Address, DashPage

PATH, ANSWER = "/plan", "plan-answer"
_NEARBY = (("Parts", "/parts"), ("Lamps and heaters", "/heaters"), ("Shelf", "/shelf"))
_TEACH = (
    "Say when you are in the garage and what should be done. curewatch then says by which evening "
    "to begin, what to do tonight, and how likely it is done in time."
)


def _answer(context: PageContext, plans: WishedPlans, first: bool = False) -> list[Any]:
    shown = [] if first else strip(context, plans.week)
    more = (
        context.manner(request),
        shown,
        _reminded(context, plans),
        helps.helps(context, plans.week),
    )
    return answer(plans, *more)


def _reminded(context: PageContext, plans: WishedPlans) -> Reminded:
    """What the plan reminds of, and whether of all its parts."""
    from curewatch.week.taken import reminds_of_all

    steps = context.reminders.now(context.clock(), context.zone)
    return Reminded(steps, reminds_of_all(context.store, plans.week))


def _plans(context: PageContext, first: bool) -> list[Any]:
    """The answer as far as it is known at once."""
    if not planning.asked_for(context):
        return [html.P(_TEACH, className="teach")]
    plans = planning.current(context)
    if plans is None:
        return [
            html.P(
                "Working it out: a few seconds for one part, longer for several.",
                className="lead",
                role="status",
            )
        ]
    return _answer(context, plans, first)


def _asks(context: PageContext) -> list[Any]:
    """What is asked: folded where there is a plan, to change it."""
    hours, wished = entered.hours(context.store), wishes(context)
    asks: list[Any] = [wish_box(context.store, bool(wished)), hours_box(context.store)]
    if hours is None:
        return [*wished, *reversed(asks)]
    boxes = [*wished, *asks, other_day(hours)]
    if not wished:
        return boxes
    return [html.Details([html.Summary("Change wishes and hours"), *boxes])]


def content(context: PageContext, address: Address, first: bool) -> list[Any]:
    """What is known of the plan, then what is asked for it; or the steps of a part that the address
    names."""
    head = html.Div([html.H1("Plan"), links(_NEARBY)], className="head")
    if steps := steps_box(context.store, address.query):
        return [head, *steps]
    return [
        head,
        html.Div(_plans(context, first), id=ANSWER, className="plan-answer"),
        *_asks(context),
    ]


def callbacks(app: Dash, context: PageContext) -> None:
    """Put the answer on the app, which is worked out when the page is there."""
    helps.callbacks(app, context)

    @app.callback(
        Output(ANSWER, "children"),
        Input(ANSWER, "className"),
        State("url", "pathname"),
    )
    def answered(_kind: str, path: str) -> list[Any]:
        if path != PATH or not planning.asked_for(context):
            raise PreventUpdate
        plans = planning.work_out(context)
        planning.keep_shown(context, plans)
        planning.follow(context, plans)
        return _answer(context, plans)


PAGE = DashPage("Plan", content, acts=ACTS, callbacks=callbacks)
