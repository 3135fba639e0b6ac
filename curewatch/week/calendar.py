"""The week's plan as an iCalendar (RFC 5545): one event for each step within the forecast.

An event's UID comes from its part and the step's number in its way and never changes, so that a
later import moves it. A step that is begun, or planned no more, stays in the file as cancelled with
a higher SEQUENCE, for it may stand in a calendar from an earlier import. A plan is a proposal and
has no alarm; one that was taken over has its steps in the bench's calendar, with alarms.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from curewatch.exchange import ics
from curewatch.exchange.ics import LATELY, NAME, alarm, clean
from curewatch.formats import ReaderFormat
from curewatch.garage.part_history import key_of
from curewatch.ways.words import PROPOSAL
from curewatch.week.taken import lately_reminded
from curewatch.week.taken_words import move_words
from curewatch.week.words import AGAIN, far, name

if TYPE_CHECKING:
    from icalendar import Event

    from curewatch.bench.bench import Bench
    from curewatch.week.kept import ShownStep
    from curewatch.week.plan import PlannedStep, StepKey, WeekPlan
    from curewatch.week.taken import PlanReminder

PLANNED, BEGIN = "plan", "begin"
TESTED = "The plan is a forecast: each test decides. Dew is not counted in it."
PRODUCER = "-//curewatch//plan//EN"
SINCE = datetime(2020, 1, 1, tzinfo=UTC)


def uid(of: str, key: StepKey) -> str:
    """The same for a part's step for ever. of: plan or begin; key: part and job as they are
    compared, and number"""
    text = "\n".join((*key[0], str(key[1])))
    return f"{of}.{sha256(text.encode()).hexdigest()[:24]}@{NAME}"


def _event(
    of: str, key: StepKey, start: datetime, end: datetime, summary: str, now: datetime
) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", uid(of, key))
    event.add("dtstamp", now)
    event.add("last-modified", now)
    event.add("sequence", int((now - SINCE).total_seconds() // 60))
    event.add("dtstart", start.astimezone(UTC).replace(microsecond=0))
    event.add("dtend", end.astimezone(UTC).replace(microsecond=0))
    event.add("summary", clean(summary))
    return event


def _text(step: PlannedStep, say: ReaderFormat, closing: str) -> str:
    rows = [f"begin by {say.date_and_time(step.latest)}, to keep the rest as it is", step.product]
    if step.again:
        rows.append(AGAIN[step.again])
    return clean("\n".join([*(row for row in rows if row), closing]))


def _planned(steps: Iterable[PlannedStep], plan: WeekPlan, say: ReaderFormat) -> Iterator[Event]:
    for step in steps:
        summary = f"plan: {name(step)}: {step.does}"
        event = _event(PLANNED, step.key, step.start, step.end, summary, plan.now)
        event.add("status", "TENTATIVE")
        event.add("description", _text(step, say, PROPOSAL))
        yield event


def _cancelled(of: str, key: StepKey, part: str, why: str, now: datetime) -> Event:
    event = _event(of, key, now, now, f"{of}: {part}: {why}", now)
    event.add("status", "CANCELLED")
    return event


def _done(plan: WeekPlan) -> dict[StepKey, str]:
    """The steps that are behind each planned part, by its name."""
    first = {key_of(step.part, step.job): step for step in reversed(plan.steps)}
    return {
        (key, number): step.part for key, step in first.items() for number in range(step.number)
    }


def _gone(plan: WeekPlan, live: set[StepKey], shown: Sequence[ShownStep]) -> Iterator[Event]:
    """What an earlier file may hold: done, too far ahead by now, or planned no more."""
    later, done = {step.key: step.part for step in plan.steps}, _done(plan)
    for key, part in ({step.key: step.part for step in shown} | later | done).items():
        if key not in live:
            why = "done" if key in done else "later" if key in later else "not planned any more"
            yield _cancelled(PLANNED, key, part, why, plan.now)


def calendar(plan: WeekPlan, say: ReaderFormat, shown: Sequence[ShownStep] = ()) -> bytes:
    """The file's bytes: UTF-8, lines folded and ended as RFC 5545 asks.

    shown: the steps that were shown lately, of which those that are not planned any more are
    cancelled.
    """
    from icalendar import Calendar

    written = Calendar()
    written.add("prodid", PRODUCER)
    written.add("version", "2.0")
    written.add("name", f"{NAME} plan")
    near = [step for step in plan.steps if not far(step.start, plan)]
    for event in _planned(near, plan, say):
        written.add_component(event)
    for event in _gone(plan, {step.key for step in near}, shown):
        written.add_component(event)
    return bytes(written.to_ical())


def reminder_events(
    reminders: Sequence[PlanReminder], shown: Sequence[ShownStep], now: datetime, say: ReaderFormat
) -> Iterator[Event]:
    """The beginnings that a plan reminds of, for the bench's calendar, each with an alarm.

    shown: the steps shown lately, of which those that remind no more are cancelled.
    """
    for step in reminders:
        summary = f"begin: {name(step)}: {step.does}"
        event = _event(BEGIN, step.key, step.start, step.latest, summary, now)
        event.add("status", "TENTATIVE")
        event.add("transp", "TRANSPARENT")
        event.add("description", clean("\n".join([*move_words(step, now, say), TESTED])))
        event.add_component(alarm(summary))
        yield event
    live = {step.key for step in reminders}
    for gone in shown:
        if gone.key not in live:
            yield _cancelled(BEGIN, gone.key, gone.part, "no reminder any more", now)


def bench_calendar(
    bench: Bench,
    reminders: Sequence[PlanReminder],
    now: datetime,
    say: ReaderFormat,
    words: ics.Words,
) -> bytes:
    """The bench's file: its steps, those that left it lately, and what a plan reminds of."""
    shown = lately_reminded(bench.store, now - LATELY)
    planned = reminder_events(reminders, shown, now, say)
    return ics.calendar(bench.view(now), bench.closed_since(now - LATELY), words, planned)
