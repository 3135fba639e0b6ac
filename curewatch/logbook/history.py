"""Everything ever entered of a step, in that order: what stood before and what stands now."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from curewatch.durations import duration
from curewatch.events.events import UNDO
from curewatch.events.fields import FIELDS, MIXED_AT, from_event
from curewatch.frozen import frozen
from curewatch.garage.step import Happening, Step, fold
from curewatch.logbook.paper import (
    SAMPLES,
    FieldFormatter,
    look_words,
    test_words,
    turned_words,
)
from curewatch.text import cell, csv_line, short_name
from curewatch.vocabulary import STEP_STATES, reminder_name

if TYPE_CHECKING:
    from curewatch.store.store import Event

LATE = timedelta(minutes=1)
UNCHANGED = "entered again, nothing changed"


@frozen
class Line:
    """One entry: its number, when it was entered (told) and by whom, when it was, in words what and
    why; correction: it changed what stood before; later: it was entered after the mix; clock: said
    where the clock had been put back; undo: it undid something. Its fields are the keys of JSON."""

    number: int
    told: datetime
    at: datetime
    words: str
    by: str = ""
    why: str = ""
    correction: bool = False
    later: bool = False
    clock: str = ""
    undo: bool = False


def _product(step: Step) -> str:
    return short_name(step.sheet.name)


def _amended(
    index: int, events: Sequence[Event], paper: FieldFormatter
) -> Iterator[tuple[str, bool]]:
    event, before = events[index], fold(events[:index])
    if "sheet_id" in event.body:
        yield f"product: {_product(before)} → {_product(fold(events[: index + 1]))}", True
    yield from _changes(event, before, paper)


def _changes(event: Event, before: Step, paper: FieldFormatter) -> Iterator[tuple[str, bool]]:
    for field in (*FIELDS, MIXED_AT):
        if field.name not in event.body:
            continue
        value = from_event(event.body, field.name)
        was, new = before.value(field), paper.field(field, value)
        if value == was:
            continue
        first = was in (None, "")
        old = "" if first else f"{paper.field(field, was)} → "
        yield f"{field.words}: {old}{new}", not first


def _start(event: Event, paper: FieldFormatter) -> str:
    body = event.body
    facts = [
        f"{field.words} {paper.field(field, from_event(body, field.name))}"
        for field in FIELDS
        if body.get(field.name) not in (None, "")
    ]
    answered = body.get("acknowledged")
    reminders = (
        [f"reminders answered: {', '.join(map(reminder_name, answered))}"] if answered else []
    )
    return "; ".join([f"mixed {_product(fold([event]))}", *facts, *reminders])


def _undone(event: Event, events: Sequence[Event], paper: FieldFormatter) -> str:
    """What an undo undid; where it undid another undo, what that brought back."""
    by_number, what, undos = {other.id: other for other in events}, event, 1
    while (undone := by_number.get(what.body["event"])) is not None and undone.id < what.id:
        what = undone
        if what.kind != UNDO:
            break
        undos += 1
    verb = "undone" if undos % 2 else "brought back"
    return verb if what.kind == UNDO else f"{verb}: {words_of(what, events, paper)}"


def words_of(event: Event, events: Sequence[Event], paper: FieldFormatter) -> str:
    """One event in words; `events` are all of its step."""
    if event.damaged:
        return f"{event.kind[:40]}: damaged and left out ({event.damaged})"
    body: dict[str, Any] = dict(event.body)
    match event.kind:
        case "started":
            return _start(event, paper)
        case "witnessed":
            sample = SAMPLES.get(body["sample"], body["sample"])
            return f"{sample}: {look_words(body['state'], body.get('turned_min'))}"
        case "turned":
            return f"dab{turned_words(body['turned_min']) or ', turned some time before'}"
        case "tested":
            return test_words(body["milestone"], body["result"])
        case kind if kind == UNDO:
            return _undone(event, events, paper)
        case "acknowledged":
            return f"reminder answered: {reminder_name(body['key'])}"
        case "noted":
            return f"note: {body['text']}"
        case "amended":
            changed = _amended(events.index(event), events, paper)
            return "; ".join(text for text, _ in changed) or UNCHANGED
        case "finished" | "abandoned":
            return STEP_STATES[event.kind]
    return paper.happening(Happening(event.id, event.kind, event.at, event.recorded_at, body))


def _line(index: int, events: Sequence[Event], paper: FieldFormatter) -> Line:
    event, words, correction = events[index], "", events[index].kind == UNDO
    if event.kind == "amended" and not event.damaged:
        changed = list(_amended(index, events, paper))
        words = "; ".join(text for text, _ in changed) or UNCHANGED
        correction = any(was for _, was in changed)
    else:
        words = words_of(event, events, paper)
    body = {} if event.damaged else event.body
    why = str(body.get("why") or "") if event.kind != "overridden" else ""
    by = str(body.get("by") or "")
    back = (
        max((earlier.recorded_at for earlier in events[:index]), default=event.recorded_at)
        - event.recorded_at
    )
    clock = ""
    if back > timedelta(0):
        clock = f"the clock had been put back {duration(back.total_seconds() / 60)} before this"
    later = event.kind == "amended"
    return Line(
        event.id,
        event.recorded_at,
        event.at,
        words,
        by,
        why,
        correction,
        later,
        clock,
        event.kind == UNDO,
    )


def history(events: Sequence[Event], paper: FieldFormatter) -> list[Line]:
    """Everything entered of a step, in that order, whatever the clock said then."""
    return [_line(index, events, paper) for index in range(len(events))]


def sentence(line: Line, paper: FieldFormatter) -> str:
    """A line of the history on one line of text."""
    when = f" ({paper.stamp(line.at)})" if abs(line.told - line.at) >= LATE else ""
    by = f", by {line.by}" if line.by else ""
    why = f", because {line.why}" if line.why else ""
    clock = f" [{line.clock}]" if line.clock else ""
    return f"{paper.stamp(line.told)}{when}{by}: {line.words}{why}{clock}"


def as_json(line: Line) -> dict[str, Any]:
    """A line of the history as plain data, its instants as RFC 3339."""
    return {
        key: value.isoformat() if isinstance(value, datetime) else value
        for key, value in vars(line).items()
    }


def csv_lines(lines: Sequence[Line]) -> Iterator[str]:
    """The history as CSV (RFC 4180), line by line; instants in UTC."""
    yield csv_line([field.name for field in fields(Line)])
    for line in lines:
        yield csv_line(cell(value) for value in as_json(line).values())
