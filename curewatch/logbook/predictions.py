"""What was predicted at mixing, beside what tests found: of one step, and of a product's steps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.bench.reader import MOST_LEARNED_FROM
from curewatch.climate.summary import summary
from curewatch.cure.forecast import forecast
from curewatch.frozen import frozen
from curewatch.garage.step import DamagedStep, Step, folded
from curewatch.garage.steps import looked_at, mix_of
from curewatch.store.search import StepQuery
from curewatch.units import minutes
from curewatch.vocabulary import is_not_yet

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench
    from curewatch.cure.belief import PastStep
    from curewatch.cure.inputs import Sighting

MOST = 40


@frozen
class Prediction:
    """One milestone of a step in minutes from mixing [min]: by the label, as predicted when it was
    mixed, and as found: seen_min it was reached by a test, not_min the last test that said not yet.
    """

    milestone: str
    label_min: float
    early_min: float | None
    likely_min: float | None
    late_min: float | None
    seen_min: float | None = None
    not_min: float | None = None

    @property
    def verdict(self) -> str:
        """How it fell out, in words; a test shows only that it was reached by then."""
        if self.seen_min is None:
            return "not tested" if self.not_min is None else "not yet when last tested"
        if self.early_min is None or self.late_min is None:
            return "no time was given"
        if self.not_min is not None and self.not_min > self.late_min:
            return "later than late"
        if self.seen_min < self.early_min:
            return "sooner than early"
        if self.seen_min <= self.late_min:
            return "between early and late"
        return "tested after late"


@frozen
class StepPredictions:
    """One step of a product: when, how warm its surface was on average [C], its milestones."""

    step: Step
    surface_c: float | None
    predictions: tuple[Prediction, ...]


def _before(step: Step, all_seen: Sequence[PastStep]) -> list[PastStep]:
    """What had been seen of the product, on earlier steps, when this one was told."""
    past_steps = [
        replace(past, sightings=tuple(_sightings_by(past, step.recorded_at)))
        for past in all_seen
        if past.id < step.id
    ]
    return [past for past in past_steps if past.sightings][-MOST_LEARNED_FROM:]


def _sightings_by(past: PastStep, now: datetime) -> Iterator[Sighting]:
    by_min = minutes(now - past.mix.mixed_at)
    yield from (sighting for sighting in past.sightings if sighting.after_min <= by_min)


def observed_steps_of(bench: Bench, sheet: str) -> list[PastStep]:
    """Every step of a product that was looked at, the latest last."""
    return bench.reader.past_steps(reversed(list(looked_at(bench.store, sheet))))


def predicted(
    bench: Bench, step: Step, all_seen: Sequence[PastStep] | None = None
) -> tuple[Prediction, ...]:
    """The milestones of a step as predicted when it was entered, with what tests found since."""
    reader = bench.reader
    if reader.structural(step.part, step.job):
        return ()
    bare = replace(step, witnesses=(), answers={}, reached={}, happened=(), heated=())
    snapshot = reader.snapshot(step.mixed_at, max(step.mixed_at, step.recorded_at))
    others = _before(
        step, observed_steps_of(bench, step.sheet.id) if all_seen is None else all_seen
    )
    forecast_then = forecast(
        step.sheet,
        mix_of(bare),
        reader.conditions(snapshot.readings, bare, snapshot.now),
        reader.ahead(snapshot, step.place, step.sheet.reference.temperature_c),
        (),
        others,
    )
    return tuple(
        _with_answers(
            step,
            Prediction(
                milestone.name,
                milestone.label_min,
                milestone.early_min,
                milestone.likely_min,
                milestone.late_min,
            ),
        )
        for milestone in forecast_then.milestones
    )


def _with_answers(step: Step, prediction: Prediction) -> Prediction:
    reached = step.reached.get(prediction.milestone)
    answers = step.answers.get(prediction.milestone, ())
    not_yet = [step.after_min(answer.at) for answer in answers if is_not_yet(answer.result)]
    return replace(
        prediction,
        seen_min=step.after_min(reached.at) if reached else None,
        not_min=not_yet[-1] if not_yet else None,
    )


def _surface_c(bench: Bench, step: Step, now: datetime) -> float | None:
    end = max(step.mixed_at, min(now, step.closed_at or now))
    last = max((answer.at for answers in step.answers.values() for answer in answers), default=end)
    span = summary(bench.reader.conditions_of(step, last), step.mixed_at, last).get(
        "surface_temperature"
    )
    if span is None or span.source is None:
        return None
    return span.mean if span.source.quantity == "surface_temperature" else None


def of_product(
    bench: Bench, sheet: str, now: datetime, most: int = MOST, before: int | None = None
) -> list[StepPredictions]:
    """What a product did in this garage: its last steps, the latest first, under a number; none
    that is damaged."""
    numbers = bench.store.find(StepQuery(sheet=sheet), most=most, before=before)
    events = bench.store.events(numbers)
    past_steps = observed_steps_of(bench, sheet)
    steps = folded(events[number] for number in numbers)
    courses = []
    for step in steps:
        with suppress(DamagedStep), bench.reader.failures.of(step):
            predictions = predicted(bench, step, past_steps)
            courses.append(StepPredictions(step, _surface_c(bench, step, now), predictions))
    return courses
