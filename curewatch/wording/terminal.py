"""The bench, the log and the shelf as lines of text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from curewatch.bench.alarms import WINDOW_WARNINGS, asks_for_tools, closing
from curewatch.bench.spraying import AIR_FED_KEY, NEVER
from curewatch.garage.joint import mark_commands
from curewatch.units import minutes
from curewatch.vocabulary import TESTED, answers_to
from curewatch.wording import clock_words, sensor_words, words

if TYPE_CHECKING:
    from curewatch.bench.views import AirTile, BenchView, DueView, MilestoneView, StepView, Stretch
    from curewatch.climate.reading import Reading
    from curewatch.exchange.ics import Words
    from curewatch.logbook.compare import Pair
    from curewatch.logbook.logbook import Entry
    from curewatch.logbook.predictions import Course, Told
    from curewatch.products.sheet import Sheet
    from curewatch.quality.calibration import Check, Flat
    from curewatch.quality.clock import WentBack
    from curewatch.quality.overview import Sensor, Sensors
    from curewatch.quality.slips import Slip
    from curewatch.store.turned_away import Refusal, TurnedAway
    from curewatch.wording.words import Manner


@dataclass(frozen=True)
class Terminal:
    """Says things in this reader's manner."""

    manner: Manner

    def calendar(self) -> Words:
        """How a calendar says what is coming."""
        return words.calendar(self.manner)

    def milestone(self, found: MilestoneView, now: datetime) -> str:
        """One milestone with its three clock times."""
        times = "  ".join(
            f"{name} {self.manner.moment(at, now)}" if at else f"{name} -"
            for name, at in (
                ("early", found.early),
                ("likely", found.likely),
                ("late", found.late),
            )
        )
        return f"    {words.in_words(found.name):14} {times}   {self._left(found, now)}"

    def _left(self, found: MilestoneView, now: datetime) -> str:
        said = words.found(found, now, self.manner)
        if found.reached:
            return said
        return "; ".join(each for each in (self._ahead(found, now), said) if each)

    def _ahead(self, found: MilestoneView, now: datetime) -> str:
        timeless = found.early is None and found.late is None
        if found.shown is None or (timeless and found.shown > now):
            return words.plain("; ".join(found.warnings), self.manner) or "no time can be given"
        left = minutes(found.shown - now)
        if left <= 0 and found.name not in TESTED:
            return f"over, {words.ago(-left)}"
        if left <= 0:
            return f"test now, due {words.ago(-left)}"
        return f"in {words.duration(left, words.rounding(found.name))}"

    def _step(self, view: StepView, now: datetime) -> Iterator[str]:
        name = words.part_of(view.part, view.sheet.name)
        details = words.mixed_details(
            self.manner, view.sheet.name, view.amount_g, view.hardener_pct
        )
        mixed = self.manner.moment(view.mixed_at, now)
        late = words.told_late(view.mixed_at, view.told_at)
        yield f"Step {view.id}: {name} ({details}), mixed {mixed}{f', {late}' if late else ''}"
        if view.unmasked:
            yield f"    STOP {NEVER}."
            step = f"{view.id}"
            yield f"    How is it applied? curewatch step edit {step} --applied brush|roller|spread"
            yield f"    Sprayed, with the mask on: curewatch step acknowledge {step} {AIR_FED_KEY}"
        yield f"    {view.forecast.reason}"
        if view.forecast.led:
            yield f"    {words.charge(view.forecast.led)}"
        if view.joint == "asked":
            part = view.part or "PART"
            yield f"    Answer: {mark_commands(part, view.job)}"
        for each in view.warnings:
            yield f"    ! {words.plain(each, self.manner)}"
        for lost in view.lost:
            yield f"    ! {sensor_words.lost(lost, self.manner, now)}"
        yield from (f"    ~ {words.moved(each, self.manner)}" for each in view.changes)
        for found in view.milestones:
            yield self.milestone(found, now)
        for seen in view.witnesses:
            at = self.manner.moment(seen.at, now)
            yield f"    witness {seen.id}: {words.STATES.get(seen.state, seen.state)} at {at}"
        open_ones = [each.key for each in view.reminders if each.answered_at is None]
        if open_ones and view.state == "hardening":
            yield f"    not answered yet: {', '.join(open_ones)}"

    def step(self, view: StepView, now: datetime) -> str:
        """One step with its milestones, reason and witnesses."""
        return "\n".join(self._step(view, now))

    def answered(self, name: str, answer: str, found: MilestoneView | None, now: datetime) -> str:
        """What the answer to a test did."""
        return f"{words.in_words(name)}: {words.recorded(answer, found, now, self.manner)}"

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
        lines += [f"  {self._tile(each)}" for each in view.air]
        lines += [f"  ! {sensor_words.lost(each, self.manner, view.now)}" for each in view.lost]
        lines += [f"  {words.plain(each, self.manner)}" for each in view.notes]
        if not view.steps:
            lines.append(words.EMPTY["bench"])
        for due in view.due[:1]:
            part = words.part_of(due.part, due.sheet_name)
            say = words.test_now if due.due else words.do
            if due.shown is None:
                when = words.plain("; ".join(due.warnings), self.manner) or "no time can be given"
            else:
                when = "test now" if due.due else self.manner.moment(due.shown, view.now)
            lines.append(f"Next: {say(due.milestone, part)}: {when}")
            lines += [f"  {each}" for each in self._test(due)]
        lines += self._asked_beside(view)
        for step in view.steps:
            lines += ["", *self._step(step, view.now)]
        return "\n".join([*lines, "", words.CAUTION])

    def _test(self, due: DueView) -> Iterator[str]:
        """The test that a milestone asks for, and how to answer it."""
        *most, last = answers_to(due.milestone)
        yield words.TEST[due.milestone]
        yield f"Answer with: curewatch test {due.step_id} {', '.join(most)} or {last}"

    def _asked_beside(self, view: BenchView) -> Iterator[str]:
        """Windows that shut within twelve hours, and cups that should be empty."""
        for step in view.steps:
            part = words.part_of(step.part, step.sheet.name)
            shuts = closing(step)
            if shuts and shuts.shown and view.now < shuts.shown <= view.now + WINDOW_WARNINGS[0]:
                yield words.shuts(part, shuts.shown, view.now, self.manner)
            if asks_for_tools(step, view.now):
                yield f"{part}: used up, tools clean? Then: curewatch step emptied {step.id}"

    def shelf(self, sheets: Sequence[Sheet], own: Set[str]) -> str:
        """The sheets, a line each."""
        width = max(len(each.id) for each in sheets)
        return "\n".join(
            f"{each.id:{width}}  {each.name}{'  (own)' if each.id in own else ''}"
            for each in sheets
        )

    def _stretch(self, stretch: Stretch, place: str, now: datetime) -> Iterator[str]:
        yield f"    until {words.in_words(stretch.until)} ({self.manner.moment(stretch.end, now)})"
        if not stretch.spans:
            yield "        nothing measured"
        for name, span in stretch.spans.items():
            low, mean, high = (
                words.value(self.manner, name, each)
                for each in (span.minimum, span.mean, span.maximum)
            )
            from_ = words.span_from(span, place)
            line = f"        {words.QUANTITY[name]:16} {low} to {high}, mean {mean}"
            yield f"{line} ({from_})" if from_ else line

    def _left_out(self, found: Flat, now: datetime) -> str:
        since, until = (self.manner.moment(each, now) for each in (found.since, found.until))
        named = f"{found.place} {words.QUANTITY[found.quantity]}"
        return f"    left out: {named} from {since} to {until}, when {found.source} stood still"

    def log(self, entries: Sequence[Entry], now: datetime) -> str:
        """The steps by job, the latest first, with their conditions."""
        if not entries:
            return words.EMPTY["logbook"]
        lines: list[str] = []
        for found in entries:
            lines.append(f"[{found.step.job or 'no job'}] {found.view.state}")
            lines += self._step(found.view, now)
            for stretch in found.stretches:
                lines += self._stretch(stretch, found.step.place, now)
            lines += [self._left_out(each, now) for each in found.left_out]
            lines += [f"    {each.words}" for each in found.step.overrides]
            lines += [f"    note: {each}" for each in found.view.notes]
            lines.append("")
        return "\n".join(lines)

    def _sensor(self, found: Sensor, now: datetime) -> Iterator[str]:
        last = found.last
        name = f"{last.place} {words.QUANTITY[last.quantity]}"
        value = words.value(self.manner, last.quantity, last.value)
        age = words.ago(minutes(now - last.at))
        yield f"{name:28} {value:10} {age}{' (old)' if found.old else ''}  from {last.source}"
        if last.flag:
            used = found.usable and words.ago(minutes(now - found.usable.at))
            yield f"    flagged: {sensor_words.flag(last.flag, last.quantity, self.manner, now)}"
            yield f"    not used; last used {used}" if used else "    not used"
        if found.check:
            yield f"    {self.check(found.check)}"
        if found.move:
            yield f"    {sensor_words.move(found.move, self.manner, now)}"

    def typed(self, found: Reading, now: datetime) -> str:
        """A typed reading, and whether it was replaced or taken back."""
        said = sensor_words.typed(found, self.manner, now)
        if found.flag is None:
            return said
        return f"{said}: {sensor_words.flag(found.flag, found.quantity, self.manner, now)}"

    def slip(self, found: Slip, now: datetime) -> tuple[str, str]:
        """Why a typed value is refused, and what to do."""
        meant = sensor_words.meant(found, self.manner)
        unit = f"if you meant {meant}, enter '{found.meant}'; " if meant else ""
        said = sensor_words.slip(found, self.manner, now)
        return said, f"{unit}if it is right, add --yes"

    def check(self, found: Check) -> str:
        """What a check made of a sensor."""
        return sensor_words.check(found, self.manner)

    def found(self, courses: Sequence[Course]) -> str:
        """What a product did here: foretold at mixing beside what tests found, the latest first."""
        lines = ["Foretold when mixed, and found by test:"] if courses else []
        for course in courses:
            warm = "" if course.surface_c is None else self.manner.temperature(course.surface_c)
            part = course.step.part or "no part"
            lines.append(f"  step {course.step.id}, {part}, surface {warm or 'not measured'}")
            lines += [f"    {_told(each)}" for each in course.told]
        return "\n".join(lines)

    def pair(self, pair: Pair) -> str:
        """Two steps under each other, what differs marked."""
        lines = [f"step {pair.left.id} | step {pair.right.id}: {pair.left.sheet.name}"]
        for name, rows in pair.groups:
            lines += [name] if rows else []
            lines += [
                f"{' *' if row.differs else '  '} {words.plain(row.what, self.manner)}: "
                f"{row.left} | {row.right}"
                for row in rows
            ]
        return "\n".join([*lines, "* differs"])

    def sensors(
        self,
        found: Sensors,
        refused: Sequence[Refusal],
        away: Sequence[TurnedAway],
        now: datetime,
    ) -> str:
        """What is heard with its age, flags and checks, and what and who was turned away."""
        lines = [] if found.all else [words.EMPTY["air"]]
        for each in found.all:
            lines += self._sensor(each, now)
        lines += [f"! {sensor_words.split(each, self.manner)}" for each in found.splits]
        lines += [f"! {sensor_words.ahead(each, self.manner, now)}" for each in found.ahead]
        if found.ahead:
            lines.append("  Set them aside for good: curewatch sensor set-aside")
        if refused:
            lines.append(f"Refused: {sum(each.count for each in refused)}")
        lines += [f"  {each.count} x {each.source}: {each.sentence}" for each in refused]
        if away:
            lines.append(f"Not let in: {sum(each.count for each in away)}")
        lines += [
            f"  {each.count} x {sensor_words.stranger(each.who)}, last "
            f"{self.manner.moment(each.last, now)}: {sensor_words.not_let_in(each.who)}"
            for each in away
        ]
        return "\n".join(lines)

    def went_back(self, found: WentBack) -> str:
        """That the computer's clock went back, by how much, and what to do."""
        return (
            f"{clock_words.went_back(found)} {clock_words.instead(found, self.manner)} Set it, for "
            f"example with timedatectl; if {clock_words.right(found, self.manner)}: "
            "curewatch clock confirm"
        )

    def clock_confirmed(self, view: BenchView, aside: int) -> str:
        """What confirming the clock did, and which steps now lie in the future."""
        lines = [clock_words.confirmed(view.now, aside, self.manner)]
        for step in clock_words.not_yet(view):
            said = clock_words.mixed_later(step, view.now, self.manner)
            lines.append(f"  {said[:-1]}: curewatch step edit {step.id} --ago '20 min'")
        return "\n".join(lines)

    def estimate(self, sheet: Sheet, now: Mapping[str, Any], then: Mapping[str, Any] | None) -> str:
        """The milestones of an estimate, and beside them those of a what-if."""
        lines = [sheet.name, f"  {words.plain(now['reason'], self.manner)}"]
        if then is not None:
            lines.append(f"  what if: {words.plain(then['reason'], self.manner)}")
        other = {each["milestone"]: each for each in then["milestones"]} if then else {}
        for each in now["milestones"]:
            line = f"  {words.in_words(each['milestone']):14} {_three(each)}"
            if other:
                line += f"   | what if {_three(other[each['milestone']])}"
            lines.append(line)
            lines += [f"      ! {words.plain(said, self.manner)}" for said in each["warnings"]]
        lines += [f"  ! {words.plain(said, self.manner)}" for said in now["warnings"]]
        return "\n".join([*lines, words.CAUTION])


def _three(found: Mapping[str, Any]) -> str:
    names = ("early", "likely", "late")
    values = [found[f"{name}_min"] for name in names]
    if all(value is None for value in values):
        return "no time can be given"
    how = words.rounding(found["milestone"])
    said = ("-" if value is None else words.duration(value, how) for value in values)
    return "  ".join(f"{name} {text}" for name, text in zip(names, said, strict=True))


def _told(told: Told) -> str:
    name = f"{words.in_words(told.milestone):14}"
    if told.early_min is None or told.late_min is None:
        first = "no time was given"
    else:
        first = words.between(told.early_min, told.late_min, words.rounding(told.milestone))
    if told.seen_min is not None:
        return f"{name} {first:24} found by {words.duration(told.seen_min)}: {told.verdict}"
    if told.not_min is not None:
        return f"{name} {first:24} not yet at {words.duration(told.not_min)}"
    return f"{name} {first:24} not tested"
