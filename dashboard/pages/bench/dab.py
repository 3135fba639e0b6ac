"""The dab's row on the bench: how it is, or which look at it tells most."""

from __future__ import annotations

from typing import Any

from dash import html

from curewatch.bench.views import BenchView, StepView
from curewatch.formats import ReaderFormat
from curewatch.wording import words
from dashboard.pages.bench.data import focus
from dashboard.pages.bench.question import BenchQuestion, QuestionData
from dashboard.pages.touches import button


def _looking(view: BenchView) -> StepView | None:
    """The step whose dab is worth a look now, the one that asked first."""
    asking = [(step.asked_look.start, step) for step in view.steps if step.asked_look]
    return min(asking, key=lambda pair: pair[0])[1] if asking else None


def _dab_said(step: StepView, view: BenchView, say: ReaderFormat) -> list[Any]:
    look, name = step.asked_look, words.step_names(view.steps, view.now, say)[step.id]
    if look is None:
        return ["How is the test dab? ", html.B(name)]
    until, waited = say.clock(look.until), words.in_words(look.waited)
    why = f". Until {until} a look tells most about {waited}."
    return ["Look at the test dab: ", html.B(name), why]


def _dab_answer(step: StepView, state: str, say: ReaderFormat) -> html.Button:
    """A state to touch: marked where it was seen last, and where it is what to look for."""
    text, last = words.STATES[state], step.witnesses[-1] if step.witnesses else None
    own = f"{step.id}/{state}"
    if last and last.state == state:
        at = say.clock(last.at)
        attributes: dict[str, Any] = {"aria-label": f"{text}, seen {at}"}
        return button([text, html.Small(at)], "dab", own, "seen", **attributes)
    sought = step.asked_look is not None and step.asked_look.state == state
    return button(text, "dab", own, "sought" if sought else None)


def turned(data: QuestionData) -> BenchQuestion | None:
    """When a dab turned that was seen turned just before."""
    if data.turned is None:
        return None
    (step, look), view = data.turned, data.view
    name = words.step_names(view.steps, view.now, data.say)[step.id]
    ask = [f"When did the dab turn {words.STATES[look.state]}? ", html.B(name)]
    key = f"{step.id}/{look.id}"
    answers = [button(text, "step turned", f"{key}/{ago}") for ago, text in words.TURNED.items()]
    return BenchQuestion("Turned when?", ask, tuple(answers), "looking")


def dab(data: QuestionData) -> BenchQuestion | None:
    """How the test dab is, of the step whose look is worth most, else of the next."""
    step = _looking(data.view) or focus(data.view)
    if step is None or data.waiting:
        return None
    answers = tuple(_dab_answer(step, state, data.say) for state in words.STATES)
    kind = "dab looking" if step.asked_look else "dab"
    return BenchQuestion("Dab", _dab_said(step, data.view, data.say), answers, kind)
