"""The events of one step, read in order, to what is known of it now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import lru_cache
from typing import Any

from curewatch.quantities import minutes
from curewatch.sheet import Sheet, parse_sheet
from curewatch.store import Event
from curewatch.views import WitnessView

CLOSED = ("finished", "abandoned")
DETAILS = (
    "part",
    "job",
    "place",
    "batch",
    "amount_g",
    "hardener_pct",
    "film_um",
    "product_c",
    "who",
)


@dataclass(frozen=True)
class Answer:
    """How a test on the work went, or that it was put off until an instant."""

    result: str
    at: datetime
    until: datetime | None = None


@dataclass(frozen=True)
class Step:
    """A step as its events tell it. Times aware, amount_g [g], hardener_pct [%],
    film_um [um], product_c: temperature the product was stored at [C]."""

    id: int
    sheet: Sheet
    mixed_at: datetime
    told_at: datetime
    part: str = ""
    job: str = ""
    place: str = "panel"
    batch: str = ""
    who: str = ""
    amount_g: float | None = None
    hardener_pct: float | None = None
    film_um: float | None = None
    product_c: float | None = None
    state: str = "hardening"
    closed_at: datetime | None = None
    witnesses: tuple[WitnessView, ...] = ()
    answers: dict[str, tuple[Answer, ...]] = field(default_factory=dict)
    acknowledged: dict[str, datetime] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    amended: dict[str, datetime] = field(default_factory=dict)
    last_event: int = 0

    def passed(self, milestone: str) -> Answer | None:
        """The test that found this milestone reached, if any."""
        found = [each for each in self.answers.get(milestone, ()) if each.result == "passed"]
        return found[-1] if found else None

    def after_min(self, at: datetime) -> float:
        """Minutes from mixing to an instant. [min]"""
        return minutes(at - self.mixed_at)


@lru_cache(maxsize=256)
def _sheet(text: str, id: str) -> Sheet:
    return parse_sheet(text, id)


def _started(event: Event) -> Step:
    body = event.body
    told = {key: body[key] for key in DETAILS if body.get(key) is not None}
    return Step(
        id=event.step,
        sheet=_sheet(body["sheet_text"], body["sheet_id"]),
        mixed_at=event.at,
        told_at=event.told,
        acknowledged={key: event.told for key in body.get("acknowledged", ())},
        **told,
    )


def _amended(step: Step, event: Event) -> Step:
    changed: dict[str, Any] = {key: event.body[key] for key in DETAILS if key in event.body}
    if "mixed_at" in event.body:
        changed["mixed_at"] = datetime.fromisoformat(event.body["mixed_at"])
    amended = step.amended | {key: event.told for key in changed}
    return replace(step, **changed, amended=amended)


def _seen(step: Step, event: Event) -> Step:
    seen = WitnessView(event.id, event.at, event.told, event.body["state"], event.body["sample"])
    return replace(step, witnesses=(*step.witnesses, seen))


def _answered(step: Step, event: Event) -> Step:
    until = event.body.get("until")
    answer = Answer(
        event.body["result"], event.at, datetime.fromisoformat(until) if until else None
    )
    name = event.body["milestone"]
    return replace(step, answers=step.answers | {name: (*step.answers.get(name, ()), answer)})


def _forgot(step: Step, event: Event) -> Step:
    kept = tuple(each for each in step.witnesses if each.id != event.body["event"])
    return replace(step, witnesses=kept)


def _next(step: Step, event: Event) -> Step:
    match event.kind:
        case "amended":
            return _amended(step, event)
        case "witnessed":
            return _seen(step, event)
        case "tested":
            return _answered(step, event)
        case "forgot":
            return _forgot(step, event)
        case "acknowledged":
            return replace(step, acknowledged=step.acknowledged | {event.body["key"]: event.told})
        case "noted":
            return replace(step, notes=(*step.notes, event.body["text"]))
        case "finished" | "abandoned":
            why = event.body.get("why")
            notes = (*step.notes, why) if why else step.notes
            return replace(step, state=event.kind, closed_at=event.at, notes=notes)
    return step


def fold(events: Sequence[Event]) -> Step:
    """The step that these events tell, the first being its start."""
    step = _started(events[0])
    for event in events[1:]:
        step = _next(step, event)
    return replace(step, last_event=events[-1].id)
