"""The reminders of a plan that was taken over, in words and as plain data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from curewatch.formats import ReaderFormat
from curewatch.walltime import evening_of, stamp
from curewatch.ways.words import between_words, evening_words
from curewatch.week.words import WHY, name

if TYPE_CHECKING:
    from curewatch.week.taken import PlanReminder


def move_words(step: PlanReminder, now: datetime, say: ReaderFormat) -> Iterator[str]:
    """From when a beginning moved, and why."""
    if step.moved is not None:
        why = WHY.get(step.moved.why, WHY["order"]).format(part=step.moved.part)
        yield f"Moved from {say.moment(step.moved.was, now)}: {why}."


def begin_words(step: PlanReminder, now: datetime, say: ReaderFormat) -> str:
    """Between when and when to begin; or that the time for it is past."""
    if step.state(now) == "past":
        by = say.moment(step.latest, now)
        return f"{step.does} was to be begun by {by}, which is past."
    first = max(step.start, now)
    evening = evening_words(first, now, say)
    day = {"tonight": "", "tomorrow": "tomorrow "}.get(evening, f"on {evening} ")
    begin = f"{step.does}; begin {day}{between_words(first, step.latest, now, say)}"
    if evening_of(step.latest, say.zone) > evening_of(first, say.zone):
        begin += f", by {say.moment(step.latest, now)} at the latest"
    return f"{begin}."


def sentence(step: PlanReminder, now: datetime, say: ReaderFormat) -> str:
    """A reminder with its part, and with its move where it moved."""
    begins = f"{name(step)}: {begin_words(step, now, say)}"
    return " ".join([begins, *move_words(step, now, say)])


def _json(step: PlanReminder, now: datetime) -> dict[str, Any]:
    moved = step.moved
    return {
        "part": step.part,
        "job": step.job,
        "does": step.does,
        "state": step.state(now),
        "from": stamp(step.start),
        "until": stamp(step.latest),
        "moved_from": moved and stamp(moved.was),
        "moved_because": moved and moved.why,
    }


def as_json(reminders: Sequence[PlanReminder], now: datetime) -> list[dict[str, Any]]:
    """The reminders as plain data; state: ahead, begin or past."""
    return [_json(step, now) for step in reminders]
