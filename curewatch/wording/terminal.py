"""The bench, the log and the shelf as lines of text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.bench.alarms import WINDOW_WARNINGS, asks_for_tools, closing
from curewatch.bench.spraying import AIR_FED_KEY, NEVER
from curewatch.frozen import frozen
from curewatch.garage.joint import mark_commands
from curewatch.logbook.paper import turned_words
from curewatch.notice_words import sentence, sentences
from curewatch.units import minutes
from curewatch.vocabulary import STEP_STATES, TESTED, answers_to
from curewatch.wording import clock_words, milestone_words, sensor_words, words
from curewatch.wording.terminal_sensors import SensorLines

if TYPE_CHECKING:
    from curewatch.bench.views import (
        AirTile,
        BenchView,
        DueView,
        MilestoneView,
        StepStretch,
        StepView,
    )
    from curewatch.cure.forecast import Forecast, Milestone
    from curewatch.exchange.ics import Words
    from curewatch.logbook.compare import Comparison
    from curewatch.logbook.logbook import StepRecord
    from curewatch.logbook.predictions import Prediction, StepPredictions
    from curewatch.products.sheet import Sheet
    from curewatch.quality.calibration import StuckSpell
    from curewatch.quality.clock import ClockSetback


@frozen
class Terminal(SensorLines):
    """Says things in this reader's manner."""

    def calendar(self) -> Words:
        """How a calendar says what is coming."""
        return words.calendar(self.manner)

    def milestone(self, milestone: MilestoneView, now: datetime) -> str:
        """One milestone with its three clock times."""
        times = "  ".join(
            f"{name} {self.manner.moment(at, now)}" if at else f"{name} -"
            for name, at in (
                ("early", milestone.early),
                ("likely", milestone.likely),
                ("late", milestone.late),
            )
        )
        return f"    {words.in_words(milestone.name):14} {times}   {self._left(milestone, now)}"

    def _left(self, milestone: MilestoneView, now: datetime) -> str:
        text = milestone_words.result_words(milestone, now, self.manner)
        if milestone.reached:
            return text
        return "; ".join(part for part in (self._ahead(milestone, now), text) if part)

    def _ahead(self, milestone: MilestoneView, now: datetime) -> str:
        timeless = milestone.early is None and milestone.late is None
        if milestone.shown is None or (timeless and milestone.shown > now):
            return sentences(milestone.warnings, self.manner) or "no time can be given"
        left = minutes(milestone.shown - now)
        if left <= 0 and milestone.name not in TESTED:
            return f"over, {words.ago(-left)}"
        if left <= 0:
            return f"test now, due {words.ago(-left)}"
        return f"in {words.duration(left, words.rounding(milestone.name))}"

    def _step(self, view: StepView, now: datetime) -> Iterator[str]:
        name = words.part_of(view.part, view.sheet.name)
        product = view.sheet.name if view.part else ""  # without a part it is the step's name
        details = words.mixed_details(self.manner, product, view.amount_g, view.hardener_pct)
        mixed = self.manner.moment(view.mixed_at, now)
        late = words.entered_late(view.mixed_at, view.recorded_at)
        texts = [f"Step {view.id}: {name}{details and f' ({details})'}", f"mixed {mixed}", late]
        yield ", ".join(text for text in texts if text)
        if view.unmasked:
            yield f"    STOP {NEVER}."
            step = f"{view.id}"
            yield f"    How is it applied? curewatch step edit {step} --applied brush|roller|spread"
            yield f"    Sprayed, with the mask on: curewatch step acknowledge {step} {AIR_FED_KEY}"
        yield f"    {sentences(view.forecast.reason, self.manner)}"
        if view.forecast.led:
            yield f"    {words.leading_source(view.forecast.led)}"
        if view.joint == "asked":
            part = view.part or "PART"
            yield f"    Answer: {mark_commands(part, view.job)}"
        for warning in view.warnings:
            yield f"    ! {sentence(warning, self.manner)}"
        for lost in view.lost:
            yield f"    ! {sensor_words.lost(lost, self.manner, now)}"
        yield from (f"    ~ {words.moved(change, now, self.manner)}" for change in view.changes)
        for milestone in view.milestones:
            yield self.milestone(milestone, now)
        for witness in view.witnesses:
            at = self.manner.moment(witness.at, now)
            state = words.STATES.get(witness.state, witness.state)
            yield f"    witness {witness.id}: {state} at {at}{turned_words(witness.turned_min)}"
        if view.asked_look:
            until = self.manner.moment(view.asked_look.until, now)
            yield (
                f"    ? a look at the dab until {until} would narrow "
                f"{words.in_words(view.asked_look.waited)}: curewatch dab {view.id} STATE"
            )
        open_ones = [reminder.key for reminder in view.reminders if reminder.answered_at is None]
        if open_ones and view.state == "hardening":
            yield f"    reminders not answered yet: {', '.join(open_ones)}"

    def step(self, view: StepView, now: datetime) -> str:
        """One step with its milestones, reason and witnesses."""
        return "\n".join(self._step(view, now))

    def answered(
        self, name: str, answer: str, milestone: MilestoneView | None, now: datetime
    ) -> str:
        """What the answer to a test did."""
        recorded = milestone_words.recorded(answer, milestone, now, self.manner)
        return f"{words.in_words(name)}: {recorded}"

    def _tile(self, tile: AirTile) -> str:
        value = "-" if tile.value is None else words.value(self.manner, tile.quantity, tile.value)
        age = "" if tile.age_min is None else f", {words.ago(tile.age_min)}"
        return (
            f"{words.air_label(tile.place, tile.quantity)} {value}"
            f"{age}{' (old)' if tile.old else ''}"
        )

    def bench(self, view: BenchView) -> str:
        """Everything hardening, what comes next first."""
        lines = [f"Bench at {self.manner.clock(view.now)}"]
        lines += [f"  {self._tile(tile)}" for tile in view.air]
        lines += [f"  ! {sensor_words.lost(outage, self.manner, view.now)}" for outage in view.lost]
        lines += [f"  {sentence(note, self.manner)}" for note in view.notes]
        if not view.steps:
            lines.append(f"{words.EMPTY['bench']} The command is: curewatch mix")
        for due in view.due[:1]:
            lines += self._next(due, view.now)
        lines += self._asked_beside(view)
        for step in view.steps:
            lines += ["", *self._step(step, view.now)]
        return "\n".join([*lines, "", words.CAUTION])

    def _next(self, due: DueView, now: datetime) -> Iterator[str]:
        """What is asked next, the test for it, and how to answer it."""
        milestone, part = due.milestone, words.part_of(due.step.part, due.step.sheet.name)
        say = milestone_words.test_now if milestone.due else milestone_words.do
        if milestone.shown is None:
            when = sentences(milestone.warnings, self.manner) or "no time can be given"
        else:
            when = "test now" if milestone.due else self.manner.moment(milestone.shown, now)
        yield f"Next: {say(milestone.name, part)}: {when}"
        *most, last = answers_to(milestone.name)
        yield f"  {milestone_words.TEST[milestone.name]}"
        yield f"  Answer with: curewatch test {due.step.id} {', '.join(most)} or {last}"

    def _asked_beside(self, view: BenchView) -> Iterator[str]:
        """Windows that close within twelve hours, and cups that should be empty."""
        for step in view.steps:
            part = words.part_of(step.part, step.sheet.name)
            shuts = closing(step)
            if shuts and shuts.shown and view.now < shuts.shown <= view.now + WINDOW_WARNINGS[0]:
                yield words.shuts(part, shuts.shown, view.now, self.manner)
            if asks_for_tools(step, view.now):
                yield f"{part}: cup empty, tools cleaned? Then: curewatch step emptied {step.id}"

    def shelf(self, sheets: Sequence[Sheet], own: Set[str]) -> str:
        """The sheets, a line each."""
        width = max(len(sheet.id) for sheet in sheets)
        return "\n".join(
            f"{sheet.id:{width}}  {sheet.name}{'  (own)' if sheet.id in own else ''}"
            for sheet in sheets
        )

    def _stretch(self, stretch: StepStretch, place: str, now: datetime) -> Iterator[str]:
        yield f"    until {words.in_words(stretch.until)} ({self.manner.moment(stretch.end, now)})"
        if not stretch.spans:
            yield "        nothing measured"
        for name, span in stretch.spans.items():
            low, mean, high = (
                words.value(self.manner, name, value)
                for value in (span.minimum, span.mean, span.maximum)
            )
            from_ = words.span_from(span, place)
            course = f"{low} throughout" if low == high else f"{low} to {high}, mean {mean}"
            line = f"        {words.QUANTITY[name]:16} {course}"
            yield f"{line} ({from_})" if from_ else line

    def _left_out(self, flat: StuckSpell, now: datetime) -> str:
        since, until = (self.manner.moment(instant, now) for instant in (flat.since, flat.until))
        named = f"{flat.place} {words.QUANTITY[flat.quantity]}"
        return f"    left out: {named} from {since} to {until}, when {flat.source} was stuck"

    def log(self, entries: Sequence[StepRecord], now: datetime) -> str:
        """The steps by job, the latest first, with their conditions."""
        if not entries:
            return words.EMPTY["logbook"]
        lines: list[str] = []
        for entry in entries:
            lines.append(f"[{entry.step.job or 'no job'}] {STEP_STATES[entry.view.state]}")
            lines += self._step(entry.view, now)
            for stretch in entry.stretches:
                lines += self._stretch(stretch, entry.step.place, now)
            lines += [self._left_out(flat, now) for flat in entry.left_out]
            lines += [f"    {override.words}" for override in entry.step.overrides]
            lines += [f"    note: {note}" for note in entry.view.notes]
            lines.append("")
        return "\n".join(lines)

    def predictions(self, courses: Sequence[StepPredictions]) -> str:
        """What was predicted of a product beside what tests found, the latest first."""
        lines = ["Predicted when mixed, and actual by test:"] if courses else []
        for course in courses:
            warm = "" if course.surface_c is None else self.manner.temperature(course.surface_c)
            part = course.step.part or "no part"
            lines.append(f"  step {course.step.id}, {part}, surface {warm or 'not measured'}")
            lines += [f"    {_prediction_line(prediction)}" for prediction in course.predictions]
        return "\n".join(lines)

    def comparison(self, comparison: Comparison) -> str:
        """Steps under each other, what differs marked."""
        lines = [
            " | ".join(f"step {step.id}: {step.sheet.name}" for step in comparison.steps),
        ]
        for name, rows in comparison.groups:
            lines += [name] if rows else []
            lines += [
                f"{' *' if row.differs else '  '} {row.what}: {' | '.join(row.values)}"
                for row in rows
            ]
        return "\n".join([*lines, "* differs"])

    def went_back(self, setback: ClockSetback) -> str:
        """That the computer's clock went back, by how much, and what to do."""
        return (
            f"{clock_words.went_back(setback)} {clock_words.instead(setback, self.manner)} "
            f"Set it, for example with timedatectl; if {clock_words.right(setback, self.manner)}: "
            "curewatch clock confirm"
        )

    def clock_confirmed(self, view: BenchView, aside: int) -> str:
        """What confirming the clock did, and which steps now lie in the future."""
        lines = [clock_words.confirmed(view.now, aside, self.manner)]
        for step in clock_words.not_yet(view):
            how = f"curewatch step edit {step.id} --ago '20 min'"
            lines.append(f"  {clock_words.mixed_later(step, view.now, self.manner, how)}")
        return "\n".join(lines)

    def estimate(self, sheet: Sheet, now: Forecast, then: Forecast | None) -> str:
        """The milestones of an estimate, and beside them those of a what-if."""
        lines = [sheet.name, f"  {sentences(now.reason, self.manner)}"]
        if then is not None:
            lines.append(f"  what if: {sentences(then.reason, self.manner)}")
        for milestone in now.milestones:
            line = f"  {words.in_words(milestone.name):14} {_three(milestone)}"
            if then is not None:
                line += f"   | what if {_three(then.by_name[milestone.name])}"
            lines.append(line)
            lines += [f"      ! {sentence(warning, self.manner)}" for warning in milestone.warnings]
        lines += [f"  ! {sentence(warning, self.manner)}" for warning in now.warnings]
        return "\n".join([*lines, words.CAUTION])


def _three(milestone: Milestone) -> str:
    times = {
        "early": milestone.early_min,
        "likely": milestone.likely_min,
        "late": milestone.late_min,
    }
    if all(value is None for value in times.values()):
        return "no time can be given"
    how = words.rounding(milestone.name)
    texts = {
        name: "-" if value is None else words.duration(value, how) for name, value in times.items()
    }
    return "  ".join(f"{name} {text}" for name, text in texts.items())


def _prediction_line(prediction: Prediction) -> str:
    name = f"{words.in_words(prediction.milestone):14}"
    if prediction.early_min is None or prediction.late_min is None:
        first = "no time was given"
    else:
        first = words.between(
            prediction.early_min, prediction.late_min, words.rounding(prediction.milestone)
        )
    if prediction.seen_min is not None:
        tested = words.duration(prediction.seen_min)
        return f"{name} {first:24} found by {tested}: {prediction.verdict}"
    if prediction.not_min is not None:
        return f"{name} {first:24} not yet at {words.duration(prediction.not_min)}"
    return f"{name} {first:24} not tested"
