"""What if the panel were warmer or cooler from now on: the times of a step as they would be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from dash import set_props
from flask import request

from curewatch.bench import marks
from curewatch.bench.views import BenchView, MilestoneView, StepView
from curewatch.climate.reading import HeatSpell
from curewatch.formats import ReaderFormat
from curewatch.garage.step import Step
from curewatch.wording import words
from dashboard.hall import Hall
from dashboard.numbers import number_of
from dashboard.pages.touches import TouchOutcome

WARMER_C, HOURS = (-5, 5, 10, 20), 3
STORE = "what-if"
WARMER_BY_KEY = {str(each): each for each in WARMER_C}


@dataclass(frozen=True)
class WhatIf:
    """A step and how much warmer its panel would be from now, for HOURS. [K]"""

    step: int
    warmer_k: int


def chosen(data: Any) -> WhatIf | None:
    """What a device asked, if it is one of what can be asked."""
    if not isinstance(data, Mapping):
        return None
    number, warmer = data.get("step"), data.get("warmer")
    if not isinstance(number, int) or warmer not in WARMER_C:
        return None
    return WhatIf(number, warmer)


def _warmed(step: Step, view: BenchView, warmer_k: int) -> tuple[Step, HeatSpell]:
    """The step with heat on it from now on, as if it had been entered."""
    track = view.track
    here_c = (
        track.surface_c[-1] if track and track.surface_c else step.sheet.reference.temperature_c
    )
    begins = view.now + timedelta(seconds=1)  # what the probe reads now is before it
    heat = HeatSpell(begins, begins + timedelta(hours=HOURS), here_c + warmer_k)
    return replace(step, heated=(*step.heated, heat)), heat


def otherwise(hall: Hall, view: BenchView, asked: WhatIf | None) -> dict[int, StepView]:
    """The steps as they would be: the one that was asked about, while it is on the bench."""
    if asked is None or asked.step not in {each.id for each in view.steps}:
        return {}
    warmed, _ = _warmed(hall.bench.step(asked.step), view, asked.warmer_k)
    return {asked.step: hall.bench.reader.step_view(warmed, view.now)}


def _between(each: MilestoneView, now: datetime, say: ReaderFormat) -> str:
    if each.early is None or each.late is None:
        return "at no time that can be given"
    return f"between {say.moment(each.early, now)} and {say.moment(each.late, now)}"


def _moved(now: StepView, then: StepView, at: datetime, say: ReaderFormat) -> str:
    """The next milestone that is ahead, as it would be and as it is."""
    for each in now.milestones:
        open_one = each.name != "pot_life" and not each.reached
        ahead = open_one and each.late is not None and each.late > at
        if ahead and (other := then.by_name.get(each.name)):
            was, would = _between(each, at, say), _between(other, at, say)
            return f"{words.in_words(each.name)} {would}, instead of {was}"
    return "no time can be compared"


def warmer_said(warmer_k: int, say: ReaderFormat) -> str:
    """By how much, in words."""
    by = say.difference(abs(warmer_k), 0)
    return f"{by} {'warmer' if warmer_k > 0 else 'cooler'}"


def act(hall: Hall, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    """Show a step's times as they would be; nothing is recorded."""
    text, _, rest = key.partition("/")
    asked = chosen({"step": number_of(text), "warmer": WARMER_BY_KEY.get(rest)})
    set_props(STORE, {"data": asked and {"step": asked.step, "warmer": asked.warmer_k}})
    if asked is None:
        return TouchOutcome("The ribbons show what is expected.")
    view, say = hall.bench.view(hall.clock()), hall.manner(request)
    step, reader = hall.bench.step(asked.step), hall.bench.reader
    warmed, heat = _warmed(step, view, asked.warmer_k)
    as_it_is, then = (reader.step_view(each, view.now) for each in (step, warmed))
    moved = _moved(as_it_is, then, view.now, say)
    warm = asked.warmer_k > 0
    objections = marks.against(hall.bench, warmed, heat, view.now, say) if warm else ()
    said = [f"If {warmer_said(asked.warmer_k, say)} for {HOURS} h: {moved}."]
    return TouchOutcome(" ".join([*said, *(f"But {each}." for each in objections)]))
