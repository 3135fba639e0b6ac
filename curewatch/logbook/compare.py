"""Two steps of one product side by side: what was entered, measured, predicted and found."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.durations import between, duration, rounding
from curewatch.errors import StepError
from curewatch.events.fields import FIELDS, MIXED_AT
from curewatch.logbook import logbook, predictions
from curewatch.logbook.paper import NOT_TOLD, SPANS, STATES, FieldFormatter
from curewatch.vocabulary import STEP_STATES, in_words

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench
    from curewatch.garage.step import Step
    from curewatch.logbook.logbook import StepRecord
    from curewatch.logbook.predictions import Prediction


@dataclass(frozen=True)
class ComparedRow:
    """One thing of both steps in words."""

    what: str
    left: str
    right: str

    @property
    def differs(self) -> bool:
        """Whether the two say different things."""
        return self.left != self.right


@dataclass(frozen=True)
class Pair:
    """Two steps and what is to be said of both, in groups with a heading."""

    left: Step
    right: Step
    groups: tuple[tuple[str, tuple[ComparedRow, ...]], ...]


def _entered(left: Step, right: Step, paper: FieldFormatter) -> Iterator[ComparedRow]:
    for field in (MIXED_AT, *FIELDS):
        one, other = (paper.field(field, step.value(field)) for step in (left, right))
        if (one, other) != (NOT_TOLD, NOT_TOLD):
            yield ComparedRow(field.words, one, other)
    if left.sheet.text != right.sheet.text:
        yield ComparedRow("sheet", "as it was then", "changed since, as it was then")


def _measured(left: StepRecord, right: StepRecord, paper: FieldFormatter) -> Iterator[ComparedRow]:
    ends = (
        {stretch.until: stretch for stretch in left.stretches},
        {e.until: e for e in right.stretches},
    )
    for until in dict.fromkeys([*ends[0], *ends[1]]):
        for name, words in SPANS.items():
            spans = [by_end[until].spans.get(name) if until in by_end else None for by_end in ends]
            if any(spans):
                one, other = (
                    paper.span(name, span, side.step.place) if span else "not measured"
                    for side, span in zip((left, right), spans, strict=True)
                )
                yield ComparedRow(f"{words}, until {in_words(until)}", one, other)


def _times(prediction: Prediction | None) -> str:
    if prediction is None:
        return "-"
    if prediction.early_min is None or prediction.late_min is None:
        return "no time was given"
    return between(prediction.early_min, prediction.late_min, rounding(prediction.milestone))


def _tested(prediction: Prediction | None) -> str:
    if prediction is None or (prediction.seen_min is None and prediction.not_min is None):
        return "not tested"
    if prediction.seen_min is None:
        return f"not yet at {duration(prediction.not_min or 0)}"
    return f"by {duration(prediction.seen_min)}: {prediction.verdict}"


def _predicted(bench: Bench, left: Step, right: Step) -> Iterator[ComparedRow]:
    predictions_of = [
        {prediction.milestone: prediction for prediction in predictions.predicted(bench, s)}
        for s in (left, right)
    ]
    for name in dict.fromkeys([*predictions_of[0], *predictions_of[1]]):
        both = [side.get(name) for side in predictions_of]
        yield ComparedRow(f"{in_words(name)}, predicted", *map(_times, both))
        yield ComparedRow(f"{in_words(name)}, found", *map(_tested, both))


def _observed(step: Step, paper: FieldFormatter) -> str:
    observations = [
        f"{duration(step.after_min(witness.at))}: {STATES.get(witness.state, witness.state)}"
        for witness in step.witnesses
    ]
    return "; ".join(observations) or "nothing seen"


def _else(step: Step, paper: FieldFormatter) -> str:
    return "; ".join(paper.happening(happening) for happening in step.happened) or "-"


def compare(bench: Bench, one: int, other: int, now: datetime, paper: FieldFormatter) -> Pair:
    """Two steps side by side. Raises StepError where they are not of one product."""
    left, right = bench.step(one), bench.step(other)
    if left.sheet.id != right.sheet.id:
        raise StepError(
            f"step {one} is {left.sheet.name}, step {other} is {right.sheet.name}",
            fix="compare two steps of one product",
        )
    entries = logbook.entry(bench, left, now), logbook.entry(bench, right, now)
    ends = [ComparedRow("state", STEP_STATES[left.state], STEP_STATES[right.state])]
    ends.append(ComparedRow("seen on the dab", _observed(left, paper), _observed(right, paper)))
    ends.append(ComparedRow("what else happened", _else(left, paper), _else(right, paper)))
    ends.append(ComparedRow("notes", "; ".join(left.notes) or "-", "; ".join(right.notes) or "-"))
    groups = (
        ("What was entered", tuple(_entered(left, right, paper))),
        ("Predicted at mixing, and actual", tuple(_predicted(bench, left, right))),
        ("Measured", tuple(_measured(*entries, paper))),
        ("Seen and noted", tuple(ends)),
    )
    return Pair(left, right, groups)
