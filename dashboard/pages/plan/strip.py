"""From the week's plan to its strip, and to the list of its steps in words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
from dash import html
from flask import request

from curewatch.cure.thermal_history import minimum_c
from curewatch.formats import ReaderFormat
from curewatch.garage.shelf import shelf
from curewatch.starts.windows import LONGEST
from curewatch.text import short_name
from dashboard.context.page_context import PageContext
from dashboard.figures.palette import Screen
from dashboard.figures.ribbons.folded import FoldedSpell
from dashboard.figures.ribbons.strip import (
    StripCourse,
    StripDrawing,
    StripPart,
    StripStep,
    figure,
)
from dashboard.figures.sizes import rows_class
from dashboard.pages.components import chart, first_up
from dashboard.request.device import screen_of

if TYPE_CHECKING:
    from curewatch.week.plan import PlannedStep, WeekPlan

FIGURE = "plan-strip"
PLACE, ASSUMED_C, COURSE_STEP_S = "panel", 21.0, 1800.0
_MOST_SPELLS = 9


def _step_words(step: PlannedStep, now: datetime, say: ReaderFormat) -> str:
    """A step in words: what, on which part, from when to when, and begun by when."""
    span = f"{say.moment(step.start, now)} to {say.clock(step.end)}"
    words = f"{first_up(step.part)}: {step.does}, {span}"
    if step.latest > step.start:
        words += f", begun by {say.moment(step.latest, now)} at the latest"
    return words


def near(week: WeekPlan) -> list[PlannedStep]:
    """The steps of the coming seven days, beyond which no time is said."""
    return [step for step in week.steps if step.start <= week.now + LONGEST]


def _spells(week: WeekPlan) -> list[FoldedSpell]:
    """When somebody is there, as far as anything is planned."""
    last = max((step.end for step in near(week)), default=week.now)
    seen = [spell for spell in week.spells if spell.start < last]
    return [FoldedSpell(spell.start, spell.end, spell.loud_end) for spell in seen[:_MOST_SPELLS]]


def _course(context: PageContext, week: WeekPlan, end: datetime) -> StripCourse:
    """The panel's forecast until an instant."""
    reader, hours = context.bench.reader, (end - week.now).total_seconds() / 3600
    ahead = reader.ahead(reader.snapshot(week.now, week.now), PLACE, ASSUMED_C, hours)
    every = max(1, round(COURSE_STEP_S / ahead.step_s))
    places = np.arange(0, ahead.likely_c.size, every)
    return StripCourse(
        [ahead.start + timedelta(seconds=ahead.step_s * int(place)) for place in places],
        ahead.likely_c[places].tolist(),
        ahead.cool_c[places].tolist(),
        ahead.warm_c[places].tolist(),
    )


def _minimums(context: PageContext, week: WeekPlan, say: ReaderFormat) -> list[tuple[str, float]]:
    """Below which temperatures the plan's products stop curing, in words."""
    used = {step.product for step in week.steps if step.product}
    by_value: dict[float, list[str]] = {}
    for sheet in shelf(context.store).values():
        if sheet.name in used:
            by_value.setdefault(round(minimum_c(sheet), 1), []).append(short_name(sheet.name))
    levels = []
    for value, names in by_value.items():
        who = f"{names[0]} stops" if len(names) == 1 else f"{len(names)} products stop"
        levels.append((f"below {say.temperature(value, 0)} {who} curing", value))
    return levels


def _off(week: WeekPlan, part: str, job: str) -> datetime | None:
    """When the hands are off the last step of a part."""
    own = [step.end for step in week.steps if (step.part, step.job) == (part, job)]
    return max(own, default=None)


def drawing(context: PageContext, week: WeekPlan, screen: Screen) -> StripDrawing | None:
    """What the strip shows; None where nothing is planned within the week."""
    spells, say, steps = _spells(week), context.manner(request), near(week)
    if not spells or not steps:
        return None
    rows = {(part.part, part.job): row for row, part in enumerate(week.parts)}
    shown = [step for step in steps if step.start < spells[-1].end]
    return StripDrawing(
        week.now,
        spells,
        [StripPart(first_up(part), _off(week, part, job)) for part, job in rows],
        [
            StripStep(
                rows[step.part, step.job], number, step.kind, step.start, step.end, step.latest,
                step.ready or (), _step_words(step, week.now, say),
            )
            for number, step in enumerate(shown, 1)
        ],
        _course(context, week, spells[-1].end),
        _minimums(context, week, say),
        say,
        screen,
    )  # fmt: skip


def _listed(steps: Sequence[StripStep]) -> html.Details:
    """Every step in words, by its number."""
    rows = [html.Li(step.text) for step in steps]
    return html.Details([html.Summary("The week, step by step"), html.Ol(rows)])


_KEY = (
    ("hands on it", "hands"),
    ("may be begun later", "spare"),
    ("curing", "cures"),
    ("done by this plan", "line stop"),
)


def strip(context: PageContext, week: WeekPlan) -> list[Any]:
    """The strip with what its marks mean, which only a desk has room for, and its steps."""
    drawn = drawing(context, week, screen_of(request))
    if drawn is None:
        return []
    kind = rows_class(drawn.height_px)
    key = [html.Li([html.I(className=mark), text]) for text, mark in _KEY]
    shown = html.Div(
        [chart(FIGURE, figure(drawn), "The week", kind), html.Ul(key, className="key")],
        className="plan-strip",
    )
    return [shown if drawn.screen.layout == "desk" else None, _listed(drawn.steps)]
