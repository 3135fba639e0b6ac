"""The words of the hand-over sheet: everything known of each step, gaps as gaps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime

from curewatch.climate import psychrometrics
from curewatch.cure.thermal_history import minimum_c
from curewatch.durations import duration
from curewatch.frozen import frozen
from curewatch.garage.damaged import Damaged, sentence
from curewatch.garage.part_history import ONLY_THAT, lying
from curewatch.garage.step import Step
from curewatch.handover import plot, tables
from curewatch.handover.blocks import (
    Blanks,
    Block,
    Bullets,
    Document,
    Drawing,
    Heading,
    Pictures,
    Section,
    TableBlock,
    Text,
)
from curewatch.handover.printed_step import (
    PrintedStep,
    by_part,
    labels,
    not_recorded,
    to_fill_in,
)
from curewatch.handover.recoat import recoat_state
from curewatch.logbook import history
from curewatch.logbook.logbook import StepRecord
from curewatch.logbook.paper import SAMPLES, SPANS, FieldFormatter, look_words
from curewatch.quality.calibration import StuckSpell
from curewatch.store.store import Event
from curewatch.vocabulary import STEP_STATES, reminder_name

BY_HAND = ("checked by", "signed", "place and date")
CAUTIONS = (
    "Every time here is an estimate or a note of what a person saw; labels and safety data "
    "sheets come first.",
    "Nobody can see from outside whether a bond holds: this sheet does not say that it does.",
    "Structural, seat-belt, steering, brake, fuel and glazing joints: the maker's procedure, local "
    "codes and licensed practice. Nothing here is evidence for such a joint.",
    "Dry-looking paint or filler may still give off solvent; isocyanate paint that looks dry still "
    "contaminates skin. Sanding dust: a particulate mask; take old paint for lead until tested.",
)


@frozen
class JobSheet:
    """Puts a job into words for one reader, as of an instant, which may lie ahead."""

    paper: FieldFormatter
    as_of: datetime

    def _facts(self, step: Step) -> str:
        return "; ".join(f"{name}: {value}" for name, value in self.paper.facts(step))

    def _dated(self, step: Step) -> Iterator[tuple[datetime, str]]:
        for witness in step.witnesses:
            yield (
                witness.at,
                f"{SAMPLES.get(witness.sample, witness.sample)}: "
                f"{look_words(witness.state, witness.turned_min)}",
            )
        for at, keys in _together(step.acknowledged):
            said_of = ", ".join(map(reminder_name, keys))
            yield at, f"reminders answered: {said_of}"
        for other in step.happened:
            if other.kind not in ("photographed", "overridden"):
                yield other.at, self.paper.happening(other)
        for override in step.overrides:
            yield override.at, override.words

    def _observations(self, step: Step) -> tuple[str, ...]:
        observations = sorted(self._dated(step), key=lambda line: line[0])
        dated = (f"{self.paper.stamp(at)}: {words}" for at, words in observations)
        return (*dated, *(f"note: {note}" for note in step.notes))

    def _corrected(self, events: Sequence[Event]) -> Iterator[Block]:
        lines = [
            history.sentence(line, self.paper)
            for line in history.history(events, self.paper)
            if line.correction or (line.later and line.words)
        ]
        if lines:
            yield Heading(4, "Entered or corrected afterwards; the earlier entry is kept")
            yield Bullets(tuple(lines))

    def _sensors(self, entry: StepRecord) -> str:
        said_of = [
            f"{sensor.source} ({SPANS[sensor.quantity]} at {sensor.place}): "
            + (
                f"last checked {self.paper.stamp(sensor.checked)}"
                + (f" by {sensor.checked_by}" if sensor.checked_by else "")
                if sensor.checked
                else "never checked"
            )
            for sensor in entry.sensors
        ]
        measured = f"Measured by {'; '.join(said_of)}." if said_of else "No sensor sent a reading."
        return " ".join((measured, *map(self._left_out, entry.left_out)))

    def _left_out(self, flat: StuckSpell) -> str:
        since, until = self.paper.stamp(flat.since), self.paper.stamp(flat.until)
        return (
            f"{flat.source} ({SPANS[flat.quantity]} at {flat.place}) was stuck from {since} to "
            f"{until}, which showed only later: left out of the conditions."
        )

    def _plot(self, printed: PrintedStep) -> Iterator[Block]:
        step, say = printed.entry.step, self.paper.say
        spread = step.sheet.limits.dew_spread_min_c
        limit, least = (
            psychrometrics.NEAR_DEW_K if spread is None else spread,
            minimum_c(step.sheet),
        )
        drawn = plot.drawing(
            printed.trace, least, limit, lambda c: say.temperature(c, 0), say.difference
        )
        if not drawn:
            yield Text("No plot: nothing was measured during this step.", "missing")
            return
        yield Drawing(drawn)
        yield Text(
            f"Above: surface (solid), air (dotted), the product's {say.temperature(least, 0)} "
            f"(dashed). Below: gap to the dew point, {say.difference(limit)} dashed. "
            "A break is a gap in the readings; - where no time could be given.",
            "small",
        )

    def _mixed(self, step: Step) -> str:
        late = (step.recorded_at - step.mixed_at).total_seconds() / 60
        mixed = f"mixed {self.paper.stamp(step.mixed_at)}"
        mixed += f", entered {duration(late)} later" if late >= 1 else ""
        ended = f", {self.paper.stamp(step.closed_at)}" if step.closed_at else ""
        return f"{mixed}; {STEP_STATES[step.state]}{ended}"

    def _pictures(self, printed: PrintedStep) -> Iterator[Block]:
        if printed.pictures:
            yield Heading(4, "Photographs")
            yield Pictures(printed.pictures)
        if printed.missing_pictures:
            yield Text(f"{printed.missing_pictures} photographs are gone from the data folder.")

    def step(self, printed: PrintedStep) -> Iterator[Block]:
        """One step: what, when, in which air, what was seen, and what was not recorded."""
        step = printed.entry.step
        yield Heading(3, f"Step {step.id}: {step.sheet.name}")
        yield Text(self._mixed(step))
        yield Text(self._facts(step))
        yield tables.milestones(printed, self.paper)
        yield tables.conditions(printed.entry.stretches, step.place, self.paper)
        yield from self._plot(printed)
        yield from tables.moments(printed.entry, self.paper)
        yield Text(self._sensors(printed.entry), "small")
        observations = self._observations(step)
        if observations:
            yield Heading(4, "Observations")
            yield Bullets(observations)
        yield from self._corrected(printed.events)
        yield from self._pictures(printed)
        yield Text(
            f"Not recorded: {', '.join(not_recorded(printed.entry)) or 'nothing'}", "missing"
        )

    def part(self, name: str, steps: Sequence[PrintedStep]) -> Iterator[Block]:
        """One part with its steps in order and what lies on top."""
        yield Heading(2, name)
        yield Text(self._state(steps), "state")
        for printed in steps:
            yield Section(tuple(self.step(printed)))

    def _state(self, steps: Sequence[PrintedStep]) -> str:
        views = [printed.entry.view for printed in steps]
        top, failed = lying(views, [step.state == "abandoned" for step in views])
        state = recoat_state(top or views[-1], self.as_of, self.paper.stamp)
        if failed is None or failed.joint != "body":
            return state
        return f"{state}; step {failed.id} over it failed: {ONLY_THAT}"

    def _overview(self, parts: Mapping[str, Sequence[PrintedStep]]) -> TableBlock:
        rows = []
        for name, steps in parts.items():
            listed = [f"{s.entry.step.id} {s.entry.step.sheet.name}" for s in steps]
            rows.append((name, "; ".join(listed), self._state(steps)))
        head = ("part", "steps in order", "before the next coat, as of this date")
        return TableBlock(head, tuple(rows), (22, 42, 36))

    def document(
        self, job: str, steps: Sequence[PrintedStep], left_out: Sequence[Damaged]
    ) -> Document:
        """The whole sheet, the steps of each part in order; left_out: what of them is damaged."""
        parts = by_part(steps)
        as_of = f"as of {self.paper.stamp(self.as_of)} ({self.paper.zone.key})"
        blocks: list[Block] = [
            Heading(1, job or "Steps without a job"),
            Text(f"What was done to this job, {as_of}. Recorded with curewatch.", "lead"),
            self._overview(parts),
        ]
        for damage in left_out:
            blocks.append(Text(f"{sentence(damage, self.paper.stamp(damage.row.recorded_at))}."))
        for name, of_part in parts.items():
            blocks += self.part(name, of_part)
        blocks += [Heading(2, "Labels"), Bullets(tuple(labels(steps)))]
        blocks += [Heading(2, "Cautions"), Bullets(CAUTIONS)]
        blocks += [Heading(2, "To fill in by hand"), Blanks((*to_fill_in(steps), *BY_HAND))]
        return Document(f"{job}: hand-over", tuple(blocks))


def _together(answered: Mapping[str, datetime]) -> list[tuple[datetime, list[str]]]:
    """The keys told at each instant, in order of time."""
    return [
        (at, [key for key in answered if answered[key] == at])
        for at in sorted(set(answered.values()))
    ]
