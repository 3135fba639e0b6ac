"""What the forms of the plan record, each wrong entry said at its own box."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from flask import request

from curewatch.days import parse_day
from curewatch.errors import ConfigError, QuantityError, StepError
from curewatch.units import parse_duration
from curewatch.walltime import clock_time, next_time
from curewatch.ways import entered, words
from curewatch.ways.entered import PartWish
from curewatch.ways.hours import parse_week
from curewatch.ways.left import begin_next, known_part
from curewatch.ways.way import MOST_HANDS_MIN, generic_text, generic_ways, parse_way, with_hands
from dashboard.context import planning
from dashboard.context.page_context import PageContext
from dashboard.context.planning import APART, BEGUN
from dashboard.pages.plan.answers import LET_GO, REMIND
from dashboard.pages.plan.asked import DAY, DROP, HOURS, MINUTES, WISH
from dashboard.pages.plan.steps import STEPS, save_steps
from dashboard.pages.touches import Act, TouchOutcome, at_field
from dashboard.request.boxes import in_unit
from dashboard.request.numbers import number_of

Values = Mapping[str, Any]
MOST_CLAMPS = 1000


def _text(values: Values, field: str) -> str:
    return str(values.get(field) or "").strip()


def _clamps(text: str) -> int | None:
    """How many clamps, as typed; None where the box is empty. Raises QuantityError."""
    count = number_of(text)
    if text and (count is None or not 1 <= count <= MOST_CLAMPS):
        raise QuantityError(f"{text[:20]!r} is no number of clamps", fix="write it like 12")
    return count


def _hours(context: PageContext, _key: str, values: Values) -> None:
    week, loud = _text(values, "week"), _text(values, "loud")
    with at_field("week"):
        parse_week(week)
    with at_field("loud"):
        if loud:
            clock_time(loud)
    with at_field("clamps"):
        owned = _clamps(_text(values, "clamps"))
    entered.set_hours(context.store, week, loud, now=context.clock())
    if owned is not None and owned != entered.clamps(context.store):
        entered.set_clamps(context.store, owned, now=context.clock())


def _named_day(context: PageContext, text: str) -> date:
    """A day by its name or date. Raises ConfigError."""
    order = context.date_order(request)
    try:
        at = next_time(f"{text} 23:59", context.clock(), context.zone, order)
    except ConfigError:
        return parse_day(text, order)
    return at.astimezone(context.zone).date()


def _day(context: PageContext, _key: str, values: Values) -> TouchOutcome:
    with at_field("day"):
        day = _named_day(context, _text(values, "day"))
    with at_field("hours"):
        entered.set_otherwise(context.store, day, _text(values, "hours"), now=context.clock())
    return TouchOutcome(clear=True)


def _by(context: PageContext, text: str) -> datetime | None:
    return (
        next_time(text, context.clock(), context.zone, context.date_order(request))
        if text
        else None
    )


def _way(context: PageContext, part: str, job: str, id: str) -> None:
    """Keep the way that was chosen; one that stands is left as it was corrected."""
    text = generic_text(id) if id in generic_ways() else entered.own_text(context.store, id)
    if text is None:
        raise StepError("how is it worked on?", fix="choose one")
    present = entered.way_of(context.store, part, job)
    if present is None or present.id != id:
        entered.set_way(context.store, part, job, id, text, now=context.clock())


def _wish(context: PageContext, _key: str, values: Values) -> TouchOutcome:
    now, id, end = context.clock(), _text(values, "way"), _text(values, "end")
    with at_field("part"):
        part, job = known_part(context.bench, _text(values, "part"), "", now)
    with at_field("by"):
        wish = PartWish(end, _by(context, _text(values, "by")))
    with at_field("end"):
        if way := (generic_ways() | entered.own_ways(context.store)).get(id):
            way.until(end)
    with context.store.together():
        with at_field("way"):
            _way(context, part, job, id)
        with at_field("end"):
            entered.set_wish(context.store, part, job, wish, now=now)
    text = words.wish_words(wish, now, context.manner(request))
    return TouchOutcome(text=f"Saved: {part}, {text}.", clear=False)


def _dropped(context: PageContext, key: str, _values: Values) -> None:
    part, _, job = key.partition(APART)
    entered.drop_wish(context.store, part, job, now=context.clock())


def _hands_min(text: str) -> float:
    """How long the hands are on a step, as typed. [min] Raises QuantityError."""
    hands_min = in_unit(text, "min", parse_duration)
    if not 0 < hands_min <= MOST_HANDS_MIN:
        raise QuantityError(f"{text!r} is no length of work", fix="write it in minutes, like 30")
    return hands_min


def _minutes(context: PageContext, key: str, values: Values) -> None:
    """Keep a part's way with other hands-on minutes."""
    part, _, job = key.partition(APART)
    own_way = entered.way_text(context.store, part, job)
    if own_way is None:
        raise StepError(f"{part} has no way of work yet", fix="enter a wish for it")
    (id, text), hands_min = own_way, list[float]()
    for number in range(len(parse_way(text, id).steps)):
        with at_field(str(number)):
            hands_min.append(_hands_min(_text(values, str(number))))
    entered.set_way(context.store, part, job, id, with_hands(text, hands_min), now=context.clock())


def _begun(context: PageContext, key: str, _values: Values) -> None:
    """Keep that a part's next step was begun, which takes no product."""
    part, _, job = key.partition(APART)
    begin_next(context.bench, part, job, context.clock())


def _remind(context: PageContext, _key: str, _values: Values) -> None:
    planning.take_over(context)


def _let_go(context: PageContext, _key: str, _values: Values) -> None:
    from curewatch.week import taken

    taken.let_go(context.store, now=context.clock())


ACTS: dict[str, Act] = {
    BEGUN: _begun,
    REMIND: _remind,
    LET_GO: _let_go,
    STEPS: save_steps,
    HOURS: _hours,
    DAY: _day,
    WISH: _wish,
    DROP: _dropped,
    MINUTES: _minutes,
}
