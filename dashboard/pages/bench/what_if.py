"""What if the panel were warmer or cooler from now on: the times of a step as they would be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update, set_props
from flask import request

from curewatch.bench import marks
from curewatch.bench.due import open_milestones, shown_times
from curewatch.bench.views import BenchView, StepView
from curewatch.climate.reading import HeatSpell
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.garage.step import Step
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.pages.bench.question import BenchQuestion, QuestionData
from dashboard.pages.touches import KEPT, TouchOutcome, button
from dashboard.request.numbers import number_of

COOLEST_K, WARMEST_K, HOURS, MOST_HOURS = -10, 30, 3, 12
STORE = "what-if"
_HINT = "Slide to see its times if the panel were warmer or cooler from now on."
_AFTER_S = 0.15


@frozen
class WhatIf:
    """A step, and how much warmer its panel would be from now [K], for so many hours. [h]"""

    step: int
    warmer_k: float
    hours: int


def _within(value: Any, least: float, most: float) -> bool:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return number and least <= value <= most


def chosen(data: Any) -> WhatIf | None:
    """What a device asked, if it is one of what can be asked."""
    if not isinstance(data, Mapping):
        return None
    step, warmer, hours = (data.get(name) for name in ("step", "warmer", "hours"))
    whole = type(step) is int and type(hours) is int and _within(hours, 1, MOST_HOURS)
    if not (whole and _within(warmer, COOLEST_K, WARMEST_K)):
        return None
    return WhatIf(int(step or 0), float(warmer or 0), int(hours or 0))


def _warmed(step: Step, view: BenchView, what_if: WhatIf) -> tuple[Step, HeatSpell]:
    """The step with heat on it from now on, as if it had been entered."""
    track = view.track
    here_c = (
        track.surface_c[-1] if track and track.surface_c else step.sheet.reference.temperature_c
    )
    begins = view.now + timedelta(seconds=1)  # what the probe reads now is before it
    heat = HeatSpell(begins, begins + timedelta(hours=what_if.hours), here_c + what_if.warmer_k)
    return replace(step, heated=(*step.heated, heat)), heat


def otherwise(context: PageContext, view: BenchView, what_if: WhatIf | None) -> dict[int, StepView]:
    """The steps as they would be: the one that was asked about, while it is on the bench."""
    on_bench = what_if is not None and what_if.step in {step.id for step in view.steps}
    if what_if is None or not on_bench or not what_if.warmer_k:
        return {}
    warmed, _ = _warmed(context.bench.step(what_if.step), view, what_if)
    return {what_if.step: context.bench.reader.step_view(warmed, view.now)}


def _moved(now: StepView, then: StepView, at: datetime, say: ReaderFormat) -> str:
    """The next milestone that is ahead, as it would be and as it is."""
    for milestone in open_milestones(now):
        was = shown_times(milestone)
        if was is None or was.bound <= at:
            continue
        name, would = words.ends_words(milestone.name), shown_times(then.by_name[milestone.name])
        if would is None:
            return f"no time can be given for {words.in_words(milestone.name)}"
        counts, as_it_is = words.shown_times(milestone.name, would, was, at, say)
        return f"{name} {counts} (as it is: {as_it_is})"
    return "no time can be compared"


def asked_words(what_if: WhatIf, say: ReaderFormat) -> str:
    """By how much and for how long, in words."""
    by = say.difference(abs(what_if.warmer_k), 0)
    return f"{by} {'warmer' if what_if.warmer_k > 0 else 'cooler'} for {what_if.hours} h"


def said_of(context: PageContext, what_if: WhatIf | None, say: ReaderFormat) -> str:
    """What would move, and what of its label stands against it; nothing is recorded."""
    view = context.bench.view(context.clock())
    then = otherwise(context, view, what_if)
    if what_if is None or not then:
        return _HINT
    as_it_is = next(step for step in view.steps if step.id == what_if.step)
    moved = _moved(as_it_is, then[what_if.step], view.now, say)
    warmed, heat = _warmed(context.bench.step(what_if.step), view, what_if)
    warm = what_if.warmer_k > 0
    objections = marks.against(context.bench, warmed, heat, view.now, say) if warm else ()
    texts = [f"{asked_words(what_if, say)}: {moved}."]
    return " ".join([*texts, *(f"But {objection}." for objection in objections)])


def _slider(name: str, step: int, label: str, unit: str, ends: tuple[int, int], at: int) -> Any:
    """A slider with its value, which a script writes as it is moved."""
    own = {"what-if": name, "step": step}
    data: dict[str, Any] = {"min": ends[0], "max": ends[1], "step": 1, "debounce": _AFTER_S}
    slider = dcc.Input(id=own, type="range", value=at, **data, **KEPT)
    attributes: dict[str, Any] = {"data-unit": unit, "aria-hidden": "true"}
    value = html.B(f"{at} {unit}", **attributes)
    return html.Label([html.Span([f"{label} ", value]), slider], className="slide")


def _next_step(view: BenchView, step: StepView) -> StepView:
    """The step after this one on the bench, of those whose times are given."""
    steps = [given for given in view.steps if given.joint == "body"]
    return steps[(steps.index(step) + 1) % len(steps)]


def question(data: QuestionData) -> BenchQuestion | None:
    """What if it were warmer or cooler: of the step that was chosen, else the band's."""
    step = data.what_if
    if step is None or step.joint != "body":
        return None
    view, say = data.view, data.say
    name = words.step_names(view.steps, view.now, say)[step.id]
    by = round(say.degree_steps(COOLEST_K)), round(say.degree_steps(WARMEST_K))
    answers: list[Any] = [
        _slider("warmer", step.id, "Panel warmer by", f"°{say.unit}", by, 0),
        _slider("hours", step.id, "from now for", "h", (1, MOST_HOURS), HOURS),
    ]
    other = _next_step(view, step)
    if other is not step:
        answers.append(button("Another part", "what if", str(other.id)))
    attributes: dict[str, Any] = {"role": "status"}
    own = {"what-if": "said", "step": step.id}
    components = [html.B(f"What if: {name}"), html.Span(_HINT, id=own, **attributes)]
    return BenchQuestion("What if", components, tuple(answers), "worded what-if")


def act(_context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    """Ask about another step; nothing is recorded."""
    step = number_of(key)
    set_props(STORE, {"data": step and {"step": step, "warmer": 0, "hours": HOURS}})
    return TouchOutcome()


def _stored(slid: Sequence[Mapping[str, Any]], hours: Sequence[Any], say: ReaderFormat) -> Any:
    """What the sliders stand at, as it is stored."""
    if not slid or not hours:
        return None
    try:
        warmer, for_h = float(slid[0]["value"]) / say.degree_steps(1.0), int(hours[0])
    except (TypeError, ValueError):
        return None
    value = min(max(warmer, COOLEST_K), WARMEST_K)
    return {"step": slid[0]["id"]["step"], "warmer": value, "hours": for_h}


def callbacks(app: Dash, context: PageContext) -> None:
    """Put what the sliders answer on the Dash app."""

    @app.callback(
        Output(STORE, "data"),
        Output({"what-if": "said", "step": ALL}, "children"),
        Input({"what-if": "warmer", "step": ALL}, "value"),
        Input({"what-if": "hours", "step": ALL}, "value"),
        State(STORE, "data"),
        prevent_initial_call=True,
    )
    def slid(_warmer: Sequence[Any], hours: Sequence[Any], before: Any) -> tuple[Any, list[str]]:
        say = context.manner(request)
        data = _stored(ctx.inputs_list[0], hours, say)
        # sliders that were drawn anew answer too: the bench is not drawn again for them
        same = data == before or (not (data and data["warmer"]) and not before)
        text = said_of(context, chosen(data), say)
        return no_update if same else data, [text for _ in ctx.outputs_list[1]]
