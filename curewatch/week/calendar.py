"""The week's plan as an iCalendar (RFC 5545): one event for each step within the forecast.

An event's UID comes from its part and the step's number in its way and never changes, so that a
later import moves it. A step that is done stays in the file as cancelled. There is no alarm: a plan
is a proposal.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from curewatch.exchange.ics import NAME, clean
from curewatch.formats import ReaderFormat
from curewatch.garage.part_history import key_of
from curewatch.week.words import AGAIN, PROPOSAL, far, name

if TYPE_CHECKING:
    from icalendar import Event

    from curewatch.week.plan import PlannedStep, WeekPlan

PRODUCER = "-//curewatch//plan//EN"
SINCE = datetime(2020, 1, 1, tzinfo=UTC)


def uid(part: str, job: str, number: int) -> str:
    """The same for a part's step for ever."""
    key = "\n".join((*key_of(part, job), str(number)))
    return f"plan.{sha256(key.encode()).hexdigest()[:24]}@{NAME}"


def _event(identity: str, start: datetime, end: datetime, summary: str, now: datetime) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", identity)
    event.add("dtstamp", now)
    event.add("last-modified", now)
    event.add("sequence", int((now - SINCE).total_seconds() // 60))
    event.add("dtstart", start.astimezone(UTC).replace(microsecond=0))
    event.add("dtend", end.astimezone(UTC).replace(microsecond=0))
    event.add("summary", clean(summary))
    return event


def _text(step: PlannedStep, say: ReaderFormat) -> str:
    rows = [f"begin by {say.date_and_time(step.latest)}, to keep the rest as it is", step.product]
    if step.again:
        rows.append(AGAIN[step.again])
    return clean("\n".join([*(row for row in rows if row), PROPOSAL]))


def _planned(plan: WeekPlan, say: ReaderFormat) -> Iterator[Event]:
    for step in plan.steps:
        if not far(step.start, plan):
            identity = uid(step.part, step.job, step.number)
            summary = f"plan: {name(step)}: {step.does}"
            event = _event(identity, step.start, step.end, summary, plan.now)
            event.add("status", "TENTATIVE")
            event.add("description", _text(step, say))
            yield event


def _behind(plan: WeekPlan) -> Iterator[Event]:
    """The steps that are done, or too far ahead by now, of each planned part."""
    near = {(s.part, s.job, s.number) for s in plan.steps if not far(s.start, plan)}
    numbers = {(step.part, step.job): step.number for step in reversed(plan.steps)}
    for (part, job), first in numbers.items():
        last = max(step.number for step in plan.steps if (step.part, step.job) == (part, job))
        for number in range(last + 1):
            if (part, job, number) not in near:
                why = f"plan: {part}: {'done' if number < first else 'later'}"
                event = _event(uid(part, job, number), plan.now, plan.now, why, plan.now)
                event.add("status", "CANCELLED")
                yield event


def calendar(plan: WeekPlan, say: ReaderFormat) -> bytes:
    """The file's bytes: UTF-8, lines folded and ended as RFC 5545 asks."""
    from icalendar import Calendar

    written = Calendar()
    written.add("prodid", PRODUCER)
    written.add("version", "2.0")
    written.add("name", f"{NAME} plan")
    for event in (*_planned(plan, say), *_behind(plan)):
        written.add_component(event)
    return bytes(written.to_ical())
