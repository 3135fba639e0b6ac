"""An event of a step and an entry of the ledger as JSON: one schema for what goes out and comes in.

What their bodies may say is the table in `events/bodies.py`.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from curewatch.events.bodies import BODIES, FORGOT, wrong_with, wrong_with_name
from curewatch.events.events import UNDO, Entry, Event
from curewatch.events.json_schema import TIME, Fault, Schema, object_of, text, whole
from curewatch.vocabulary import in_present_words
from curewatch.walltime import to_ms

KEY, NUMBER = text(0, 200), whole(1)
_BOTH: Schema = {"kind": KEY, "at": TIME, "told": TIME, "body": {"type": "object"}}
_ACT: Schema = {"act": whole()}
EVENT_SHAPE = object_of({"event": NUMBER, **_BOTH}, optional=_ACT)
ENTRY_SHAPE = object_of({"entry": NUMBER, "subject": KEY, "name": KEY, **_BOTH}, optional=_ACT)


def _when(kind: str, body: Schema, subject: str = "") -> Schema:
    about: Schema = {"subject": {"enum": [subject]}} if subject else {}
    named: Schema = {"properties": about | {"kind": {"enum": [kind]}}}
    return {"if": named, "then": {"properties": {"body": body}}}


def _with_bodies(shape: Schema, *, of_steps: bool) -> Schema:
    """The shape with what the body of each kind may say, as it is published."""
    kinds = [
        _when(kind, body, subject)
        for (subject, kind), body in BODIES.items()
        if of_steps == (subject == "")
    ]
    return shape | {"allOf": [_when(UNDO, FORGOT), *kinds]}


EVENT = _with_bodies(EVENT_SHAPE, of_steps=True)
ENTRY = _with_bodies(ENTRY_SHAPE, of_steps=False)


def as_text(at: datetime) -> str:
    """An instant as RFC 3339 in UTC, to the millisecond."""
    return f"{at.astimezone(UTC):%Y-%m-%dT%H:%M:%S}.{to_ms(at) % 1000:03d}Z"


def instant(written: str) -> datetime:
    """An instant as it is written, in UTC."""
    return datetime.fromisoformat(written).astimezone(UTC)


def as_json(row: Event | Entry) -> dict[str, Any]:
    """An event or an entry as it goes out."""
    if isinstance(row, Event):
        head: dict[str, Any] = {"event": row.id, "kind": row.kind}
    else:
        head = {"entry": row.id, "subject": row.subject, "name": row.name, "kind": row.kind}
    times = {"at": as_text(row.at), "told": as_text(row.recorded_at)}
    return {**head, **times, "body": dict(row.body), "act": row.act}


def _body(item: Mapping[str, Any]) -> dict[str, Any] | Fault:
    """The body in present words, for files of earlier versions too."""
    body = in_present_words(item["kind"], item["body"])
    wrong = wrong_with(item["kind"], body, item.get("subject", ""))
    return wrong.under("body") if wrong else dict(body)


def event(item: Mapping[str, Any], step: int) -> Event | Fault:
    """An event of this step as it comes in, its shape checked before; or what is wrong with it."""
    body = _body(item)
    if isinstance(body, Fault):
        return body
    at, recorded_at = instant(item["at"]), instant(item["told"])
    return Event(item["event"], step, item["kind"], at, recorded_at, body, item.get("act", 0))


def entry(item: Mapping[str, Any]) -> Entry | Fault:
    """An entry as it comes in, its shape checked before; or what is wrong with it."""
    body = _body(item)
    if isinstance(body, Fault):
        return body
    subject, name, kind = item["subject"], item["name"], item["kind"]
    if wrong := wrong_with_name(subject, name, kind):
        return wrong
    at, recorded_at = instant(item["at"]), instant(item["told"])
    return Entry(item["entry"], subject, name, kind, at, recorded_at, body, item.get("act", 0))
