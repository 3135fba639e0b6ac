"""The answer on top of a mix: what becomes of it if it is mixed now, and its ribbon."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html
from flask import request

from curewatch.formats import ReaderFormat
from curewatch.plan import mix_by_words
from curewatch.plan.mix_by import MixBy
from curewatch.wording import mix_words
from dashboard.context.page_context import PageContext
from dashboard.figures.ribbons.proposed import ProposedDrawing, figure
from dashboard.pages.components import chart
from dashboard.pages.mix.data import ProposedMix
from dashboard.pages.mix.details import HEAT, HEAT_FOR
from dashboard.pages.mix.gate_answers import VERDICTS
from dashboard.request.device import screen_of

FIGURE = "mix-figure"
Values = Mapping[str, Any]


def _heat_line(mix: ProposedMix, values: Values, say: ReaderFormat) -> html.P | None:
    """What the heat that is asked about would change."""
    if mix.heated is None:
        return None
    text = mix_words.answer(mix.heated, say).removeprefix("Mixed now: ")
    hours = str(values.get(HEAT_FOR) or "2").strip()
    warm = f"{str(values[HEAT]).strip()} °{say.unit}".replace(f" °{say.unit} °", " °")
    return html.P(f"With the panel at {warm} for {hours} h: {text}", className="heated")


def _headline(mix: ProposedMix, say: ReaderFormat) -> html.P:
    """What becomes of it if it is mixed now, after what the gate says where that is not Go."""
    verdict, text = mix.gate.verdict, mix_words.answer(mix.view, say)
    if verdict == "go":
        return html.P(text, className="answer")
    way = html.A(VERDICTS[verdict], href="#fit", className=f"badge {verdict}")
    return html.P([way, f" {text}"], className="answer")


def answer(
    context: PageContext, mix: ProposedMix, mix_by: MixBy | None, values: Values, first: bool
) -> list[Any]:
    """What becomes of it if it is mixed now, and its ribbon."""
    say, view = context.manner(request), mix.view
    if not view.milestones:
        return [_headline(mix, say)]
    stop = mix.gate.proposal.stop_at
    drawn = ProposedDrawing(
        view,
        mix.heated,
        context.bench.view(context.clock()),
        stop,
        mix_by.window if mix_by else None,
    )
    drawing = {} if first else figure(drawn, say, screen_of(request))
    return [
        _headline(mix, say),
        _heat_line(mix, values, say),
        html.P(mix_by_words.sentence(mix_by, say), className="lead") if mix_by else None,
        chart(FIGURE, drawing, "The mix over the forecast", "proposed"),
    ]
