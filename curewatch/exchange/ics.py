"""The bench as an iCalendar (RFC 5545): one event for each milestone that is asked, pure.

An event's UID comes from its step and milestone and never changes, so that a second import moves
it. What is settled, has no time or left the bench lately stays in the file as cancelled, for it
may stand in a calendar from an earlier import. DTSTAMP, LAST-MODIFIED and SEQUENCE rise with the
time of writing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING
from unicodedata import category

from curewatch.exchange.announcements import state_of, where
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.notice_words import sentence, sentences
from curewatch.vocabulary import TESTED, in_words

if TYPE_CHECKING:
    from icalendar import Alarm, Event

    from curewatch.bench.views import BenchView, MilestoneView, StepView
    from curewatch.garage.step import Step

NAME = "curewatch"
PRODUCER = "-//curewatch//bench//EN"
LENGTH = timedelta(minutes=15)
REFRESH = timedelta(minutes=15)
LATELY = timedelta(days=30)
IF_WARM = "hold-if-warm"
LIVE = ("ahead", "test-now")


@frozen
class Words:
    """How a calendar says it: each milestone's name and test, and the caution; for whom."""

    names: Mapping[str, str]
    tests: Mapping[str, str]
    caution: str
    say: ReaderFormat


def _uid(step: int, recorded_at: datetime, milestone: str) -> str:
    """The same for ever, and another one in another logbook."""
    return f"{step}.{milestone}.{round(recorded_at.timestamp() * 1000)}@{NAME}"


def clean(text: str) -> str:
    """Without control characters, which a calendar's text may not hold, but for new lines."""
    return "".join(
        character
        for character in text
        if character == "\n" or category(character) not in ("Cc", "Cs")
    )


def _event(
    step: int, recorded_at: datetime, milestone: str, start: datetime, summary: str, now: datetime
) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", _uid(step, recorded_at, milestone))
    event.add("dtstamp", now)
    event.add("last-modified", now)
    event.add("sequence", max(0, round((now - recorded_at).total_seconds())))
    event.add("dtstart", start.replace(microsecond=0))
    event.add("dtend", start.replace(microsecond=0) + LENGTH)
    event.add("summary", clean(summary))
    event.add("transp", "TRANSPARENT")
    return event


def _cancelled(event: Event, why: str) -> Event:
    event.add("status", "CANCELLED")
    event.add("description", why)
    return event


def _bounds(milestone: MilestoneView, say: ReaderFormat) -> str:
    """Early, likely and late on the reader's wall, with the day: a calendar is read later."""
    named = (("early", milestone.early), ("likely", milestone.likely), ("late", milestone.late))
    return ", ".join(
        f"{name} {say.date_and_time(at)}" if at else f"{name} unknown" for name, at in named
    )


def _text(step: StepView, milestone: MilestoneView, words: Words) -> str:
    test = words.tests.get(milestone.name, "")
    lines = [
        f"{words.names.get(milestone.name, milestone.name)}: {_bounds(milestone, words.say)}",
        f"test now: {test}" if test else "",
        f"{step.sheet.name}; {sentences(step.forecast.reason, words.say)}",
        *(sentence(warning, words.say) for warning in milestone.warnings),
        *_condition(step, milestone, words.say),
        words.caution,
    ]
    return clean("\n".join(line for line in lines if line))


def _condition(step: StepView, milestone: MilestoneView, say: ReaderFormat) -> Iterator[str]:
    """What the latest time asks of the panel, where it holds only while that stays warm enough."""
    predicted = step.forecast.by_name.get(milestone.name)
    if predicted is not None and predicted.late_if_warm:
        notices = (warning for warning in step.forecast.warnings if warning.code == IF_WARM)
        yield from (sentence(warning, say) for warning in notices)


def alarm(summary: str) -> Alarm:
    """An alarm at an event's start."""
    from icalendar import Alarm

    sounds = Alarm()
    sounds.add("action", "DISPLAY")
    sounds.add("description", clean(summary))
    sounds.add("trigger", timedelta(0))
    return sounds


def _of_step(step: StepView, words: Words, now: datetime) -> Iterator[Event]:
    for milestone in step.milestones:
        if milestone.name not in TESTED:
            continue
        name = words.names.get(milestone.name, milestone.name)
        summary = f"test now: {name}, {where(step.part, step.sheet.name)}"
        label = step.mixed_at + timedelta(minutes=milestone.label_min)
        event = _event(
            step.id, step.recorded_at, milestone.name, milestone.shown or label, summary, now
        )
        state = state_of(step, milestone, now)
        if state not in LIVE:
            why = "no time can be given" if state == "no-time" else "not asked any more"
            yield _cancelled(event, why)
            continue
        event.add("status", "TENTATIVE")
        event.add("description", _text(step, milestone, words))
        event.add("location", step.place)
        event.add_component(alarm(summary))
        yield event


def _closed(step: Step, words: Words, now: datetime) -> Iterator[Event]:
    """What an earlier import may hold of a step that left the bench."""
    for name, label_min in step.sheet.reference.minutes.items():
        if name in TESTED:
            start = step.mixed_at + timedelta(minutes=label_min)
            part = where(step.part, step.sheet.name)
            summary = f"{words.names.get(name, name)}, {part}"
            event = _event(step.id, step.recorded_at, name, start, summary, now)
            yield _cancelled(event, f"the step is {in_words(step.state)}")


def calendar(
    view: BenchView, closed: Sequence[Step], words: Words, more: Iterable[Event] = ()
) -> bytes:
    """The file's bytes: UTF-8, lines folded and ended as RFC 5545 asks.

    closed: the steps that left the bench in the last 30 days; more: events beside the bench's.
    """
    from icalendar import Calendar

    written = Calendar()
    written.add("prodid", PRODUCER)
    written.add("version", "2.0")
    written.add("name", NAME)
    written.add("x-wr-calname", NAME)
    written.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    for step in view.steps:
        for event in _of_step(step, words, view.now):
            written.add_component(event)
    for closed_step in closed:
        for event in _closed(closed_step, words, view.now):
            written.add_component(event)
    for event in more:
        written.add_component(event)
    return bytes(written.to_ical())
