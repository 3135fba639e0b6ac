"""One part: what was last and what is next on it, its bare metal, whether it is structural."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any
from urllib.parse import urlencode

from dash import html
from flask import request

from curewatch.errors import StepError
from curewatch.garage import evening, parts
from curewatch.garage.part_history import Part
from curewatch.plan import sentences
from curewatch.plan.next_action import Card, Cards
from curewatch.walltime import last_time
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.pages.components import first_up, link
from dashboard.pages.touches import LEAVE, Act, Form, TouchOutcome, at_field, button

CURING = "hardening"
_NO_TIMES = "Then no times are given here: the maker's procedure and licensed practice decide."


def key_of(part: Part, *more: str) -> str:
    """What a button about a part sends: its name, job and place, and what more it says."""
    return json.dumps([part.name, part.job, part.place, *more])


def named(key: str) -> tuple[str, str, str]:
    """Name, job and place out of a button's key. Raises StepError where it holds none."""
    name, job, place, *_ = _of_key(key)
    return name, job, place


def _of_key(key: str) -> list[str]:
    try:
        fields = json.loads(key)
    except ValueError:
        fields = None
    if (
        not isinstance(fields, list)
        or len(fields) < 3
        or not all(isinstance(e, str) for e in fields)
    ):
        raise StepError("there is no such part", fix="see them under Parts")
    return fields


def asks(card: Card) -> str:
    """What must be known of the metal after a step went over it."""
    return f"Step {card.part.asked_step} went over it: is any metal still bare?"


def metal_boxes(form: Form) -> list[html.Div]:
    """Since when, with what grit and what it was cleaned with."""
    return [
        form.box("since", "Since", placeholder="18:00, or now"),
        form.box("grit", "Grit", placeholder="80", maxLength=40),
        form.box("cleaned_with", "Cleaned with", placeholder="panel wipe"),
    ]


def _structural(card: Card) -> html.Section:
    answers = [
        button(text, "mark part", key_of(card.part, value), **_pressed(card.joint == value))
        for value, text in words.STRUCTURAL.items()
    ]
    hint = html.P(f"{words.STRUCTURAL_IF} {_NO_TIMES}")
    components = [html.H2("Is it structural?"), hint, html.P(answers, className="buttons")]
    return html.Section(components, className="wanted" if card.joint == "asked" else None)


def _pressed(pressed: bool) -> dict[str, Any]:
    return {"aria-pressed": "true"} if pressed else {}


def _facts(context: PageContext, card: Card) -> html.Dl:
    """What was last, what is next, since when metal is bare."""
    now, say = context.clock(), context.manner(request)
    last: Any = first_up(sentences.last_words(card, now, say))
    if card.step:
        last = link(last, f"/step/{card.step.id}", button=False)
    rows: list[tuple[str, Any]] = [("Last", last)]
    if not card.structural:
        fits = sentences.fits_words(card, now, say)
        end = html.Span(fits, className=f"fits-{card.fits}") if fits else None
        rows.append(("Next", [html.B(first_up(sentences.next_words(card, now, say))), end]))
    if card.part.bare_since:
        rows.append(("Metal", html.Strong(first_up(sentences.bare_words(card.part, now, say)))))
    return html.Dl(
        [html.Div([html.Dt(name), html.Dd(value)]) for name, value in rows], className="where"
    )


def _mix(card: Card) -> Any:
    """The way to the mix that comes next."""
    if not card.action.sheet_id or card.structural:
        return None
    query = urlencode({"part": card.part.name, "job": card.part.job})
    text = f"Mix {words.short_name(card.action.product)}"
    return html.P(link(text, f"/mix/{card.action.sheet_id}?{query}"), className="buttons")


def _metal(card: Card) -> Any:
    """Whether metal is still bare."""
    key = key_of(card.part)
    if card.part.asked_step:
        answers = [
            button("Still bare beside it", "still bare", key),
            button("All covered", "covered", key),
        ]
        return html.Section([html.H2(asks(card)), html.P(answers, className="buttons")])
    if card.part.bare_since:
        stop = button("It is covered", "covered", key)
        return html.Section([html.H2("Bare metal"), html.P(stop, className="buttons")])
    return None


def _cleaned(part: Part) -> html.Section:
    form = Form("cleaned again", key_of(part))
    start = html.P([form.send("Bare-metal timer: start", kind=None)], className="buttons")
    again = " again" if part.bare_since else ""
    boxes = html.Div(metal_boxes(form), className="fields")
    return html.Section([html.H2(f"Cleaned to bare metal{again}"), boxes, form.wrong(), start])


def _curing(context: PageContext, card: Card) -> str:
    """What still cures on a part, in words; '' where nothing does."""
    if card.step is None or card.step.state != CURING:
        return ""
    now, say = context.clock(), context.manner(request)
    product = words.short_name(card.step.sheet.name)
    return f"{product} on it is still curing. {first_up(sentences.next_words(card, now, say))}."


def _finish(context: PageContext, key: str, _values: Mapping[str, Any], sure: bool = False) -> Any:
    """The part is finished; asked once more while something cures on it."""
    name, job, _ = named(key)
    now = context.clock()
    card = None if sure else Cards(context.bench).one(name, job, now, None)
    if card is not None and (curing := _curing(context, card)):
        return TouchOutcome(question=_finish_anyway(curing, key))
    parts.done(context.store, name, job, now=now)
    return None


def _finish_anyway(curing: str, key: str) -> list[Any]:
    answers = [
        button("Finish anyway", "part finished sure", key),
        button("Not finished", LEAVE, key),
    ]
    return [
        html.H2("Finish the part anyway?"),
        html.P(curing, className="problem"),
        html.P("Its step stays on the bench; the part moves to Finished."),
        html.Div(answers, className="buttons"),
    ]


def _finished(card: Card) -> Any:
    if card.part.done or card.structural:
        return None
    finish = button("Finished", "part finished", key_of(card.part))
    head = html.H2("Is this part finished?")
    return html.Section([head, html.P(finish, className="buttons")])


def content(context: PageContext, name: str, job: str) -> list[Any]:
    """The page of a part. Raises StepError where there is none."""
    now = context.clock()
    card = Cards(context.bench).one(
        name, job, now, evening.stop_of(context.store, now, context.zone)
    )
    if card is None:
        raise StepError("there is no such part", fix="see them under Parts")
    unsure = card.joint == "asked"
    return [
        html.Div(
            [html.H1(card.part.name), html.P(link("All parts", "/parts"), className="buttons")],
            className="head",
        ),
        html.P(card.part.job, className="lead") if card.part.job else None,
        _structural(card) if unsure else None,
        _facts(context, card),
        _mix(card),
        _metal(card),
        _cleaned(card.part),
        _finished(card),
        None if unsure else _structural(card),
    ]


def _of_part(record: Callable[..., Any]) -> Act:
    """The act that records one thing of a part."""

    def act(context: PageContext, key: str, _values: Mapping[str, Any]) -> None:
        name, job, _ = named(key)
        record(context.store, name, job, now=context.clock())

    return act


def _mark(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    name, job, _ = named(key)
    kind = _of_key(key)[-1]
    parts.mark(context.store, name, job, kind, now=context.clock())
    return TouchOutcome(text=words.MARKED[kind])


def bared(
    context: PageContext, name: str, job: str, values: Mapping[str, Any], place: str = ""
) -> TouchOutcome:
    """Record that a part was cleaned to bare metal, as a form says it."""
    now, since = context.clock(), (values.get("since") or "").strip()
    with at_field("since"):
        at = last_time(since, now, context.zone, context.date_order(request)) if since else now
    more = {key: values.get(key) or "" for key in ("grit", "cleaned_with")}
    parts.bared(context.store, name, job, now=now, since=at, place=place, **more)
    return TouchOutcome(clear=True)


def _again(context: PageContext, key: str, values: Mapping[str, Any]) -> TouchOutcome:
    name, job, place = named(key)
    return bared(context, name, job, values, place)


ACTS: dict[str, Act] = {
    "cleaned again": _again,
    "covered": _of_part(parts.covered),
    "still bare": _of_part(parts.still_bare),
    "part finished": _finish,
    "part finished sure": partial(_finish, sure=True),
    "mark part": _mark,
}
