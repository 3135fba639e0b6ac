"""Steps side by side: what was entered and measured, predicted and actual times."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.durations import between, duration, rounding
from curewatch.events.fields import FIELDS, MIXED_AT
from curewatch.frozen import frozen
from curewatch.logbook import logbook, predictions
from curewatch.logbook.paper import NOT_TOLD, SPANS, FieldFormatter, look_words
from curewatch.vocabulary import STEP_STATES, in_words

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench
    from curewatch.garage.step import Step
    from curewatch.logbook.logbook import StepRecord
    from curewatch.logbook.predictions import Prediction


@frozen
class ComparedRow:
    """One thing of every step in words."""

    what: str
    values: tuple[str, ...]

    @property
    def differs(self) -> bool:
        """Whether they say different things."""
        return len(set(self.values)) > 1


@frozen
class Comparison:
    """Steps and what is to be said of each, in groups with a heading."""

    steps: tuple[Step, ...]
    groups: tuple[tuple[str, tuple[ComparedRow, ...]], ...]


def _entered(steps: Sequence[Step], paper: FieldFormatter) -> Iterator[ComparedRow]:
    if len({step.sheet.id for step in steps}) > 1:
        yield ComparedRow("product", tuple(step.sheet.name for step in steps))
    for field in (MIXED_AT, *FIELDS):
        values = tuple(paper.field(field, step.value(field)) for step in steps)
        if set(values) != {NOT_TOLD}:
            yield ComparedRow(field.words, values)
    yield from _sheets(steps)


def _sheets(steps: Sequence[Step]) -> Iterator[ComparedRow]:
    """Where the same product's label was changed between the steps."""
    first = {step.sheet.id: step.sheet.text for step in reversed(steps)}
    if any(step.sheet.text != first[step.sheet.id] for step in steps):
        same = [step.sheet.text == first[step.sheet.id] for step in steps]
        texts = tuple("as in the first" if unchanged else "changed" for unchanged in same)
        yield ComparedRow("label", texts)


def _measured(entries: Sequence[StepRecord], paper: FieldFormatter) -> Iterator[ComparedRow]:
    ends = [{stretch.until: stretch for stretch in entry.stretches} for entry in entries]
    for until in dict.fromkeys(name for by_end in ends for name in by_end):
        for name, words in SPANS.items():
            spans = [by_end[until].spans.get(name) if until in by_end else None for by_end in ends]
            if any(spans):
                values = tuple(
                    paper.span(name, span, entry.step.place) if span else "not measured"
                    for entry, span in zip(entries, spans, strict=True)
                )
                yield ComparedRow(f"{words}, until {in_words(until)}", values)


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


def _predicted(bench: Bench, steps: Sequence[Step]) -> Iterator[ComparedRow]:
    predictions_of = [
        {prediction.milestone: prediction for prediction in predictions.predicted(bench, step)}
        for step in steps
    ]
    for name in dict.fromkeys(name for by_name in predictions_of for name in by_name):
        own = [by_name.get(name) for by_name in predictions_of]
        yield ComparedRow(f"{in_words(name)}, predicted", tuple(map(_times, own)))
        yield ComparedRow(f"{in_words(name)}, actual", tuple(map(_tested, own)))


def _observed(step: Step, paper: FieldFormatter) -> str:
    observations = [
        f"{duration(step.after_min(witness.at))}: {look_words(witness.state, witness.turned_min)}"
        for witness in step.witnesses
    ]
    return "; ".join(observations) or "nothing seen"


def _else(step: Step, paper: FieldFormatter) -> str:
    return "; ".join(paper.happening(happening) for happening in step.happened) or "-"


def compare(
    bench: Bench, numbers: Sequence[int], now: datetime, paper: FieldFormatter
) -> Comparison:
    """Steps side by side, in the order of the numbers given."""
    steps = tuple(bench.step(number) for number in numbers)
    entries = [logbook.entry(bench, step, now) for step in steps]
    ends = (
        ComparedRow("state", tuple(STEP_STATES[step.state] for step in steps)),
        ComparedRow("seen on the dab", tuple(_observed(step, paper) for step in steps)),
        ComparedRow("what else happened", tuple(_else(step, paper) for step in steps)),
        ComparedRow("notes", tuple("; ".join(step.notes) or "-" for step in steps)),
    )
    groups = (
        ("What was entered", tuple(_entered(steps, paper))),
        ("Predicted at mixing, and actual", tuple(_predicted(bench, steps))),
        ("Measured", tuple(_measured(entries, paper))),
        ("Seen and noted", ends),
    )
    return Comparison(steps, groups)
