"""The bench: the band on top, what is asked, the air, the ribbons; drawn anew in parts."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate
from flask import request
from plotly.utils import PlotlyJSONEncoder

from curewatch.bench.marks import turn_to_tell
from curewatch.bench.views import BenchView, StepView
from curewatch.frozen import frozen
from curewatch.garage import unnamed_mix
from curewatch.garage.step import WitnessView
from curewatch.plan.recent_mixes import recent
from curewatch.protection import airing
from curewatch.protection.purge import purges, recently_closed
from curewatch.protection.wearing import to_discard
from dashboard.context import planning
from dashboard.context.page_context import PageContext
from dashboard.pages.bench import around, ribbons, what_if
from dashboard.pages.bench.acts import ACTS
from dashboard.pages.bench.band import BandData, band
from dashboard.pages.bench.data import focus, tools
from dashboard.pages.bench.evening import evening_part
from dashboard.pages.bench.question import QuestionData
from dashboard.pages.bench.questions import asks
from dashboard.pages.routes import Address, DashPage

PATH, PLANNED = "/", "planned"
PARTS = ("part-next", "asks", "part-air", "part-moved", "part-others", "lane-names", "part-rest")


@frozen
class BenchParts:
    """What changes on the page: the parts by their ids, and the ribbons' figure."""

    children: Mapping[str, Any]
    figure: Mapping[str, Any]
    kind: str

    def marks(self) -> dict[str, str]:
        """A short mark of each part, by which it is known whether it changed."""
        drawn = {**self.children, ribbons.FIGURE: self.figure}
        return {name: _mark(part) for name, part in drawn.items()}


def _mark(part: Any) -> str:
    text = json.dumps(part, cls=PlotlyJSONEncoder, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def _wondered(view: BenchView, if_warmer: what_if.WhatIf | None) -> StepView | None:
    """The step whose times are shown if it were warmer: the one chosen, else the band's."""
    picked = [step for step in view.steps if if_warmer and step.id == if_warmer.step]
    return picked[0] if picked else focus(view)


def _questions(
    context: PageContext, view: BenchView, first: bool, if_warmer: what_if.WhatIf | None
) -> QuestionData:
    say, waiting = context.manner(request), unnamed_mix.waiting(context.store, view.now)
    closed = recently_closed(context.bench, view.now)
    return QuestionData(
        view,
        say,
        waiting[-1] if waiting else None,
        recent(context.bench) if waiting or not view.steps else [],
        purges(view, airing.last_room(context.store), say, closed),
        to_discard(context.bench, view.now, context.zone) if view.steps else [],
        evening_part(context),
        first,
        _turned(context, view),
        planning.begins(context),
        _wondered(view, if_warmer),
    )


def _turned(context: PageContext, view: BenchView) -> tuple[StepView, WitnessView] | None:
    """The look at a dab that was last seen turned, while nobody has told when it did."""
    events = context.store.events(step.id for step in view.steps)
    seen = ((step, turn_to_tell(step.witnesses, events[step.id], view.now)) for step in view.steps)
    turned = [(step, look) for step, look in seen if look is not None]
    return max(turned, key=lambda pair: pair[1].recorded_at, default=None)


def _is_due(view: BenchView) -> bool:
    return any(due.milestone.due for due in view.due)


def parts(
    context: PageContext,
    look: ribbons.Look | None,
    stretch: Sequence[Any] | None,
    first: bool = False,
    if_warmer: what_if.WhatIf | None = None,
) -> BenchParts:
    """Everything that changes on the page, of a single look at the bench. if_warmer: what was
    asked of a warmer or cooler panel."""
    view, say = context.bench.view(context.clock()), context.manner(request)
    tight, due = len(view.steps) > ribbons.TIGHT, _is_due(view)
    room, data = ribbons.room_of(look), _questions(context, view, first, if_warmer)
    shown = bool(view.steps) or bool(view.track and view.track.times)
    if first:  # drawn by a script, which comes later
        lanes, figure = ribbons.plain_names(view, say), {}
    else:
        other = what_if.otherwise(context, view, if_warmer)
        wondered = f"below: {what_if.asked_words(if_warmer, say)}" if if_warmer and other else ""
        drawn = ribbons.drawn(view, room, stretch, say, other, wondered)
        lanes, figure = ribbons.names(drawn, view, room, say), drawn.figure
    over = BandData(view, say, data.waiting, data.lately, tools(view), first)
    own, others = asks(data)
    children = {
        "part-next": band(over, tight),
        "asks": own,
        "part-air": around.air(view, say, first, tight),
        "part-moved": around.lines(context, view, say, 1 if due or tight else 2),
        "part-others": others,
        "lane-names": lanes,
        "part-rest": ribbons.below(view, room, say),
    }
    kind = f"bench{' tight' if tight else ''}{' due' if due else ''}{'' if shown else ' bare'}"
    return BenchParts(children, figure, kind)


def _drawn(parts: BenchParts) -> html.Div:
    lanes = [
        html.H2("Ribbons", className="unseen"),
        html.Ul(parts.children["lane-names"], id="lane-names", className="lane-names"),
        ribbons.chart(parts.figure),
    ]
    attributes: dict[str, Any] = {"aria-label": "Length of the time axis: as needed"}
    buttons = [
        html.Button(["Axis", html.Small("auto")], id="axis", type="button", **attributes),
        html.Button("Now", id="axis-now", type="button", hidden=True),
    ]
    blocks = [
        html.Div(lanes, id=ribbons.BOX, className="ribbons"),
        html.Div(buttons, className="axis"),
    ]
    return html.Div(blocks, className="drawn")


def content(context: PageContext, _address: Address, first: bool = False) -> list[Any]:
    """The whole page; first: as the server draws it before any script."""
    drawn = parts(context, None, None, first)
    children = drawn.children
    return [
        html.Div(
            [
                html.H1("Bench", className="unseen"),
                html.Section(children["part-next"], id="part-next", className="part-next"),
                html.Section(children["asks"], id="asks", className="asks"),
                html.Section(children["part-air"], id="part-air", className="part-air"),
                html.Section(children["part-moved"], id="part-moved", className="part-moved"),
                html.Section(
                    children["part-others"], id="part-others", className="asks part-others"
                ),
                _drawn(drawn),
                html.Section(children["part-rest"], id="part-rest", className="part-rest"),
                dcc.Store(id=PLANNED),
                dcc.Store(id="look"),
                dcc.Store(id="stretch"),
                dcc.Store(id=what_if.STORE),
                dcc.Store(id="marks", data={} if first else drawn.marks()),
            ],
            id="bench",
            className=drawn.kind,
        )
    ]


def _renewed(
    context: PageContext, look: Any, stretch: Any, if_warmer: Any, marks: Mapping[str, str] | None
) -> list[Any]:
    """The parts that changed, in the order of PARTS; the figure, its kind and all marks."""
    drawn, before = parts(context, look, stretch, if_warmer=what_if.chosen(if_warmer)), marks or {}
    now = drawn.marks()
    changed = {name: now[name] != before.get(name) for name in now}
    figure = drawn.figure if changed[ribbons.FIGURE] else no_update
    children = [drawn.children[name] if changed[name] else no_update for name in PARTS]
    return [*children, figure, drawn.kind, now]


def callbacks(app: Dash, context: PageContext) -> None:
    """Put what the page answers on the Dash app."""
    what_if.callbacks(app, context)

    @app.callback(
        *(Output(name, "children") for name in PARTS),
        Output(ribbons.FIGURE, "figure"),
        Output("bench", "className"),
        Output("marks", "data"),
        Input("again", "data"),
        Input("stretch", "data"),
        Input(what_if.STORE, "data"),
        State("look", "data"),
        State("marks", "data"),
        State("url", "pathname"),
        prevent_initial_call=True,
    )
    def renewed(
        _a: int, stretch: Any, if_warmer: Any, look: Any, marks: Any, path: str
    ) -> list[Any]:
        if path != PATH:
            raise PreventUpdate
        return _renewed(context, look, stretch, if_warmer, marks)

    @app.callback(Output(PLANNED, "data"), Input("again", "data"), State("url", "pathname"))
    def planned(_again: int, path: str) -> str:
        """Work the plan out beside the bench, which shows it when it is drawn next."""
        if path != PATH or planning.current(context) or not planning.asked_for(context):
            raise PreventUpdate
        plans = planning.work_out(context)
        planning.follow(context, plans)
        return plans.as_of[1].isoformat()


PAGE = DashPage(
    "Bench",
    content,
    acts={**ACTS, "what if": what_if.act},
    callbacks=callbacks,
    keeps=True,
    renews_s=5.0,
    clock_s=20.0,
    kind="bench-page",
)
