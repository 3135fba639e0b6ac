"""A step with all that is printed of it, and what a reader will miss there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from curewatch.events.fields import FIELDS
from curewatch.frozen import frozen
from curewatch.handover.blocks import Picture
from curewatch.handover.plot import Trace
from curewatch.logbook.logbook import SPANS as QUANTITIES
from curewatch.logbook.logbook import StepRecord
from curewatch.logbook.paper import SPANS
from curewatch.logbook.predictions import Prediction
from curewatch.store.store import Event
from curewatch.vocabulary import reminder_name

NO_PART = "part not named"
GAPS = tuple(dict.fromkeys(field.gap for field in FIELDS if field.gap))
WRITTEN = {field.gap for field in FIELDS if field.by_hand}


@frozen
class PrintedStep:
    """One step with all that is printed of it."""

    entry: StepRecord
    trace: Trace
    predictions: tuple[Prediction, ...]
    events: tuple[Event, ...]
    pictures: tuple[Picture, ...]
    missing_pictures: int = 0


def by_part(steps: Sequence[PrintedStep]) -> dict[str, list[PrintedStep]]:
    """The steps by part, each part's in the order of mixing."""
    parts: dict[str, list[PrintedStep]] = {}
    in_order = sorted(steps, key=lambda step: (step.entry.step.mixed_at, step.entry.step.id))
    for step in in_order:
        parts.setdefault(step.entry.step.part or NO_PART, []).append(step)
    return parts


def labels(steps: Sequence[PrintedStep]) -> list[str]:
    """Where the figures of each product come from."""
    sheets = {step.entry.step.sheet.text: step.entry.step.sheet for step in steps}
    return [f"{sheet.name}: {sheet.source_note or 'no source noted'}" for sheet in sheets.values()]


def not_recorded(entry: StepRecord) -> list[str]:
    """What a reader would look for and will not find."""
    step = entry.step
    values: dict[str, Any] = {
        gap: any(step.value(field) for field in FIELDS if field.gap == gap) for gap in GAPS
    }
    two_part = ":" in step.sheet.mix_ratio
    values["hardener batch"] = values["hardener batch"] or step.batch or not two_part
    values["film thickness"] = values["film thickness"] or step.of("coated")
    values |= {
        "a look at the dab": step.witnesses,
        "a test on the work": step.answers,
        "photographs": step.of("photographed"),
        "check of the sensor": any(sensor.checked for sensor in entry.sensors),
    }
    missing = [name for name, value in values.items() if not value]
    measured = {name for stretch in entry.stretches for name in stretch.spans}
    missing += [SPANS[name] for name in QUANTITIES if name not in measured]
    open_keys = [reminder.key for reminder in entry.view.reminders if reminder.answered_at is None]
    return missing + [f"answer to the reminder of {reminder_name(key)}" for key in open_keys]


def to_fill_in(steps: Sequence[PrintedStep]) -> list[str]:
    """What may still be written by hand, as it is missing from a step."""
    numbers: dict[str, list[int]] = {}
    for step in steps:
        for name in not_recorded(step.entry):
            if name in WRITTEN:
                numbers.setdefault(name, []).append(step.entry.step.id)
    return [f"{name}, {_of_steps(ids, len(steps))}" for name, ids in numbers.items()]


def _of_steps(numbers: Sequence[int], most: int) -> str:
    if len(numbers) == most > 1:
        return "every step"
    return f"{'step' if len(numbers) == 1 else 'steps'} {', '.join(map(str, sorted(numbers)))}"
