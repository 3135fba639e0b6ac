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
from dashboard.context.page_context import Hall
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


def _answered(hall: Hall, key: str, sure: bool) -> TouchOutcome:
    number, rest = _step(key)
    name, _, result = rest.partition("/")
    now = hall.clock()
    try:
        name = hall.bench.test(number, result, now=now, milestone=name or None, sure=sure)
    except UnlikelyError as error:
        return TouchOutcome(asked=_really(error, name, key))
    step, say = hall.bench.step_view(number, now), hall.manner(request)
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


def _answer(hall: Hall, key: str, _values: Values) -> TouchOutcome:
    return _answered(hall, key, sure=False)


def _answer_sure(hall: Hall, key: str, _values: Values) -> TouchOutcome:
    return _answered(hall, key, sure=True)


def _dab(hall: Hall, key: str, _values: Values) -> TouchOutcome:
    number, state = _step(key)
    now = hall.clock()
    hall.bench.witness(number, state, now=now, seen_at=now, sample="smear")
    text, step = words.STATES.get(state, state), hall.bench.step(number)
    part = words.part_of(step.part, step.sheet.name)
    return TouchOutcome(f"Dab of {part} at {hall.manner(request).clock(now)}: {text}.")


def _remind(hall: Hall, key: str, _values: Values) -> None:
    number, name = _step(key)
    hall.bench.acknowledge(number, name, now=hall.clock())


def _emptied(hall: Hall, key: str, _values: Values) -> None:
    hall.bench.emptied(_step(key)[0], now=hall.clock())


def _in_use(hall: Hall, key: str, _values: Values) -> TouchOutcome:
    hall.bench.in_use(_step(key)[0], now=hall.clock())
    return TouchOutcome("Asked again in a quarter of an hour.")


def _applied(hall: Hall, key: str, _values: Values) -> TouchOutcome:
    number, how = _step(key)
    starting.answer_applied(hall.bench, number, how, now=hall.clock())
    return TouchOutcome("Saved in the log.")


def _kind(hall: Hall, key: str, _values: Values) -> TouchOutcome:
    number, kind = _step(key)
    step = hall.bench.step(number)
    parts.mark(hall.store, step.part, step.job, kind, now=hall.clock())
    return TouchOutcome(words.MARKED.get(kind, "Saved."))


def _why(hall: Hall, key: str, _values: Values) -> TouchOutcome:
    number, why = _step(key)
    starting.explain(hall.bench, number, why, now=hall.clock())
    return TouchOutcome("Saved in the log.")


def _fan(hall: Hall, key: str, _values: Values) -> None:
    number, on = _step(key)
    hall.bench.fan(number, on == "on", now=hall.clock())


def _bare(hall: Hall, key: str, _values: Values) -> TouchOutcome:
    evening_question.answer(hall.bench, key, now=hall.clock(), zone=hall.zone)
    return TouchOutcome("Saved. Not asked again this evening.")


def _name(hall: Hall, key: str, _values: Values) -> None:
    number, sheet = _step(key)
    mixed.name_touch(hall, number, sheet, again(hall.bench, sheet), hall.clock())


def _again(hall: Hall, key: str, _values: Values) -> None:
    now = hall.clock()
    mixed.begin(hall, key, again(hall.bench, key), now, now)


def _mixed(hall: Hall, _key: str, _values: Values) -> TouchOutcome:
    return TouchOutcome(mixed.keep_touch(hall, hall.clock()))


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
