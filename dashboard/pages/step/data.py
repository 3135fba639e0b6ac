"""What a step's page shows, as plain data: the step, its stretch of time, its marks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from urllib.parse import parse_qsl

from flask import request

from curewatch.bench.views import StepView
from curewatch.climate.series import Interval
from curewatch.cure.thermal_history import minimum_c
from curewatch.events.events import UNDO, Event
from curewatch.frozen import frozen
from curewatch.garage.step import Step
from curewatch.logbook import logbook
from curewatch.logbook.air_history import AirHistory, air_history
from curewatch.logbook.logbook import StepRecord
from curewatch.logbook.undo import undoable
from curewatch.store.search import StepQuery
from curewatch.vocabulary import WAITED, is_not_yet, is_reached
from curewatch.walltime import from_ms
from curewatch.wording import milestone_words, words
from dashboard.context.page_context import PageContext
from dashboard.figures.air import AirDrawing
from dashboard.figures.ribbons.of_step import lane_of
from dashboard.figures.ribbons.step_figure import StepDrawing, StepMark
from dashboard.pages.air.periods import Period
from dashboard.request.device import screen_of
from dashboard.request.numbers import MOST_MS, number_of

ENDS = ("finished", "abandoned", UNDO)
_KINDS = {
    "coated": "coat",
    "clamped": "clamps",
    "unclamped": "clamps",
    "photographed": "photograph",
}
_LEAST, _MOST_AHEAD = timedelta(minutes=20), timedelta(hours=60)


@frozen
class StepPage:
    """A step with all that its page needs. opened: its events that can be undone."""

    record: StepRecord
    events: Sequence[Event]
    opened: frozenset[int]
    now: datetime

    @property
    def step(self) -> Step:
        """The step as its events tell it."""
        return self.record.step

    @property
    def view(self) -> StepView:
        """The step on the clock."""
        return self.record.view

    @property
    def closing(self) -> int | None:
        """The event that took it off the bench, where it can be undone."""
        ends = [e.id for e in self.events if e.id in self.opened and e.kind in ENDS]
        return ends[-1] if ends and self.step.closed_at else None


def step_page(context: PageContext, number: int) -> StepPage:
    """A step's page. Raises StepError, DamagedStep."""
    now = context.clock()
    record = logbook.entry(context.bench, context.bench.step(number), now)
    events = context.store.events([number])[number]
    return StepPage(record, events, frozenset(undoable(context.store, number)), now)


def earlier(context: PageContext, step: Step) -> int | None:
    """The step of the same product before this one."""
    return next(
        iter(context.store.find(StepQuery(sheet=step.sheet.id), most=1, before=step.id)), None
    )


def _whole(page: StepPage) -> tuple[datetime, datetime]:
    """From shortly before mixing to the end; of one on the bench, to what it waits for."""
    step, now = page.step, page.now
    if step.closed_at:
        end = step.closed_at
    else:
        late = {
            milestone.name: milestone.late for milestone in page.view.milestones if milestone.late
        }
        ahead = sorted(at for at in late.values() if at > now)
        waited = [at for name, at in late.items() if name in WAITED and at > now]
        end = min(max([now + timedelta(hours=1), *ahead[:1], *waited]), now + _MOST_AHEAD)
    spare = max((end - step.mixed_at) * 0.04, timedelta(minutes=10))
    return step.mixed_at - spare, end + spare


def _own(query: str) -> tuple[datetime, datetime] | None:
    """The stretch that an address names, where it is one."""
    fields = dict(parse_qsl(query))
    start, end = (number_of(fields.get(name)) for name in ("from", "to"))
    if start is None or end is None or not start < end <= MOST_MS:
        return None
    return (from_ms(start), from_ms(end)) if from_ms(end) - from_ms(start) >= _LEAST else None


def period(page: StepPage, query: str) -> Period:
    """The stretch that is shown."""
    own = _own(query)
    start, end = own or _whole(page)
    return Period(start, end, "" if own else "whole", "", minimum_c(page.step.sheet))


def history(context: PageContext, page: StepPage, shown: Period) -> AirHistory:
    """The air of the stretch, around the step's place."""
    step, limit_c = page.step, shown.limit_c
    return air_history(context.store, shown.start, shown.end, place=step.place, limit_c=limit_c)


def drawing(context: PageContext, page: StepPage) -> AirDrawing:
    """What the figure needs beside it; the forecast where it is of the step's place."""
    track = context.bench.view(page.now).track
    own = track if track and track.place == page.step.place and not page.step.closed_at else None
    return AirDrawing(page.now, own, {}, context.manner(request), screen_of(request))


def step_drawing(context: PageContext, page: StepPage) -> StepDrawing:
    """The step's ribbon, marks and heat."""
    say = context.manner(request)
    name = words.part_of(page.step.part, page.step.sheet.name)
    heated = tuple(Interval(spell.start, spell.until) for spell in page.step.heated)
    return StepDrawing(lane_of(page.view, name, page.now, say), tuple(marks(context, page)), heated)


def marks(context: PageContext, page: StepPage) -> Iterator[StepMark]:
    """What was done and seen, each as a mark of the figure."""
    step, say, formatter = page.step, context.manner(request), context.field_formatter(request)
    for witness in step.witnesses:
        state = words.STATES.get(witness.state, witness.state)
        yield StepMark("dab", witness.at, f"{say.moment(witness.at, page.now)}<br>dab {state}")
    for name, answers in step.answers.items():
        for answer in answers:
            kind = "reached" if is_reached(answer.result) else "not yet"
            if kind == "reached" or is_not_yet(answer.result):
                answered = milestone_words.SAVED.get(answer.result, answer.result)
                text = f"{words.in_words(name)}: {answered}"
                yield StepMark(kind, answer.at, f"{say.moment(answer.at, page.now)}<br>{text}")
    for happening in step.happened:
        text = f"{say.moment(happening.at, page.now)}<br>{formatter.happening(happening)}"
        yield StepMark(_KINDS.get(happening.kind, "other"), happening.at, text)
