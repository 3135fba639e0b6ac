"""The tables of a step on the hand-over sheet: its conditions, its moments, its milestones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from curewatch.bench.views import MilestoneView, StepStretch
from curewatch.climate.summary import Span
from curewatch.durations import between, duration, rounding
from curewatch.garage.step import Step
from curewatch.handover.blocks import Block, TableBlock, Text
from curewatch.handover.printed_step import PrintedStep
from curewatch.logbook.logbook import SPANS as QUANTITIES
from curewatch.logbook.logbook import StepRecord
from curewatch.logbook.paper import RESULTS, SPANS, FieldFormatter
from curewatch.logbook.predictions import Prediction
from curewatch.vocabulary import in_words

MOST_MOMENTS = 18


def conditions(stretches: Sequence[StepStretch], place: str, paper: FieldFormatter) -> TableBlock:
    """Least, mean and most of each quantity from mixing to each milestone."""
    head = ("from mixing until", *(SPANS[name] for name in QUANTITIES))
    rows = tuple(
        (
            f"{in_words(stretch.until)}, {paper.stamp(stretch.end)}",
            *_cells(stretch.spans, place, paper),
        )
        for stretch in stretches
    )
    return TableBlock(head, rows, (26, 20, 20, 18, 20))


def _cells(spans: Mapping[str, Span], place: str, paper: FieldFormatter) -> Iterator[str]:
    for name in QUANTITIES:
        span = spans.get(name)
        yield paper.span(name, span, place) if span else "not measured"


def moments(entry: StepRecord, paper: FieldFormatter) -> Iterator[Block]:
    """What was measured at the start, at each coat and clamp and every four hours."""
    kept = [moment for moment in entry.moments if moment.values or not moment.regular]
    shown = kept[:MOST_MOMENTS]
    rows = tuple(
        (
            moment.name,
            paper.stamp(moment.at),
            *(
                paper.measured(name, moment.values[name]) if name in moment.values else "-"
                for name in SPANS
            ),
        )
        for moment in shown
    )
    yield TableBlock(("moment", "at", *SPANS.values()), rows, (20, 24, 13, 12, 13, 14, 20))
    if len(shown) < len(kept):
        left = len(kept) - len(shown)
        yield Text(f"{left} more instants, four hours apart, are in the logbook.", "small")
    if len(kept) < len(entry.moments):
        left = len(entry.moments) - len(kept)
        yield Text(f"Nothing was measured at {left} more, four hours apart.", "small")


def milestones(printed: PrintedStep, paper: FieldFormatter) -> TableBlock:
    """Each milestone by the label, as predicted at mixing, as now, and as tested."""
    step = printed.entry.step
    reference = paper.say.temperature(step.sheet.reference.temperature_c, 0)
    predicted = {prediction.milestone: prediction for prediction in printed.predictions}
    head = (
        "", f"label at {reference}", "predicted at mixing", "early", "likely", "late",
        "tested on the work",
    )  # fmt: skip
    rows = tuple(
        _milestone(step, milestone, predicted.get(milestone.name), paper)
        for milestone in printed.entry.view.milestones
    )
    return TableBlock(head, rows, (14, 11, 20, 16, 16, 16, 26))


def _milestone(
    step: Step, milestone: MilestoneView, predicted: Prediction | None, paper: FieldFormatter
) -> tuple[str, ...]:
    times = (
        "-" if at is None else paper.stamp(at)
        for at in (milestone.early, milestone.likely, milestone.late)
    )
    answers = [
        f"{RESULTS.get(answer.result, answer.result)}, {paper.stamp(answer.at)}"
        for answer in step.answers.get(milestone.name, ())
    ]
    verdict = f" ({predicted.verdict})" if predicted and answers else ""
    return (
        in_words(milestone.name),
        duration(milestone.label_min, rounding(milestone.name)),
        _range(predicted),
        *times,
        "; ".join(answers) + verdict if answers else "not tested",
    )


def _range(predicted: Prediction | None) -> str:
    if predicted is None or predicted.early_min is None or predicted.late_min is None:
        return "-"
    return between(predicted.early_min, predicted.late_min, rounding(predicted.milestone))
