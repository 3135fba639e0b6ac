"""Jobs and steps with the conditions of each, and their CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from curewatch.bench import Bench
from curewatch.conditions import Span, summary
from curewatch.step import Step, fold
from curewatch.views import MilestoneView, StepView, Stretch

SPANS = ("surface_temperature", "air_temperature", "relative_humidity", "dew_point_spread")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True)
class Entry:
    """One step of the logbook with the conditions of its stretches."""

    step: Step
    view: StepView
    stretches: tuple[Stretch, ...]


def _reached(step: Step, milestone: MilestoneView, end: datetime) -> datetime | None:
    """When a milestone was found by test, else its likely time once that has passed."""
    passed = step.passed(milestone.name)
    if passed is not None:
        return passed.at
    return milestone.likely if milestone.likely and milestone.likely <= end else None


def _spans(bench: Bench, step: Step, start: datetime, end: datetime) -> dict[str, Span]:
    readings = bench.store.readings(start, end, bucket_s=60)
    return summary(readings, start, end, place=step.place)


def entry(bench: Bench, step: Step, now: datetime) -> Entry:
    """One step with its conditions from mixing to each milestone reached and to its end."""
    view = bench.desk.step_view(step, now)
    end = step.closed_at or now
    ends = [
        (found.name, at)
        for found in view.milestones
        if (at := _reached(step, found, end)) is not None
    ]
    ends.append((step.state if step.closed_at else "now", end))
    stretches = tuple(
        Stretch(name, step.mixed_at, at, _spans(bench, step, step.mixed_at, at))
        for name, at in ends
        if at > step.mixed_at - timedelta(seconds=1)
    )
    return Entry(step, view, stretches)


def steps(bench: Bench, *, job: str | None = None, most: int | None = None) -> list[Step]:
    """The steps of the logbook, the latest first, of one job where asked."""
    rows = bench.store.steps()[::-1]
    wanted = rows if job is not None or most is None else rows[:most]
    held = bench.store.events(row.id for row in wanted)
    found = [fold(held[row.id]) for row in wanted if held[row.id]]
    kept = [step for step in found if job is None or step.job == job]
    return kept[:most] if most is not None else kept


def logbook(
    bench: Bench, now: datetime, *, job: str | None = None, most: int | None = None
) -> list[Entry]:
    """The steps with their conditions, the latest first."""
    return [entry(bench, step, now) for step in steps(bench, job=job, most=most)]


def _plain(text: object) -> str:
    """A cell that no spreadsheet takes for a formula."""
    cell = "" if text is None else str(text)
    return f"'{cell}" if cell.startswith(_FORMULA) else cell


def _header() -> list[str]:
    spans = [f"{name}_{part}" for name in SPANS for part in ("min", "mean", "max")]
    return [
        "step", "job", "part", "place", "product", "batch", "amount_g", "hardener_pct",
        "mixed", "told", "state", "acknowledged", "not_acknowledged", "until", "reached", *spans,
    ]  # fmt: skip


def _numbers(stretch: Stretch) -> list[str]:
    cells = []
    for name in SPANS:
        span = stretch.spans.get(name)
        values = (span.minimum, span.mean, span.maximum) if span else (None, None, None)
        cells += ["" if value is None else f"{value:.1f}" for value in values]
    return cells


def _rows(found: Entry) -> Iterable[list[str]]:
    step, view = found.step, found.view
    answered = [each.key for each in view.reminders if each.answered_at]
    open_ones = [each.key for each in view.reminders if not each.answered_at]
    for stretch in found.stretches:
        texts = (
            step.id, step.job, step.part, step.place, step.sheet.name, step.batch,
            step.amount_g, step.hardener_pct, step.mixed_at.isoformat(), step.told_at.isoformat(),
            step.state, " ".join(answered), " ".join(open_ones),
            stretch.until, stretch.end.isoformat(),
        )  # fmt: skip
        yield [*(_plain(text) for text in texts), *_numbers(stretch)]


def to_csv(entries: Sequence[Entry]) -> str:
    """The logbook as CSV (RFC 4180): one row for each step and stretch; times in UTC,
    temperatures [C], humidity [%], spread [K]."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(_header())
    for found in entries:
        writer.writerows(_rows(found))
    return out.getvalue()
