"""Jobs and steps with the conditions of each, and their CSV."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.bench.views import MilestoneView, StepStretch, StepView
from curewatch.climate.reading import AIR_PLACE, Quantity, Reading
from curewatch.climate.summary import summary
from curewatch.events.fields import RECORD
from curewatch.frozen import frozen
from curewatch.garage.damaged import Damaged, failed_step
from curewatch.garage.step import DamagedStep, Step, WitnessView, folded
from curewatch.garage.steps import steps
from curewatch.logbook.moments import NEAR, Moment, moments
from curewatch.quality.calibration import StuckSpell, checks, stuck_spells
from curewatch.text import cell, csv_line

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench
    from curewatch.store.search import StepQuery

CHUNK = 200
SPANS = ("surface_temperature", "air_temperature", "relative_humidity", "dew_point_spread")


@frozen
class SensorUsed:
    """What measured a quantity during a step, and when it had last been checked, by whom."""

    source: str
    place: str
    quantity: Quantity
    checked: datetime | None = None
    checked_by: str = ""


@frozen
class StepRecord:
    """One step of the logbook with the conditions of its stretches and moments.

    left_out: when a sensor that it leans on stood still, so that what it gave is not in them.
    """

    step: Step
    view: StepView
    stretches: tuple[StepStretch, ...]
    moments: tuple[Moment, ...] = ()
    sensors: tuple[SensorUsed, ...] = ()
    left_out: tuple[StuckSpell, ...] = ()


def _reached(step: Step, milestone: MilestoneView, end: datetime) -> datetime | None:
    """When a milestone was found by test, else its likely time once that has passed."""
    answer = step.reached.get(milestone.name)
    if answer is not None:
        return answer.at
    return milestone.likely if milestone.likely and milestone.likely <= end else None


def _ends(step: Step, view: StepView, end: datetime) -> list[tuple[str, datetime]]:
    """Where the stretches of a step end: each milestone reached, and its end."""
    ends = [
        (milestone.name, at)
        for milestone in view.milestones
        if (at := _reached(step, milestone, end)) is not None
    ]
    ends.sort(key=lambda named: named[1])
    ends.append((step.state if step.closed_at else "now", end))
    return [named for named in ends if named[1] > step.mixed_at - timedelta(seconds=1)]


def entry(bench: Bench, step: Step, now: datetime) -> StepRecord:
    """One step with its conditions from mixing to each milestone reached and to its end.

    Raises DamagedStep where that cannot be worked out.
    """
    with bench.reader.failures.of(step):
        return _entry(bench, step, now)


def _entry(bench: Bench, step: Step, now: datetime) -> StepRecord:
    end = step.closed_at or now
    snapshot = bench.reader.snapshot(step.mixed_at, max(end, step.mixed_at))
    conditions = bench.reader.conditions(snapshot.readings, step, end)
    view = bench.reader.step_view(step, now)
    readings = list(_used(snapshot.readings, step))

    def good_for(place: str) -> float:
        return bench.reader.place(place).old_after_min

    stretches = tuple(
        StepStretch(name, step.mixed_at, at, summary(conditions, step.mixed_at, at, good_for))
        for name, at in _ends(step, view, end)
    )
    sensors = tuple(_sensors(bench, step, readings, end))
    left_out = tuple(_left_out(bench, step, end))
    return StepRecord(step, view, stretches, moments(step, readings, end), sensors, left_out)


def _used(readings: Sequence[Reading], step: Step) -> Iterator[Reading]:
    """The readings since shortly before the mix, and the last ones before where none came since."""
    start = step.mixed_at - NEAR
    since = [reading for reading in readings if reading.at >= start]
    measured = {(reading.place, reading.quantity) for reading in since}
    before: dict[tuple[str, str], Reading] = {}
    for reading in readings:
        key = (reading.place, reading.quantity)
        if (
            reading.at < start
            and key not in measured
            and (key not in before or before[key].at < reading.at)
        ):
            before[key] = reading
    yield from before.values()
    yield from since


def _left_out(bench: Bench, step: Step, end: datetime) -> Iterator[StuckSpell]:
    for flat in stuck_spells(bench.store):
        near = flat.place in (step.place, AIR_PLACE)
        if near and flat.since < end and flat.until > step.mixed_at:
            yield flat


def _sensors(
    bench: Bench, step: Step, readings: Sequence[Reading], end: datetime
) -> Iterable[SensorUsed]:
    """What measured at the step's place and in the air, with its last check before the end."""
    series = {
        (reading.source, reading.place, reading.quantity)
        for reading in readings
        if reading.place in (step.place, AIR_PLACE)
    }
    for source, place, quantity in sorted(series):
        past_checks = [
            check
            for check in checks(bench.store, source)
            if check.quantity == quantity and check.recorded_at <= end
        ]
        last = past_checks[-1] if past_checks else None
        yield SensorUsed(
            source, place, quantity, last.at if last else None, last.who if last else ""
        )


def logbook(
    bench: Bench,
    now: datetime,
    *,
    query: StepQuery | None = None,
    job: str | None = None,
    most: int | None = None,
    failed: list[Damaged] | None = None,
) -> list[StepRecord]:
    """The steps sought with their conditions, the latest first; none that is damaged."""
    return list(worked_out(bench, steps(bench.store, query=query, job=job, most=most), now, failed))


def worked_out(
    bench: Bench, steps: Iterable[Step], now: datetime, failed: list[Damaged] | None = None
) -> Iterator[StepRecord]:
    """Steps with their conditions; those that cannot be worked out are added to `failed`."""
    for step in steps:
        try:
            worked = entry(bench, step, now)
        except DamagedStep as error:
            if failed is not None:
                failed.append(failed_step(bench.store.events([step.id])[step.id], error))
        else:
            yield worked


def entries(
    bench: Bench, now: datetime, query: StepQuery, most: int | None = None
) -> Iterator[StepRecord]:
    """The same one by one, so that thousands neither wait for each other nor fill the memory."""
    numbers = bench.store.find(query, most=most)
    for first in range(0, len(numbers), CHUNK):
        events = bench.store.events(numbers[first : first + CHUNK])
        yield from worked_out(bench, folded(events.values()), now)


def _header() -> list[str]:
    spans = [f"{name}_{part}" for name in SPANS for part in ("min", "mean", "max")]
    spans += [f"{name}_{part}" for name in SPANS for part in ("source", "age_min")]
    return [
        "step", "job", "part", "place", "product", "batch", "amount_g", "hardener_pct",
        "mixed", "told", "state", "acknowledged", "not_acknowledged", "until", "reached", *spans,
        *(field.name for field in RECORD), "coats", "overridden", "photographs", "notes", "looks",
    ]  # fmt: skip


def _numbers(stretch: StepStretch) -> list[str]:
    cells = []
    for name in SPANS:
        span = stretch.spans.get(name)
        values = (span.minimum, span.mean, span.maximum) if span else (None, None, None)
        cells += ["" if value is None else f"{value:.1f}" for value in values]
    for name in SPANS:
        span = stretch.spans.get(name)
        source = span.source if span else None
        cells.append("" if source is None else f"{source.kind} {source.place}/{source.quantity}")
        cells.append("" if span is None else f"{span.away_min:.0f}")
    return cells


def _look(witness: WitnessView) -> str:
    """A look in codes: when, its state, and how many minutes before it had turned."""
    ago = "" if witness.turned_min is None else f" turned_min={witness.turned_min:g}"
    return f"{witness.at.isoformat()} {witness.state}{ago}"


def _recorded(step: Step) -> list[str]:
    values = [step.value(field) for field in RECORD]
    coats = [coat.at.isoformat() for coat in step.of("coated")]
    why = [f"{' '.join(override.stops)} {override.why}" for override in step.overrides]
    texts = [
        *(value.isoformat() if isinstance(value, datetime) else value for value in values),
        " ".join(coats),
        "; ".join(why),
        len(step.of("photographed")),
        " | ".join(step.notes),
        "; ".join(map(_look, step.witnesses)),
    ]
    return [cell(text) for text in texts]


def _rows(entry: StepRecord) -> Iterable[list[str]]:
    step, view = entry.step, entry.view
    answered = [reminder.key for reminder in view.reminders if reminder.answered_at]
    open_ones = [reminder.key for reminder in view.reminders if not reminder.answered_at]
    for stretch in entry.stretches:
        texts = (
            step.id, step.job, step.part, step.place, step.sheet.name, step.batch,
            step.amount_g, step.hardener_pct,
            step.mixed_at.isoformat(), step.recorded_at.isoformat(),
            step.state, " ".join(answered), " ".join(open_ones),
            stretch.until, stretch.end.isoformat(),
        )  # fmt: skip
        yield [*(cell(text) for text in texts), *_numbers(stretch), *_recorded(step)]


def csv_lines(entries: Iterable[StepRecord]) -> Iterator[str]:
    """The logbook as CSV (RFC 4180), line by line: one row for each step and stretch; times in UTC,
    temperatures [C], humidity [%], spread [K]."""
    yield csv_line(_header())
    for entry in entries:
        yield from map(csv_line, _rows(entry))
