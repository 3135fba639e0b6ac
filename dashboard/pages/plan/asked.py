"""What is asked for a plan: when somebody is there, and what is wished; and what was entered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from dash import dcc, html
from flask import request

from curewatch.days import day_words
from curewatch.formats import ReaderFormat
from curewatch.store.store import Store
from curewatch.ways import entered, words
from curewatch.ways.hours import DAYS, DaySpell, Hours
from curewatch.ways.way import Way, generic_ways
from dashboard.context.page_context import PageContext
from dashboard.context.planning import form_key
from dashboard.pages.components import first_up
from dashboard.pages.plan.steps import steps_link
from dashboard.pages.touches import Form, button

HOURS, DAY, WISH, DROP, MINUTES = (
    *("plan hours", "plan day", "plan wish", "plan wish dropped"),
    "plan minutes",
)
WEEK_EXAMPLE = "Mon-Fri 18:00-22:30, Sat 9-18"


def _picked(form: Form, field: str, legend: str, options: Mapping[str, str], value: str) -> Any:
    kept: dict[str, Any] = {"persistence": True, "persistence_type": "memory"}
    picked = dcc.RadioItems(
        id=form.id(field), options=dict(options), value=value, className="picks-one", **kept
    )
    return html.Fieldset([html.Legend(legend), picked, form.wrong(field)], className="choices")


def hours_box(store: Store) -> html.Section:
    """When somebody is there and until when it may be loud."""
    form, typed = Form(HOURS), entered.typed_hours(store)
    week, loud = typed or ("", "")
    owned = entered.clamps(store)
    boxes = [
        form.box("week", "When are you in the garage?", week, placeholder=WEEK_EXAMPLE),
        form.box("loud", "It may be loud until", loud, placeholder="20:00"),
        form.box(
            "clamps",
            "Clamps you own",
            "" if owned is None else str(owned),
            placeholder="12",
            inputMode="numeric",
        ),
    ]
    return html.Section(
        [
            html.H2("Your hours"),
            html.Div(boxes, className="fields plan-hours"),
            html.P(form.send("Save", kind=None), className="buttons"),
        ]
    )


def _spells(spells: tuple[DaySpell, ...]) -> str:
    texts = (f"{spell.start:%H:%M} to {spell.end:%H:%M}" for spell in spells)
    return ", ".join(texts) or "not there"


def _week(hours: Hours) -> Iterator[str]:
    for name, spells in zip(DAYS, hours.week, strict=True):
        yield f"{first_up(name)}: {_spells(spells)}"
    for day, spells in sorted(hours.exceptions.items()):
        yield f"{day_words(day)}: {_spells(spells)}"


def other_day(hours: Hours) -> html.Details:
    """The week as it is known, and a day that is otherwise."""
    form = Form(DAY)
    boxes = [
        form.box("day", "A day that differs", placeholder="Thu"),
        form.box("hours", "You are there (empty: not at all)", placeholder="9-13"),
    ]
    listed = html.Ul([html.Li(text) for text in _week(hours)], className="plain")
    save = html.P(form.send("Save", kind=None), className="buttons")
    summary = html.Summary("Days, one by one")
    return html.Details([summary, listed, html.Div(boxes, className="fields"), save])


def _ends(ways: Mapping[str, Way]) -> dict[str, str]:
    """What a part can be wished to be by any of the ways."""
    ends = dict.fromkeys(end for way in ways.values() for end in way.ends)
    return {"": "Finished"} | {end: first_up(end) for end in ends}


def wish_box(store: Store, wished: bool) -> html.Section:
    """What is wished of a part; known: whether anything is wished yet."""
    form, known_ways = Form(WISH), generic_ways() | entered.own_ways(store)
    ways = {id: way.name for id, way in known_ways.items()}
    return html.Section(
        [
            html.H2("Another wish" if wished else "What should be done, and by when?"),
            html.Div(
                [
                    form.box("part", "Part", placeholder="rear corner", maxLength=120),
                    form.box("by", "By when", placeholder="Sat 12:00"),
                ],
                className="fields",
            ),
            _picked(form, "way", "How is it worked on?", ways, next(iter(ways))),
            _picked(form, "end", "How far should it get?", _ends(known_ways), ""),
            form.wrong(),
            html.P("Without a time, it is planned as early as possible.", className="hint"),
            html.P(form.send("Save the wish"), className="buttons"),
        ]
    )


def _minutes(way: Way, part: str, job: str) -> html.Details:
    """The steps of a part with their hands-on minutes, to be corrected."""
    form = Form(MINUTES, form_key(part, job))
    boxes = [
        form.box(str(number), f"{first_up(step.does)}, min", f"{step.hands_min:g}",
                 inputMode="decimal")
        for number, step in enumerate(way.steps)
    ]  # fmt: skip
    save = html.P(form.send("Save", kind=None), className="buttons")
    summary = html.Summary(f"Hands-on minutes: {part}")
    return html.Details([summary, html.Div(boxes, className="fields"), save])


def _wish(context: PageContext, part: str, job: str, say: ReaderFormat) -> html.Section | None:
    """One wish, its way, and the touch that drops it."""
    wish, way = entered.wish_of(context.store, part, job), entered.way_of(context.store, part, job)
    if wish is None or way is None:
        return None
    named: dict[str, Any] = {"aria-label": f"Drop the wish: {part}"}
    text = f"{words.wish_words(wish, context.clock(), say)}; {way.name.lower()}"
    drop = button("Drop the wish", DROP, form_key(part, job), **named)
    return html.Section(
        [
            html.P([html.B(part), f": {text}."]),
            html.Div(
                [
                    html.P([drop, steps_link(part, job)], className="buttons"),
                    _minutes(way, part, job),
                ]
            ),
        ],
        className="wish",
    )


def wishes(context: PageContext) -> list[Any]:
    """What is wished, each to be dropped or changed."""
    say, named = context.manner(request), entered.wished(context.store)
    if not named:
        return []
    return [html.H2("Wishes"), *[_wish(context, part, job, say) for part, job in named]]
