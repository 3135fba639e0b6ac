"""What a touch on the bench records. A key names the step, then what was answered, with slashes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html
from flask import request

from curewatch.errors import StepError, UnlikelyError
from curewatch.garage import parts
from curewatch.gate import starting
from curewatch.plan import evening_question
from curewatch.plan.recent_mixes import again
from curewatch.wording import milestone_words, words
from dashboard.context.page_context import PageContext
from dashboard.endpoints import mixed
from dashboard.pages.components import first_up
from dashboard.pages.touches import LEAVE, Act, TouchOutcome, button
from dashboard.request.numbers import number_of

Values = Mapping[str, Any]


def _step(key: str) -> tuple[int, str]:
    """The step's number and the rest of a key."""
    text, _, rest = key.partition("/")
    number = number_of(text)
    if number is None:
        raise StepError(f"there is no step {text[:20]!r}", fix="load the page again")
    return number, rest


def _answered(context: PageContext, key: str, sure: bool) -> TouchOutcome:
    number, rest = _step(key)
    name, _, result = rest.partition("/")
    now = context.clock()
    try:
        name = context.bench.test(number, result, now=now, milestone=name or None, sure=sure)
    except UnlikelyError as error:
        return TouchOutcome(question=_really(error, name, key))
    step, say = context.bench.step_view(number, now), context.manner(request)
    part = words.part_of(step.part, step.sheet.name)
    return TouchOutcome(milestone_words.recorded(result, step.by_name.get(name), now, say, part))


def _really(error: UnlikelyError, name: str, key: str) -> list[Any]:
    """Whether an answer that can hardly be is right."""
    return [
        html.H2("Really?"),
        html.P(f"{first_up(error.what)}."),
        html.P(milestone_words.TEST.get(name, "")),
        html.Div(
            [button("Yes, I tested it", "answer sure", key), button("No, a slip", LEAVE)],
            className="buttons",
        ),
    ]


def _answer(context: PageContext, key: str, _values: Values) -> TouchOutcome:
    return _answered(context, key, sure=False)


def _answer_sure(context: PageContext, key: str, _values: Values) -> TouchOutcome:
    return _answered(context, key, sure=True)


def _dab(context: PageContext, key: str, _values: Values) -> TouchOutcome:
    number, state = _step(key)
    now = context.clock()
    context.bench.witness(number, state, now=now, seen_at=now, sample="smear")
    text, step = words.STATES.get(state, state), context.bench.step(number)
    part = words.part_of(step.part, step.sheet.name)
    return TouchOutcome(f"Dab of {part} at {context.manner(request).clock(now)}: {text}.")


def _remind(context: PageContext, key: str, _values: Values) -> None:
    number, name = _step(key)
    context.bench.acknowledge(number, name, now=context.clock())


def _emptied(context: PageContext, key: str, _values: Values) -> None:
    context.bench.emptied(_step(key)[0], now=context.clock())


def _in_use(context: PageContext, key: str, _values: Values) -> TouchOutcome:
    context.bench.in_use(_step(key)[0], now=context.clock())
    return TouchOutcome("Asked again in a quarter of an hour.")


def _applied(context: PageContext, key: str, _values: Values) -> TouchOutcome:
    number, how = _step(key)
    starting.answer_applied(context.bench, number, how, now=context.clock())
    return TouchOutcome("Saved in the log.")


def _kind(context: PageContext, key: str, _values: Values) -> TouchOutcome:
    number, kind = _step(key)
    step = context.bench.step(number)
    parts.mark(context.store, step.part, step.job, kind, now=context.clock())
    return TouchOutcome(words.MARKED.get(kind, "Saved."))


def _why(context: PageContext, key: str, _values: Values) -> TouchOutcome:
    number, why = _step(key)
    starting.explain(context.bench, number, why, now=context.clock())
    return TouchOutcome("Saved in the log.")


def _fan(context: PageContext, key: str, _values: Values) -> None:
    number, on = _step(key)
    context.bench.fan(number, on == "on", now=context.clock())


def _bare(context: PageContext, key: str, _values: Values) -> TouchOutcome:
    evening_question.answer(context.bench, key, now=context.clock(), zone=context.zone)
    return TouchOutcome("Saved. Not asked again this evening.")


def _name(context: PageContext, key: str, _values: Values) -> None:
    number, sheet = _step(key)
    mixed.name_touch(context, number, sheet, again(context.bench, sheet), context.clock())


def _again(context: PageContext, key: str, _values: Values) -> None:
    now = context.clock()
    mixed.begin(context, key, again(context.bench, key), now, now)


def _mixed(context: PageContext, _key: str, _values: Values) -> TouchOutcome:
    return TouchOutcome(mixed.keep_touch(context, context.clock()))


ACTS: Mapping[str, Act] = {
    "answer": _answer,
    "answer sure": _answer_sure,
    "applied": _applied,
    "bare metal": _bare,
    "dab": _dab,
    "emptied": _emptied,
    "fan": _fan,
    "in use": _in_use,
    "kind of part": _kind,
    "start again": _again,
    "mixed": _mixed,
    "name touch": _name,
    "remind": _remind,
    "why": _why,
}
