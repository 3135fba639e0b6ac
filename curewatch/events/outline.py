"""What a step's events say of it as it stands: product, times, state and details.

The one reading of these: the step itself and the index of all steps are both made of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from curewatch.events.events import Event, standing, undone_by
from curewatch.events.fields import FIELDS, MIXED_AT, from_event
from curewatch.frozen import frozen
from curewatch.walltime import from_ms, to_ms

HARDENING, UNDONE = "hardening", "undone"
ENDS = ("finished", "abandoned")


@frozen
class Outline:
    """A step as entered last. recorded: the values of its fields by name; can: the can it came
    from, 0 where that was not entered; amended: when each field was entered afterwards."""

    sheet_id: str
    sheet_text: str
    mixed_at: datetime
    closed_at: datetime | None
    state: str
    recorded: Mapping[str, Any]
    can: int
    amended: Mapping[str, datetime]


def _recorded(body: Mapping[str, Any]) -> dict[str, Any]:
    return {field.name: from_event(body, field.name) for field in FIELDS if field.name in body}


def _product(body: Mapping[str, Any]) -> tuple[str, str]:
    return str(body.get("sheet_id", "")), str(body.get("sheet_text", ""))


def outline(events: Sequence[Event]) -> Outline:
    """What these events say, the first being the start of the step, without what was undone.

    A batch entered afterwards is of no known can, unless its can is entered with it.
    """
    first, undone = events[0], undone_by(events)
    begun: Mapping[str, Any] = {} if first.damaged else first.body
    recorded = _recorded({name: value for name, value in begun.items() if value is not None})
    product, can = _product(begun), begun.get("can") or 0
    mixed_at, closed_at, state = first.at, None, HARDENING
    amended: dict[str, datetime] = {}
    for event in standing(events):
        body = event.body
        if event.kind == "amended":
            changed = _recorded(body)
            recorded |= changed
            amended |= dict.fromkeys(changed, event.recorded_at)
            if MIXED_AT.name in body:
                mixed_at = from_event(body, MIXED_AT.name)
                amended[MIXED_AT.name] = event.recorded_at
            can = body.get("can") or (0 if "batch" in body else can)
            if "sheet_id" in body:
                product, amended["sheet"] = _product(body), event.recorded_at
        elif event.kind in ENDS:
            state, closed_at = event.kind, event.at
    if first.id in undone:
        state, closed_at = UNDONE, undone[first.id].at
    return Outline(*product, from_ms(to_ms(mixed_at)), closed_at, state, recorded, can, amended)
