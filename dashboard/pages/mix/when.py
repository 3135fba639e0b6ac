"""When to mix: what is waited for and by when, the chance of every start, what heat would buy."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from dash import dcc, html

from curewatch.errors import CurewatchError
from curewatch.formats import ReaderFormat
from curewatch.plan import mix_by_words
from curewatch.plan.mix_by import MixBy
from curewatch.products.sheet import Sheet
from curewatch.warmth import words as warmth_words
from curewatch.warmth.trial import Trial
from dashboard.figures.palette import Screen
from dashboard.figures.ribbons.starts import StartPoint, StartsDrawing, figure
from dashboard.pages.components import chart, first_up, link, table
from dashboard.pages.mix.data import BY, WAIT, milestone_asked, waits
from dashboard.pages.touches import Form

WHEN, FIGURE, SAID = "mix-when", "mix-starts", "mix-starts-said"
WARMTH, FOLD = "mix-warmth", "mix-warmth-fold"
_COUNTED = (
    "The chances count the weather and the product, not a slow hand. Your test decides. Touch the "
    "figure, or use the arrow keys, to see another start."
)


def points(mix_by: MixBy, say: ReaderFormat) -> list[StartPoint]:
    """Every start with what is said of it."""
    return [
        StartPoint(at, chance, mix_by_words.start_words(mix_by, at, chance, say))
        for at, chance in mix_by.every_start()
    ]


def answer(mix_by: MixBy, say: ReaderFormat, screen: Screen, first: bool) -> list[Any]:
    """Between when and when to mix, and the chance of every start ahead."""
    drawing = {} if first else figure(StartsDrawing(points(mix_by, say), say, screen))
    return [
        html.P(mix_by_words.sentence(mix_by, say), className="lead"),
        html.Output(id=SAID, className="start-said"),
        chart(FIGURE, drawing, "The chance by when it is mixed", "chances", says=SAID),
        html.P(_COUNTED, className="hint"),
    ]


def problem(error: CurewatchError) -> list[Any]:
    """Why nobody can say."""
    return [html.P(first_up(str(error)), className="problem")]


def _wait(form: Form, sheet: Sheet) -> html.Fieldset | None:
    options = {name: first_up(text) for name, text in waits(sheet).items()}
    if len(options) < 2:
        return None
    picked = dcc.RadioItems(
        id=form.id(WAIT), options=options, value=milestone_asked(sheet, {}), className="picks-one"
    )
    return html.Fieldset(
        [html.Legend("What must be reached by then?"), picked], className="choices"
    )


def section(
    form: Form, sheet: Sheet, stop: datetime | None, shown: list[Any], say: ReaderFormat
) -> html.Section | None:
    """What is asked with its answer, and the fold with the table of warmth; None where the label
    gives nothing to wait for. stop: tonight's stopping time."""
    milestones = waits(sheet)
    if not milestones:
        return None
    first_name = first_up(next(iter(milestones.values())))
    label = "Wanted by (time)" if len(milestones) > 1 else f"{first_name} by"
    typed = form.box(
        BY, label, say.time_of_day(stop) if stop else "", placeholder="22:15", debounce=True
    )
    summary = html.Summary("What heat or another product would change", id=FOLD, n_clicks=0)
    fold = html.Details([summary, html.Div(id=WARMTH)], className="warmth")
    return html.Section(
        [
            html.H2("When to mix"),
            _wait(form, sheet),
            html.Div(typed, className="fields"),
            html.Div(shown, id=WHEN),
            fold,
        ],
        className="when",
    )


def _needed(trial: Trial) -> Iterator[Any]:
    if warmth_words.needs_none(trial):
        yield html.P("It needs no heat.")
    elif not warmth_words.has_heaters(trial):
        yield html.P("Enter the lamps and heaters you own to see what they would change.")


def warmth_table(trial: Trial, say: ReaderFormat) -> list[Any]:
    """Each way with its chance, the heat it takes, and the cautions."""
    head = ("With", "Chance", "Heat")
    rows = [
        (first_up(way), chance or "none", rest)
        for way, chance, rest in (
            warmth_words.option_words(option, trial, say) for option in trial.options
        )
    ]
    heading = warmth_words.heading(trial, say)
    texts = [*warmth_words.cautions(trial, say)]
    texts += [f"{text}." for text, _ in warmth_words.assumed(trial)]
    return [
        html.P(f"{heading}:"),
        table(head, rows, heading),
        *_needed(trial),
        html.Ul([html.Li(text) for text in texts], className="plain") if texts else None,
        html.P(link("Lamps and heaters", "/heaters"), className="buttons"),
    ]


def not_asked() -> list[Any]:
    """What to enter first."""
    return [html.P("Enter by when you want it.", className="hint")]


def shown(mix_by: MixBy | None, say: ReaderFormat, screen: Screen, first: bool) -> list[Any]:
    """The answer, where one was asked for."""
    return [] if mix_by is None else answer(mix_by, say, screen, first)
