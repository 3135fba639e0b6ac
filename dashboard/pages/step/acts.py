"""What the buttons and forms of a step's page record: the same functions as everywhere."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from flask import request

from curewatch.bench import finishing, marks
from curewatch.bench.bench import Details
from curewatch.errors import StepError, StillOpenError, UnlikelyError
from curewatch.events.fields import BY_NAME, MIXED_AT, MOMENT, PLACE, Field
from curewatch.gate import starting
from curewatch.logbook import undo as undoing
from curewatch.quality.places import known_places, place_named
from curewatch.units import parse_film, parse_temperature
from curewatch.wording import milestone_words, words
from dashboard.context.page_context import PageContext
from dashboard.pages.step import asked
from dashboard.pages.touches import Act, TouchOutcome, at_field
from dashboard.request.boxes import in_unit
from dashboard.request.forms import ago_of

PRODUCT = "product"
Values = Mapping[str, Any]


def text_of(values: Values, name: str) -> str:
    """A field of the form, trimmed."""
    return str(values.get(name) or "").strip()


def _then(values: Values, now: datetime, name: str = "ago") -> datetime:
    """An instant typed as minutes ago."""
    with at_field(name):
        return now - ago_of(text_of(values, name) or "0")


def dab(context: PageContext, key: str, values: Values) -> TouchOutcome:
    """Record what the dab does: the button's value is its state, the key has the sample."""
    number, _, sample = key.partition("/")
    state, now = text_of(values, "send"), context.clock()
    seen = _then(values, now)
    context.bench.witness(int(number), state, now=now, seen_at=seen, sample=sample or "smear")
    text = f"Dab at {context.manner(request).clock(seen)}: {words.STATES.get(state, state)}."
    return TouchOutcome(text=text)


def turned(context: PageContext, key: str, _values: Values) -> None:
    """When the dab turned, before that look."""
    number, look, minutes = key.split("/")
    turned_min = float(minutes) if minutes else None
    marks.turned(context.bench, int(number), turned_min, now=context.clock(), look=int(look))


def answer(context: PageContext, key: str, _values: Values, sure: bool = False) -> TouchOutcome:
    """Record what a test found; asks once more what can hardly be."""
    number, milestone, result = key.split("/")
    now = context.clock()
    try:
        name = context.bench.test(int(number), result, now=now, milestone=milestone, sure=sure)
    except UnlikelyError as error:
        return TouchOutcome(question=asked.really(error.what, milestone, key))
    tested = context.bench.step_view(int(number), now).by_name.get(name)
    text = milestone_words.recorded(result, tested, now, context.manner(request))
    return TouchOutcome(text=text)


def answer_sure(context: PageContext, key: str, values: Values) -> TouchOutcome:
    """The same once it was asked about."""
    return answer(context, key, values, sure=True)


def finish(
    context: PageContext, key: str, _values: Values, sure: bool = False
) -> TouchOutcome | None:
    """Take it off the bench; asks where it must still be waited for."""
    try:
        say = context.manner(request)
        finishing.finish(context.bench, int(key), now=context.clock(), say=say, sure=sure)
    except StillOpenError as error:
        return TouchOutcome(question=asked.finish_anyway(error.what, key))
    return None


def finish_sure(context: PageContext, key: str, values: Values) -> TouchOutcome | None:
    """The same once it was asked about."""
    return finish(context, key, values, sure=True)


def failed(context: PageContext, key: str, values: Values) -> None:
    """Take it off the bench because it failed."""
    with at_field("why"):
        context.bench.abandon(int(key), text_of(values, "why"), now=context.clock())


def emptied(context: PageContext, key: str, _values: Values) -> None:
    """Cup empty, tools cleaned."""
    context.bench.emptied(int(key), now=context.clock())


def undo_event(context: PageContext, key: str, _values: Values) -> None:
    """Undo what recorded an event, or bring it back."""
    number, event = map(int, key.split("/"))
    act = undoing.act_of_event(context.store, number, event)
    undoing.undo(context.bench, act, now=context.clock())


def mark(context: PageContext, key: str, values: Values) -> TouchOutcome:
    """A coat, or clamps on or off; the button's value says which."""
    now = context.clock()
    with at_field("film"):
        film = text_of(values, "film")
        film_um = in_unit(film, "um", parse_film) if film else None
        marks.check_film(film_um)
    at, what = _then(values, now), text_of(values, "send")
    with at_field("ago"):
        marks.mark(context.bench, int(key), what, now=now, at=at, film_wet_um=film_um)
    return TouchOutcome(clear=True)


def note(context: PageContext, key: str, values: Values) -> TouchOutcome:
    """A note."""
    with at_field("text"):
        context.bench.note(int(key), text_of(values, "text"), now=context.clock())
    return TouchOutcome(clear=True)


def reminded(context: PageContext, key: str, _values: Values) -> None:
    """A reminder is answered."""
    number, _, name = key.partition("/")
    context.bench.acknowledge(int(number), name, now=context.clock())


def _value(context: PageContext, field: Field, text: str, now: datetime) -> Any:
    if field.kind is MOMENT:
        return now - ago_of(text)
    if field.kind is PLACE:
        return place_named(text, known_places(context.store, context.settings))
    kind = field.kind
    return in_unit(text, kind.unit, kind.parse) if kind.unit else kind.parse(text)


def _reason(values: Values) -> dict[str, Any]:
    return {name: text_of(values, name) for name in ("why", "by")}


def correct(context: PageContext, key: str, values: Values) -> TouchOutcome:
    """Enter or correct one field; of a choice the button's value is the new one."""
    number, _, name = key.partition("/")
    now, field = context.clock(), BY_NAME.get(name)
    if field is None:
        raise StepError("there is no such field", fix="load the page again")
    text = text_of(values, "value") or text_of(values, "send")
    with at_field("value"):
        if not text:
            raise StepError("nothing was typed", fix="type the value, then save")
        if field is MIXED_AT:
            at = now - ago_of(text)
            context.bench.amend(int(number), Details(), now=now, mixed_at=at, **_reason(values))
        else:
            details = Details(**{name: _value(context, field, text, now)})
            context.bench.amend(int(number), details, now=now, **_reason(values))
    return TouchOutcome(clear=True)


def product(context: PageContext, key: str, values: Values) -> None:
    """It was another product, or this one as its label is now."""
    sheet, now = text_of(values, "send"), context.clock()
    context.bench.amend(int(key), Details(), now=now, sheet_id=sheet, **_reason(values))


def explained(context: PageContext, key: str, values: Values) -> None:
    """Why it was mixed despite a stop."""
    why = text_of(values, "send") or text_of(values, "why")
    with at_field("why"):
        starting.explain(context.bench, int(key), why, now=context.clock())


def _own_place(context: PageContext, number: int, text: str) -> None:
    """Let the step follow the place that is entered, where that is another one."""
    place = text and place_named(text, known_places(context.store, context.settings), own=True)
    if place and place != context.bench.step(number).place:
        context.bench.amend(
            number, Details(place=place), now=context.clock(), why="heated by itself"
        )


def heat(context: PageContext, key: str, values: Values) -> TouchOutcome:
    """Heat on it, by the wall clock."""
    number, now, say = int(key), context.clock(), context.manner(request)
    with at_field("surface"):
        warm = text_of(values, "surface")
        warm_c = in_unit(warm, say.unit, parse_temperature) if warm else None
    step, order = context.bench.step(number), context.date_order(request)
    start, until = text_of(values, "from"), text_of(values, "until")
    with at_field("until"):
        spell = marks.spell(step, start, until, warm_c, now, context.zone, order)
    with at_field("place"):
        _own_place(context, number, text_of(values, "place"))
    why = text_of(values, "why")
    marks.heat(context.bench, number, spell, now=now, say=say, why=why)
    return TouchOutcome(clear=True)


ACTS: dict[str, Act] = {
    "step dab": dab,
    "step turned": turned,
    "step answer": answer,
    "step answer sure": answer_sure,
    "step finish": finish,
    "step finish sure": finish_sure,
    "step failed": failed,
    "step emptied": emptied,
    "step undo": undo_event,
    "step mark": mark,
    "step note": note,
    "step reminder": reminded,
    "step field": correct,
    "step product": product,
    "step why": explained,
    "step heat": heat,
}
