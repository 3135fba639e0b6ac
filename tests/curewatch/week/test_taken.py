"""A plan that was taken over: its beginnings remind until each is begun, and move with the plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
import vobject

from curewatch.bench.bench import Bench, Details
from curewatch.errors import StepError
from curewatch.exchange.announcements import SCHEMAS
from curewatch.formats import ReaderFormat
from curewatch.garage import parts
from curewatch.logbook.undo import last_one, undo
from curewatch.ways import entered
from curewatch.ways.left import begin_next, left_of
from curewatch.week import taken, taken_words
from curewatch.week.calendar import calendar, reminder_events
from curewatch.week.kept import keep, shown_since
from curewatch.week.plan import Moved, PlannedStep, WeekPlan
from curewatch.week.taken import PlanReminder, PlanReminders
from tests.curewatch.exchange.test_log_schema import faults
from tests.support.logbooks import BERLIN, NOW
from tests.support.planned import PART, at, step, week
from tests.support.wishes import wished

SAY = ReaderFormat(BERLIN)
WISH = {"wing": ("prime-bare-metal", NOW + timedelta(days=4))}
WING = replace(PART, part="wing")


def planned(number: int, start_h: float, **how: object) -> PlannedStep:
    """A step of the wing, to be begun within two hours."""
    return step(number, start_h, part="wing", **how)


PLAN = week(planned(0, 1.0), planned(1, 4.0), part=WING)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return wished(tmp_path, WISH)


def reminded(bench: Bench, hours: float = 0.0) -> list[PlanReminder]:
    """What the plan reminds of some hours later."""
    return list(PlanReminders(bench).now(at(hours), BERLIN))


def reminder_lines(bench: Bench, hours: float = 0.0) -> list[str]:
    return [taken_words.sentence(step, at(hours), SAY) for step in reminded(bench, hours)]


def later(plan: WeekPlan, hours: float, *steps: PlannedStep) -> WeekPlan:
    """Another plan, some hours later, that moved because something cures longer."""
    return replace(plan, now=at(hours), steps=steps, moved=Moved("curing", "wing", ()))


def test_a_plan_reminds_only_once_it_is_taken_over_and_no_more_when_let_go(bench: Bench) -> None:
    keep(bench.store, PLAN)
    assert reminded(bench) == []
    with pytest.raises(StepError, match="no plan reminds you"):
        taken.let_go(bench.store, now=NOW)
    taken.take_over(bench.store, PLAN, now=NOW)
    assert reminder_lines(bench) == [
        "wing [car]: clean to bare metal, degrease; begin between 19:00 and 21:00.",
        "wing [car]: prime; begin between 22:00 and 00:00.",
    ]
    taken.let_go(bench.store, now=NOW)
    assert reminded(bench) == []
    undo(bench, last_one(bench.store), now=NOW)
    assert len(reminded(bench)) == 2
    undo(bench, last_one(bench.store), now=NOW)
    assert reminded(bench) == []


def test_a_beginning_that_has_days_says_the_last_moment(bench: Bench) -> None:
    taken.take_over(bench.store, week(planned(0, 1.0, latest=at(25.5)), part=WING), now=NOW)
    assert reminder_lines(bench)[0].endswith(
        "begin from 19:00 on, by tomorrow 19:30 at the latest."
    )
    assert reminder_lines(bench, 1.5)[0].endswith(
        "begin now or later, by tomorrow 19:30 at the latest."
    )
    assert reminder_lines(bench, 25.0)[0].endswith("begin by 19:30.")


def test_nothing_planned_cannot_be_taken_over(bench: Bench) -> None:
    with pytest.raises(StepError, match="nothing is planned"):
        taken.take_over(bench.store, week(), now=NOW)


def test_a_reminder_goes_when_its_step_is_begun_by_hand_or_by_a_mix(bench: Bench) -> None:
    taken.take_over(bench.store, PLAN, now=NOW)
    assert begin_next(bench, "wing", "car", at(1.0)).startswith("clean to bare metal")
    assert parts.part(bench.reader, "wing", "car", at(2.0)).bare_since == at(1.0)
    assert [step.number for step in reminded(bench, 1.0)] == [1]
    left = left_of(bench, "wing", "car", None, at(1.0))
    assert [step.does for step in left.steps] == ["prime"]
    assert left.hands_off == at(1.0) + timedelta(minutes=45 * left.planned_factor)
    with pytest.raises(StepError, match="begun with its mix"):
        begin_next(bench, "wing", "car", at(4.0))
    bench.start("epoxy-primer", now=at(4.0), details=Details(part="Wing", job="car"))
    assert reminded(bench, 4.1) == []
    undo(bench, last_one(bench.store), now=at(4.2))
    assert [step.number for step in reminded(bench, 4.2)] == [1]


def test_what_was_begun_before_a_mix_is_behind_it_and_counts_no_more(bench: Bench) -> None:
    entered.begin(bench.store, "wing", "car", "clean to bare metal, degrease", now=at(-2.0))
    assert left_of(bench, "wing", "car", None, NOW).behind == 1
    bench.start("polyester-glazing-putty", now=at(-1.0), details=Details(part="wing", job="car"))
    assert left_of(bench, "wing", "car", None, NOW).behind == 0


def test_a_time_that_is_past_is_said_that_evening_and_holds_back_what_follows(
    bench: Bench,
) -> None:
    taken.take_over(bench.store, PLAN, now=NOW)
    assert reminder_lines(bench, 2.0)[0].endswith("begin by 21:00.")
    assert reminder_lines(bench, 3.1) == [
        "wing [car]: clean to bare metal, degrease was to be begun by 21:00, which is past."
    ]
    assert reminder_lines(bench, 15.0) == []


def test_a_reminder_follows_the_plan_that_moved_and_says_why(bench: Bench) -> None:
    taken.take_over(bench.store, PLAN, now=NOW)
    taken.follow(bench.store, later(PLAN, 0.5, planned(0, 1.5), planned(1, 4.0)))
    assert len(shown_since(bench.store, at(0.1))) == 0, "within what was said it did not move"
    taken.follow(bench.store, later(PLAN, 0.6, planned(0, 1.0), planned(1, 25.0)))
    assert reminder_lines(bench, 0.7)[1] == (
        "wing [car]: prime; begin tomorrow between 19:00 and 21:00. "
        "Moved from 22:00: what cures on wing takes longer than it seemed."
    )
    bench_says = taken.at_hand(reminded(bench, 0.7)[1:], at(0.7), BERLIN)
    assert bench_says is not None, "a move is said on the day on which it came"


def test_a_plan_nobody_took_over_is_not_kept_for_reminders(bench: Bench) -> None:
    keep(bench.store, PLAN)
    taken.follow(bench.store, later(PLAN, 0.6, planned(0, 30.0)))
    assert len(bench.store.entries("plan", "mine")) == 1


def structural(bench: Bench) -> None:
    parts.mark(bench.store, "wing", "car", "structural", now=NOW)


def dropped(bench: Bench) -> None:
    entered.drop_wish(bench.store, "wing", "car", now=NOW)


def wished_again(bench: Bench) -> None:
    dropped(bench)
    again = entered.PartWish("primed", NOW + timedelta(days=2))
    entered.set_wish(bench.store, "wing", "car", again, now=NOW)


@pytest.mark.parametrize("change", [structural, dropped, wished_again])
def test_nothing_reminds_of_a_structural_part_or_of_a_wish_that_was_dropped(
    bench: Bench, change: Callable[[Bench], None]
) -> None:
    taken.take_over(bench.store, PLAN, now=NOW)
    assert reminded(bench)
    change(bench)
    assert reminded(bench) == []


def test_a_program_reads_codes_and_stamps(bench: Bench) -> None:
    taken.take_over(bench.store, PLAN, now=NOW)
    data = {"steps": taken_words.as_json(reminded(bench, 1.5), at(1.5))}
    assert list(faults(data, SCHEMAS["plan"])) == []
    first, second = data["steps"]
    assert (first["state"], second["state"]) == ("begin", "ahead")
    assert first["from"] == "2026-11-14T18:00:00Z"


def events(raw: bytes) -> dict[str, tuple[str, int]]:
    """The status and the sequence of each event by its UID, as another's parser reads them."""
    listed = getattr(vobject.readOne(raw.decode()), "vevent_list", [])
    return {str(e.uid.value): (str(e.status.value), int(e.sequence.value)) for e in listed}


def test_a_dropped_wish_s_events_are_cancelled_with_the_same_uid_and_a_higher_sequence(
    bench: Bench,
) -> None:
    # RFC 5545, 3.8.1.11: STATUS:CANCELLED; 3.8.7.4: SEQUENCE rises with each revision
    keep(bench.store, PLAN)
    before = events(calendar(PLAN, SAY, shown_since(bench.store, NOW)))
    dropped(bench)
    empty = replace(PLAN, now=at(1.0), steps=(), parts=())
    after = events(calendar(empty, SAY, shown_since(bench.store, NOW)))
    assert before.keys() == after.keys()
    assert {status for status, _ in before.values()} == {"TENTATIVE"}
    for uid, (status, sequence) in after.items():
        assert status == "CANCELLED"
        assert sequence > before[uid][1]


def feed(bench: Bench, hours: float) -> dict[str, tuple[str, int]]:
    """The events of the bench's calendar that the plan gives."""
    from icalendar import Calendar

    shown_steps = taken.lately_reminded(bench.store, NOW)
    written = Calendar()
    written.add("prodid", "-//test//")
    written.add("version", "2.0")
    for event in reminder_events(reminded(bench, hours), shown_steps, at(hours), SAY):
        written.add_component(event)
    return events(bytes(written.to_ical()))


def test_the_calendar_s_reminders_come_with_the_taking_and_are_cancelled_after_it(
    bench: Bench,
) -> None:
    keep(bench.store, PLAN)
    assert feed(bench, 0.0) == {}
    taken.take_over(bench.store, PLAN, now=NOW)
    first = feed(bench, 0.0)
    assert [status for status, _ in first.values()] == ["TENTATIVE"] * 2
    begin_next(bench, "wing", "car", at(1.0))
    begun = feed(bench, 1.0)
    assert sorted(status for status, _ in begun.values()) == ["CANCELLED", "TENTATIVE"]
    dropped(bench)
    assert {status for status, _ in feed(bench, 2.0).values()} == {"CANCELLED"}
    assert feed(bench, 2.0).keys() == first.keys()
