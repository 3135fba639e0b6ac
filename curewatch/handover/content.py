"""The words of the hand-over sheet: everything known of each step, gaps as gaps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from curewatch.bench.views import MilestoneView, Stretch
from curewatch.climate import psychrometrics
from curewatch.climate.summary import Span
from curewatch.cure.thermal_history import minimum_c
from curewatch.durations import between, duration, rounding
from curewatch.events.fields import FIELDS
from curewatch.garage.damaged import Damaged, sentence
from curewatch.garage.lying import ONLY_THAT, lying
from curewatch.garage.step import Step
from curewatch.handover import plot
from curewatch.handover.blocks import (
    Blanks,
    Block,
    Bullets,
    Document,
    Drawing,
    Heading,
    Picture,
    Pictures,
    Section,
    Table,
    Text,
)
from curewatch.handover.plot import Trace
from curewatch.handover.recoat import recoat_state
from curewatch.logbook import history
from curewatch.logbook.logbook import Entry
from curewatch.logbook.paper import RESULTS, SPANS, STATES, Paper
from curewatch.logbook.predictions import Told
from curewatch.products.sheet import Sheet
from curewatch.quality.calibration import Flat
from curewatch.store.store import Event
from curewatch.vocabulary import in_words

NO_PART = "part not named"
MOST_MOMENTS = 18
STRETCHES = ("surface_temperature", "air_temperature", "relative_humidity", "dew_point_spread")
GAPS = tuple(dict.fromkeys(field.gap for field in FIELDS if field.gap))
WRITTEN = {field.gap for field in FIELDS if field.by_hand}
BY_HAND = ("checked by", "signed", "place and date")
CAUTIONS = (
    "Every time here is an estimate or a note of what a person saw; labels and safety data sheets "
    "rule.",
    "No one can see from outside whether a bond holds: this sheet does not say that it does.",
    "Structural, seat-belt, steering, brake, fuel and glazing joints: the maker's procedure, local "
    "codes and licensed practice. Nothing here is evidence for such a joint.",
    "Dry-looking paint or filler may still give off solvent; isocyanate paint that looks dry still "
    "contaminates skin. Sanding dust: a particulate mask; take old paint for lead until tested.",
)


@dataclass(frozen=True)
class Held:
    """One step with all that is printed of it."""

    entry: Entry
    traced: Trace
    told: tuple[Told, ...]
    events: tuple[Event, ...]
    pictures: tuple[Picture, ...]
    missing_pictures: int = 0


@dataclass(frozen=True)
class Writer:
    """Puts a job into words for one reader, as of an instant, which may lie ahead."""

    paper: Paper
    as_of: datetime

    def _conditions(self, stretches: Sequence[Stretch], place: str) -> Table:
        head = ("from mixing until", *(SPANS[name] for name in STRETCHES))
        rows = tuple(
            (
                f"{in_words(each.until)}, {self.paper.stamp(each.end)}",
                *self._cells(each.spans, place),
            )
            for each in stretches
        )
        return Table(head, rows, (26, 20, 20, 18, 20))

    def _cells(self, spans: Mapping[str, Span], place: str) -> Iterator[str]:
        for name in STRETCHES:
            found = spans.get(name)
            yield self.paper.span(name, found, place) if found else "not measured"

    def _moments(self, entry: Entry) -> Iterator[Block]:
        held = [each for each in entry.moments if each.values or not each.regular]
        shown = held[:MOST_MOMENTS]
        rows = tuple(
            (
                each.name,
                self.paper.stamp(each.at),
                *(
                    self.paper.measured(name, each.values[name]) if name in each.values else "-"
                    for name in SPANS
                ),
            )
            for each in shown
        )
        yield Table(("then", "at", *SPANS.values()), rows, (20, 24, 13, 12, 13, 14, 20))
        if len(shown) < len(held):
            left = len(held) - len(shown)
            yield Text(f"{left} more instants, four hours apart, are in the logbook.", "small")
        if len(held) < len(entry.moments):
            left = len(entry.moments) - len(held)
            yield Text(f"Nothing was measured at {left} more, four hours apart.", "small")

    def _milestone(self, step: Step, found: MilestoneView, told: Told | None) -> tuple[str, ...]:
        times = (
            "-" if each is None else self.paper.stamp(each)
            for each in (found.early, found.likely, found.late)
        )
        answers = [
            f"{RESULTS.get(each.result, each.result)}, {self.paper.stamp(each.at)}"
            for each in step.answers.get(found.name, ())
        ]
        verdict = f" ({told.verdict})" if told and answers else ""
        first = (
            between(told.early_min, told.late_min, rounding(told.milestone))
            if told and told.early_min is not None and told.late_min is not None
            else "-"
        )
        tested = "; ".join(answers) + verdict if answers else "not tested"
        return (
            in_words(found.name),
            duration(found.label_min, rounding(found.name)),
            first,
            *times,
            tested,
        )

    def _milestones(self, held: Held) -> Table:
        step = held.entry.step
        reference = self.paper.say.temperature(step.sheet.reference.temperature_c, 0)
        told = {each.milestone: each for each in held.told}
        head = (
            "", f"label at {reference}", "foretold at mixing", "early", "likely", "late",
            "tested on the work",
        )  # fmt: skip
        rows = tuple(
            self._milestone(step, each, told.get(each.name)) for each in held.entry.view.milestones
        )
        return Table(head, rows, (14, 11, 20, 16, 16, 16, 26))

    def _facts(self, step: Step) -> str:
        return "; ".join(f"{name}: {value}" for name, value in self.paper.facts(step))

    def _seen(self, step: Step) -> Iterator[tuple[datetime, str]]:
        for each in step.witnesses:
            yield each.at, f"dab ({each.sample}) {STATES.get(each.state, each.state)}"
        for at, keys in _together(step.acknowledged):
            said_of = ", ".join(key.replace(":", " when ") for key in keys)
            yield at, f"reminders answered: {said_of}"
        for other in step.happened:
            if other.kind not in ("photographed", "overridden"):
                yield other.at, self.paper.happening(other)
        for override in step.overrides:
            yield override.at, override.words

    def _told(self, step: Step) -> tuple[str, ...]:
        seen = sorted(self._seen(step), key=lambda each: each[0])
        dated = (f"{self.paper.stamp(at)}: {words}" for at, words in seen)
        return (*dated, *(f"note: {each}" for each in step.notes))

    def _corrected(self, events: Sequence[Event]) -> Iterator[Block]:
        found = [
            history.sentence(each, self.paper)
            for each in history.history(events, self.paper)
            if each.correction or (each.later and each.words)
        ]
        if found:
            yield Heading(4, "Told or corrected afterwards; what stood before is kept")
            yield Bullets(tuple(found))

    def _sensors(self, entry: Entry) -> str:
        said_of = [
            f"{each.source} ({SPANS[each.quantity]} at {each.place}): "
            + (
                f"last checked {self.paper.stamp(each.checked)}"
                + (f" by {each.checked_by}" if each.checked_by else "")
                if each.checked
                else "never checked"
            )
            for each in entry.sensors
        ]
        measured = f"Measured by {'; '.join(said_of)}." if said_of else "No sensor was heard."
        return " ".join((measured, *map(self._left_out, entry.left_out)))

    def _left_out(self, found: Flat) -> str:
        since, until = self.paper.stamp(found.since), self.paper.stamp(found.until)
        return (
            f"{found.source} ({SPANS[found.quantity]} at {found.place}) stood still from {since} "
            f"to {until}, before that was known: left out of the conditions."
        )

    def _plot(self, held: Held) -> Iterator[Block]:
        step, say = held.entry.step, self.paper.say
        spread = step.sheet.limits.dew_spread_min_c
        limit, least = (
            psychrometrics.NEAR_DEW_K if spread is None else spread,
            minimum_c(step.sheet),
        )
        drawn = plot.drawing(
            held.traced, least, limit, lambda c: say.temperature(c, 0), say.difference
        )
        if not drawn:
            yield Text("No plot: nothing was measured during this step.", "missing")
            return
        yield Drawing(drawn)
        yield Text(
            f"Above: surface (solid), air (dotted), the product's {say.temperature(least, 0)} "
            f"(dashed). Below: spread above the dew point, {say.difference(limit)} dashed. "
            "A break is a gap in the readings; - where no time could be given.",
            "small",
        )

    def _mixed(self, step: Step) -> str:
        late = (step.told_at - step.mixed_at).total_seconds() / 60
        mixed = f"mixed {self.paper.stamp(step.mixed_at)}"
        mixed += f", told {duration(late)} afterwards" if late >= 1 else ""
        ended = f", {self.paper.stamp(step.closed_at)}" if step.closed_at else ""
        return f"{mixed}; {step.state}{ended}"

    def _pictures(self, held: Held) -> Iterator[Block]:
        if held.pictures:
            yield Heading(4, "Photographs")
            yield Pictures(held.pictures)
        if held.missing_pictures:
            yield Text(f"{held.missing_pictures} photographs are gone from the data folder.")

    def step(self, held: Held) -> Iterator[Block]:
        """One step: what, when, in which air, what was seen, and what was not recorded."""
        step = held.entry.step
        yield Heading(3, f"Step {step.id}: {step.sheet.name}")
        yield Text(self._mixed(step))
        yield Text(self._facts(step))
        yield self._milestones(held)
        yield self._conditions(held.entry.stretches, step.place)
        yield from self._plot(held)
        yield from self._moments(held.entry)
        yield Text(self._sensors(held.entry), "small")
        seen = self._told(step)
        if seen:
            yield Heading(4, "Seen and told")
            yield Bullets(seen)
        yield from self._corrected(held.events)
        yield from self._pictures(held)
        yield Text(f"Not recorded: {', '.join(not_recorded(held.entry)) or 'nothing'}", "missing")

    def part(self, name: str, held: Sequence[Held]) -> Iterator[Block]:
        """One part with its steps in order and what lies on top."""
        yield Heading(2, name)
        yield Text(self._state(held), "state")
        for each in held:
            yield Section(tuple(self.step(each)))

    def _state(self, held: Sequence[Held]) -> str:
        views = [each.entry.view for each in held]
        top, failed = lying(views, [step.state == "abandoned" for step in views])
        state = recoat_state(top or views[-1], self.as_of, self.paper.stamp)
        if failed is None or failed.joint != "body":
            return state
        return f"{state}; step {failed.id} over it was abandoned: {ONLY_THAT}"

    def _overview(self, parts: Mapping[str, Sequence[Held]]) -> Table:
        rows = []
        for name, held in parts.items():
            steps = "; ".join(f"{h.entry.step.id} {h.entry.step.sheet.name}" for h in held)
            rows.append((name, steps, self._state(held)))
        head = ("part", "steps in order", "before the next coat, as of this date")
        return Table(head, tuple(rows), (22, 42, 36))

    def document(self, job: str, held: Sequence[Held], left_out: Sequence[Damaged]) -> Document:
        """The whole sheet, the steps of each part in order; left_out: what of them is damaged."""
        parts = by_part(held)
        as_of = f"as of {self.paper.stamp(self.as_of)} ({self.paper.zone.key})"
        blocks: list[Block] = [
            Heading(1, job or "Steps without a job"),
            Text(f"What was done to this job, {as_of}. Recorded with curewatch.", "lead"),
            self._overview(parts),
        ]
        said = [sentence(each, self.paper.stamp(each.row.told)) for each in left_out]
        blocks += [Text(f"{each}.") for each in said]
        for name, steps in parts.items():
            blocks += self.part(name, steps)
        blocks += [Heading(2, "Labels"), Bullets(tuple(labels(held)))]
        blocks += [Heading(2, "Cautions"), Bullets(CAUTIONS)]
        blocks += [Heading(2, "To fill in by hand"), Blanks((*gaps(held), *BY_HAND))]
        return Document(f"{job}: hand-over", tuple(blocks))


def _together(held: Mapping[str, datetime]) -> list[tuple[datetime, list[str]]]:
    """The keys told at each instant, in order of time."""
    return [(at, [key for key in held if held[key] == at]) for at in sorted(set(held.values()))]


def labels(held: Sequence[Held]) -> list[str]:
    """Where the figures of each product come from."""
    sheets: dict[str, Sheet] = {h.entry.step.sheet.text: h.entry.step.sheet for h in held}
    return [f"{each.name}: {each.source_note or 'no source noted'}" for each in sheets.values()]


def not_recorded(entry: Entry) -> list[str]:
    """What a reader would look for and will not find."""
    step = entry.step
    asked: dict[str, Any] = {
        gap: any(step.value(field) for field in FIELDS if field.gap == gap) for gap in GAPS
    }
    two_part = ":" in step.sheet.mix_ratio
    asked["hardener batch"] = asked["hardener batch"] or step.batch or not two_part
    asked["film thickness"] = asked["film thickness"] or step.of("coated")
    asked |= {
        "a look at the dab": step.witnesses,
        "a test on the work": step.answers,
        "photographs": step.of("photographed"),
        "check of the sensor": any(sensor.checked for sensor in entry.sensors),
    }
    missing = [name for name, value in asked.items() if not value]
    measured = {name for each in entry.stretches for name in each.spans}
    missing += [SPANS[name] for name in STRETCHES if name not in measured]
    open_ones = [each.key for each in entry.view.reminders if each.answered_at is None]
    return missing + [f"reminder {each.replace(':', ' when ')}" for each in open_ones]


def gaps(held: Sequence[Held]) -> list[str]:
    """What may still be written by hand, as it is missing from a step."""
    found: dict[str, list[int]] = {}
    for each in held:
        for name in not_recorded(each.entry):
            if name in WRITTEN:
                found.setdefault(name, []).append(each.entry.step.id)
    return [f"{name}, {_steps(numbers, len(held))}" for name, numbers in found.items()]


def _steps(numbers: Sequence[int], most: int) -> str:
    if len(numbers) == most > 1:
        return "every step"
    return f"{'step' if len(numbers) == 1 else 'steps'} {', '.join(map(str, sorted(numbers)))}"


def by_part(held: Sequence[Held]) -> dict[str, list[Held]]:
    """The steps by part, each part's in the order of mixing."""
    parts: dict[str, list[Held]] = {}
    for each in sorted(held, key=lambda one: (one.entry.step.mixed_at, one.entry.step.id)):
        parts.setdefault(each.entry.step.part or NO_PART, []).append(each)
    return parts
