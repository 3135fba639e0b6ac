"""Which look at its dab a step asks for, worked out from what was entered of it.

While nothing is entered, the chance that a milestone is reached only grows, and when it passed 30
or 70 % depends on what the panel felt until then, not on the forecast. So every screen, also after
a restart, finds that the same looks were asked for at the same instants, answered or not, and
nobody has to record what a page showed. The time of a step is cut at its looks and answers, and
each part is taken as it was known at its end; of other mixes counts what was seen before this one
was mixed. Only what comes in later than it was measured, or is undone, can move a question.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from curewatch.bench.due import open_milestones
from curewatch.bench.views import AskedLook
from curewatch.cure.explanation import look_spans
from curewatch.events.events import standing
from curewatch.events.outline import HARDENING
from curewatch.frozen import frozen
from curewatch.garage.step import fold
from curewatch.units import minutes
from curewatch.vocabulary import STATES, TURNS, WAITED

if TYPE_CHECKING:
    from curewatch.bench.reader import BenchReader
    from curewatch.bench.views import StepView
    from curewatch.climate.snapshot import Snapshot
    from curewatch.cure.belief import PastStep
    from curewatch.events.events import Event
    from curewatch.garage.step import Step

MOST_LOOKS, APART, LEAST_WORTH = 3, timedelta(minutes=10), 0.05
ENTERED = ("witnessed", "tested")
_STATE = {name: state for state, name in TURNS.items()}


@frozen
class Phase:
    """A step between two of its entries: the looks worth asking for, in order, and when it asks
    about something else."""

    start: datetime
    end: datetime
    looks: tuple[AskedLook, ...]
    questions: tuple[datetime, ...]


def asked_look(
    reader: BenchReader, step: Step, events: Sequence[Event], view: StepView, snapshot: Snapshot
) -> AskedLook | None:
    """The look that a step asks for now, None where it asks for none."""
    now = snapshot.now
    if not _worth_asking(view, now)[0]:
        return None
    cuts = [step.recorded_at, *_entries(events, now)]
    last = _phase(reader, step, view, snapshot, (cuts[-1], now))
    if not any(look.start <= now < look.until for look in last.looks):
        return None
    spans = [span for span in pairwise(cuts) if span[0] < span[1]]
    looks = askings([*(_earlier(reader, step, events, span) for span in spans), last])
    return next((look for look in looks if look.start <= now < look.until), None)


def askings(phases: Sequence[Phase]) -> list[AskedLook]:
    """The looks that were asked for and are, one at a time and three at most, none within ten
    minutes of another question. Each ends by an entry or by the next other question."""
    looks: list[AskedLook] = []
    for phase in phases:
        free = phase.start
        for look in phase.looks:
            questions = (*phase.questions, *(earlier.start for earlier in looks))
            start = _clear_of(questions, max(look.start, free))
            ends = [question for question in phase.questions if question > start]
            until = min(look.until, *ends) if ends else look.until
            if phase is not phases[-1]:
                until = min(until, phase.end)
            if start < until and start <= phase.end and len(looks) < MOST_LOOKS:
                looks.append(replace(look, start=start, until=until))
                free = until
    return looks


def _clear_of(questions: Sequence[datetime], start: datetime) -> datetime:
    """The first instant from a start on that is ten minutes from every question."""
    for question in sorted(questions):
        if abs(question - start) < APART:
            start = question + APART
    return start


def _entries(events: Sequence[Event], now: datetime) -> list[datetime]:
    """When looks and answers that stand were entered."""
    return sorted(
        event.recorded_at
        for event in standing(events)
        if event.kind in ENTERED and event.recorded_at <= now
    )


def _earlier(
    reader: BenchReader, step: Step, events: Sequence[Event], span: tuple[datetime, datetime]
) -> Phase:
    """A phase that is over, as it was known at its end."""

    def work_out() -> Phase:
        earlier = fold([event for event in events if event.recorded_at < span[1]])
        snapshot = reader.snapshot(earlier.mixed_at, span[1])
        view = reader.step_view(earlier, span[1], snapshot)
        return _phase(reader, earlier, view, snapshot, span)

    return reader.kept("asked", step, span[1], work_out)


def _phase(
    reader: BenchReader,
    step: Step,
    view: StepView,
    snapshot: Snapshot,
    span: tuple[datetime, datetime],
) -> Phase:
    names, waited = _worth_asking(view, snapshot.now)
    sheet, mix, past, ahead, seen, others = reader.model_inputs(step, snapshot)
    before = list(_seen_before(others, step.mixed_at))
    spans = look_spans(sheet, mix, past, ahead, seen, before, looks=names, waited=waited)
    looks = []
    for name, look_span in spans.items():
        if look_span.worth >= LEAST_WORTH:
            start = step.mixed_at + timedelta(minutes=look_span.from_min)
            until = step.mixed_at + timedelta(minutes=look_span.until_min)
            looks.append(AskedLook(name, _STATE[name], waited, look_span.worth, start, until))
    return Phase(*span, tuple(looks), tuple(_questions(view)))


def _worth_asking(view: StepView, now: datetime) -> tuple[list[str], str]:
    """The milestones that a look might be asked for by now, in order, and what must be waited for
    next; none where nothing must be."""
    waited = next(
        (milestone.name for milestone in open_milestones(view) if milestone.name in WAITED), ""
    )
    names = list(TURNS.values())
    if not waited or view.state != HARDENING:
        return [], waited
    if waited in names:
        names = names[: names.index(waited) + 1]
    return [name for name in names if _begun(view, name, now) and not _seen(view, name)], waited


def _begun(view: StepView, name: str, now: datetime) -> bool:
    milestone = view.by_name.get(name)
    return milestone is not None and milestone.early is not None and milestone.early <= now


def _seen(view: StepView, name: str) -> bool:
    """Whether a look or a test has found a milestone reached."""
    looked = any((name, True) in STATES[witness.state] for witness in view.witnesses)
    return looked or view.by_name[name] not in open_milestones(view)


def _questions(view: StepView) -> Iterator[datetime]:
    """When a step asks for a test, and when looks and answers were entered."""
    yield from (
        milestone.shown for milestone in open_milestones(view) if milestone.shown is not None
    )
    yield from (
        milestone.answered_at for milestone in view.milestones if milestone.answered_at is not None
    )
    yield from (witness.recorded_at for witness in view.witnesses)


def _seen_before(others: Sequence[PastStep], mixed_at: datetime) -> Iterator[PastStep]:
    """Other mixes with what was seen of them before this one was mixed."""
    for other in others:
        most_min = minutes(mixed_at - other.mix.mixed_at)
        seen = tuple(look for look in other.sightings if look.after_min < most_min)
        if seen:
            yield replace(other, sightings=seen)
