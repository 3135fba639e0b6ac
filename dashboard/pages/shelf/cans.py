"""Cans on the pages: a table with the days left, what a touch records of one, and its boxes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from dash import html
from flask import request

from curewatch.days import Order, day_words, parse_day, parse_expiry
from curewatch.durations import ago
from curewatch.formats import ReaderFormat
from curewatch.garage import cans, storage
from curewatch.garage.cans import Can, CanDetails
from curewatch.garage.storage import StoredCan
from curewatch.products.shelf_life import local_day
from curewatch.units import minutes
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.pages.components import first_up, link, table
from dashboard.pages.day_box import day_box
from dashboard.pages.touches import Act, Form, TouchOutcome, at_field, button
from dashboard.request.numbers import number_of

ADD, CORRECT = "add can", "correct can"
OPENED, USED_UP, IN_USE = "can opened", "can used up", "can in use"
_TEXTS = {"batch": "Batch", "hardener_batch": "Hardener batch", "stored": "Stored where"}
_DAYS: dict[str, tuple[str, Callable[[str, Order | None], date]]] = {
    "bought": ("Bought", parse_day),
    "opened": ("Opened", parse_day),
    "expiry": ("Expiry, as printed", parse_expiry),
}
_USUAL_DAYS, _WHY = 365, {"printed": "printed", "bought": "from the day bought", "opened": "opened"}


def name_of(can: Can) -> str:
    """What a can is called beside others of its product."""
    return f"batch {can.batches}" if can.batches else f"can {can.id}"


def life_days(kept: StoredCan) -> int:
    """The whole of its life that the bar stands for: from the day it was opened or bought, else a
    year. [days]"""
    can, last = kept.can, kept.use_by
    if last is None:
        return _USUAL_DAYS
    begun = can.opened if last.why == "opened" else can.bought
    return max((last.day - begun).days, 1) if begun else _USUAL_DAYS


def _days_left(kept: StoredCan) -> Any:
    if kept.can.used_up:
        return "used up"
    if kept.days is None:
        return "no expiry entered"
    if kept.days < 0:
        return html.Span(f"{_counted(-kept.days)} over", className="gone")
    attributes: dict[str, Any] = {"aria-label": f"{_counted(kept.days)} left"}
    whole = max(life_days(kept), kept.days)
    kind = "soon" if kept.days <= storage.SOON_DAYS else None
    bar = html.Meter(value=str(kept.days), min="0", max=str(whole), className=kind, **attributes)
    return [html.Span("last day today" if kept.days == 0 else _counted(kept.days)), bar]


def _counted(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"


def _last_day(kept: StoredCan) -> list[Any]:
    if kept.use_by is None:
        return []
    return [day_words(kept.use_by.day), html.Small(_WHY[kept.use_by.why])]


def _opened(can: Can, now: datetime) -> list[Any]:
    opened = day_words(can.opened) if can.opened else "" if can.used_up else "not opened"
    used = html.Small(f"last used {ago(minutes(now - can.last_used))}") if can.last_used else None
    return [opened, used]


def _stored(kept: StoredCan, now: datetime, say: ReaderFormat) -> list[Any]:
    measured = storage.stored_words(kept, now, say) or kept.can.stored
    wrong = "gone" if kept.too_cold or kept.too_hot else None
    tonight = storage.tonight_words(kept, now, say)
    cold = html.B(first_up(tonight), className="indoors") if tonight else None
    return [line for line in (measured and html.Span(measured, className=wrong), cold) if line]


def _acts(can: Can) -> html.Div:
    key = str(can.id)
    attributes: dict[str, Any] = {"aria-label": f"Correct {name_of(can)}"}
    address = f"/shelf/{can.sheet_id}?can={key}"
    correct = html.A("Correct", href=address, className="button", **attributes)
    if can.used_up:
        return html.Div([button("Not used up", IN_USE, key), correct], className="buttons")
    begun = [] if can.opened else [button("Opened today", OPENED, key)]
    return html.Div([*begun, button("Used up", USED_UP, key), correct], className="buttons")


def _name(kept: StoredCan, of_one: bool) -> list[Any]:
    can = kept.can
    state = html.Small("in use") if kept.in_use else None
    if of_one:
        return [first_up(name_of(can)), state]
    product = link(words.short_name(kept.sheet.name), f"/shelf/{can.sheet_id}", button=False)
    return [product, html.Small(name_of(can)), state]


def cans_table(
    kept: Sequence[StoredCan], now: datetime, say: ReaderFormat, *, of_one: bool = False
) -> html.Div:
    """The cans with the days left; of_one: all are of the page's product."""
    head = ("Can", "Days left", "Last day", "Opened", "Stored", "")
    rows = [
        [
            _name(can, of_one),
            _days_left(can),
            _last_day(can),
            _opened(can.can, now),
            _stored(can, now, say),
            _acts(can.can),
        ]
        for can in kept
    ]
    return html.Div(table(head, rows, "Cans"), className="cans")


def kept_cans(context: PageContext, sheet_id: str | None = None) -> list[StoredCan]:
    """How the cans of one product keep, or all cans."""
    return storage.stored_cans(context.bench.reader, context.clock(), context.zone, sheet_id)


def boxes(form: Form, can: Can | None = None) -> html.Div:
    """The boxes of a can, filled with what is known of it."""
    days = [
        day_box(form, name, label, day_words(day) if (day := getattr(can, name, None)) else "")
        for name, (label, _) in _DAYS.items()
    ]
    texts = [
        form.box(name, label, getattr(can, name, ""), maxLength=cans.LONGEST_TEXT)
        for name, label in _TEXTS.items()
    ]
    return html.Div([*texts[:2], *days, texts[2]], className="fields")


def new_form(sheet_id: str) -> html.Div:
    """The boxes of a new can."""
    form = Form(ADD, sheet_id)
    return html.Div([boxes(form), form.wrong(), html.P(form.send("Save can"), className="buttons")])


def correct_form(can: Can) -> html.Section:
    """The boxes of a can that is corrected."""
    form = Form(CORRECT, str(can.id))
    done = html.P(
        [form.send("Save can"), link("Cancel", f"/shelf/{can.sheet_id}")], className="buttons"
    )
    title = html.H2(f"Correct {name_of(can)}")
    return html.Section([title, boxes(form, can), form.wrong(), done], className="correct")


def _details(
    context: PageContext, values: Mapping[str, Any], before: Can | None = None
) -> CanDetails:
    """What the boxes say, each wrong date at its own box; before: a box left as it was says
    nothing. Raises WrongField."""
    order, typed = context.date_order(request), dict[str, Any]()
    for name, (_, parse) in _DAYS.items():
        text = str(values.get(name) or "").strip()
        with at_field(name):
            typed[name] = parse(text, order) if text else None
    for name in _TEXTS:
        typed[name] = str(values.get(name) or "").strip() or None
    if before is not None:
        typed = {name: None if value == getattr(before, name) else value
                 for name, value in typed.items()}  # fmt: skip
    return CanDetails(**typed)


def _with_days(text: str, details: CanDetails) -> str:
    """What was done, with the dates as they were read."""
    days = cans.days_in(details.body())
    return f"{text}: {days}." if days else f"{text}."


def _added(context: PageContext, key: str, values: Mapping[str, Any]) -> TouchOutcome:
    details = _details(context, values)
    cans.add(context.store, key, details, now=context.clock())
    return TouchOutcome(_with_days("Can saved", details), clear=True)


def _corrected(context: PageContext, key: str, values: Mapping[str, Any]) -> TouchOutcome:
    can = _can(context, key)
    details = _details(context, values, can)
    cans.amend(context.store, can.id, details, now=context.clock())
    return TouchOutcome(_with_days("Saved", details), go=f"/shelf/{can.sheet_id}")


def _can(context: PageContext, key: str) -> Can:
    return cans.find_can(context.store, number_of(key) or 0)


def _opened_today(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    now = context.clock()
    cans.opened(context.store, _can(context, key).id, local_day(now, context.zone), now=now)
    return TouchOutcome("Opened today.")


def _used_up(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    cans.used_up(context.store, _can(context, key).id, now=context.clock())
    return TouchOutcome("Used up.")


def _back_in_use(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    cans.used_up(context.store, _can(context, key).id, now=context.clock(), back=True)
    return TouchOutcome("Back in use.")


ACTS: Mapping[str, Act] = {
    ADD: _added,
    CORRECT: _corrected,
    OPENED: _opened_today,
    USED_UP: _used_up,
    IN_USE: _back_in_use,
}
