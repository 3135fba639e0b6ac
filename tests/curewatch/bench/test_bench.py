"""What a person does at the bench, and what the bench then says."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.bench.bench import Bench, Details
from curewatch.bench.views import MilestoneView, StepView
from curewatch.climate.reading import make_reading
from curewatch.errors import StepError
from curewatch.garage import parts
from curewatch.logbook.logbook import csv_lines, logbook
from curewatch.logbook.undo import act_of_event, undo
from curewatch.notice_words import AHEAD_ONLY
from curewatch.store.store import Store
from curewatch.text import plain
from tests.support.many import cases
from tests.support.notices import codes

AT = datetime(2026, 10, 17, 17, 0, tzinfo=UTC)
ADHESIVE = "epoxy-panel-adhesive"


def minutes_later(minutes: float) -> datetime:
    return AT + timedelta(minutes=minutes)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    store = Store(tmp_path / "curewatch.sqlite")
    return Bench(store)


def measure(bench: Bench, celsius: float, start: float, end: float, every: float = 1) -> None:
    count = int((end - start) / every) + 1
    bench.store.add_readings(
        [
            make_reading(
                "panel", "surface_temperature", celsius, minutes_later(start + i * every), "probe"
            )
            for i in range(count)
        ]
    )


def milestone(view: StepView, name: str) -> MilestoneView:
    return next(milestone for milestone in view.milestones if milestone.name == name)


def test_the_sheet_alone_is_enough_at_the_moment_of_mixing(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=AT)
    view = bench.view(AT)
    assert [step.id for step in view.steps] == [number]
    assert view.due[0].milestone.name == "working_time"
    assert codes(view.notes) == ["no-reading-assumed"]


def test_the_rest_is_told_later_and_marked_with_when(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=AT)
    bench.amend(number, Details(part="lower corner patch", amount_g=60.0), now=minutes_later(9))
    step = bench.step(number)
    assert (step.part, step.amount_g) == ("lower corner patch", 60.0)
    assert step.amended == {"part": minutes_later(9), "amount_g": minutes_later(9)}


def test_mixed_some_minutes_ago_starts_then_and_says_when_it_was_told(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=AT, mixed_at=minutes_later(-5))
    step = bench.step(number)
    assert (step.mixed_at, step.recorded_at) == (minutes_later(-5), AT)


@pytest.mark.parametrize(
    ("mixed_at", "details", "says"),
    [
        (minutes_later(10), Details(), "is in the future"),
        (minutes_later(-8 * 1440), Details(), "more than a week ago"),
        (AT, Details(amount_g=0.0), "cannot be mixed"),
        (AT, Details(amount_g=float("nan")), "cannot be mixed"),
        (AT, Details(hardener_pct=2.0), "may not be varied"),
    ],
)
def test_a_mix_that_cannot_be_is_refused(
    bench: Bench, mixed_at: datetime, details: Details, says: str
) -> None:
    with pytest.raises(StepError, match=says):
        bench.start(ADHESIVE, now=AT, mixed_at=mixed_at, details=details)
    assert bench.store.steps() == []


def test_hardener_outside_the_label_is_refused(bench: Bench) -> None:
    with pytest.raises(StepError, match=r"outside the label's"):
        bench.start("finishing-polyester-filler", now=AT, details=Details(hardener_pct=9.0))


def test_an_unknown_sheet_is_refused_with_the_near_ones(bench: Bench) -> None:
    with pytest.raises(StepError, match="epoxy-primer"):
        bench.start("epoxy-prime", now=AT)


def test_a_colder_panel_pushes_clamps_off_out(bench: Bench) -> None:
    measure(bench, 20, -60, 30)
    number = bench.start(ADHESIVE, now=AT)
    warm = milestone(bench.step_view(number, minutes_later(30)), "clamp_time")
    measure(bench, 15, 31, 90)
    cold = milestone(bench.step_view(number, minutes_later(90)), "clamp_time")
    assert warm.late is not None
    assert cold.late is not None
    assert cold.late > warm.late + timedelta(minutes=20)


def test_what_moved_is_said_with_the_panel_then_and_now(bench: Bench) -> None:
    measure(bench, 20, -60, 40)
    bench.start(ADHESIVE, now=AT)
    measure(bench, 15, 41, 60)
    changes = bench.view(minutes_later(60)).steps[0].changes
    moved = {change.milestone: change for change in changes}
    assert moved["clamp_time"].later_min > 2
    assert (moved["clamp_time"].from_c, moved["clamp_time"].to_c) == (
        pytest.approx(20, abs=0.3),
        pytest.approx(15, abs=0.3),
    )


def test_below_the_minimum_the_bench_says_that_it_may_not_cure_properly(bench: Bench) -> None:
    measure(bench, 3, -60, 60)
    number = bench.start(ADHESIVE, now=AT)
    view = bench.step_view(number, minutes_later(60))
    assert view.forecast.stalled_now
    assert view.forecast.age_min == 0
    assert view.by_name["working_time"].shown is not None
    assert view.by_name["clamp_time"].shown is None
    assert "cold-now" in codes(view.warnings)


def test_milestones_come_in_their_order(bench: Bench) -> None:
    measure(bench, 18, -60, 30)
    number = bench.start(ADHESIVE, now=AT)
    milestones = bench.step_view(number, minutes_later(30)).milestones
    order = ["working_time", "clamp_time", "sand_ready", "full_cure"]
    timed = [milestone(bench.step_view(number, minutes_later(30)), name) for name in order]
    assert {milestone.name for milestone in milestones} >= set(order)
    for bound in ("early", "likely", "late"):
        instants = [at for milestone in timed if (at := getattr(milestone, bound)) is not None]
        assert len(instants) >= 2
        assert instants == sorted(instants)


def test_a_countdown_that_ran_out_asks_for_a_test_until_it_is_answered(bench: Bench) -> None:
    measure(bench, 21, -60, 700, every=5)
    number = bench.start(ADHESIVE, now=AT)
    bench.test(number, "gone-off", now=minutes_later(45), milestone="working_time")
    late = milestone(bench.step_view(number, minutes_later(60)), "clamp_time").shown
    assert late is not None
    due_at = late + timedelta(minutes=23)
    measure(bench, 21, 701, 900, every=5)
    due = bench.view(due_at).due[0]
    assert (due.milestone.name, due.milestone.due) == ("clamp_time", True)
    assert bench.test(number, "reached", now=due_at) == "clamp_time"
    assert bench.view(due_at).due[0].milestone.name == "sand_ready"


def test_not_yet_asks_again_later_and_moves_the_time_out(bench: Bench) -> None:
    measure(bench, 21, -60, 600, every=5)
    number = bench.start(ADHESIVE, now=AT)
    before = milestone(bench.step_view(number, minutes_later(240)), "clamp_time")
    bench.test(number, "not-yet", now=minutes_later(240), milestone="clamp_time")
    after = milestone(bench.step_view(number, minutes_later(240)), "clamp_time")
    assert before.late is not None
    assert after.shown is not None
    assert after.shown > minutes_later(249)
    assert after.likely is not None
    assert before.likely is not None
    assert after.likely > before.likely


@pytest.mark.parametrize("answer", ["still-works", "later"])
def test_an_answer_before_the_working_time_ends_moves_its_end_out_no_further_than_known(
    bench: Bench, answer: str
) -> None:
    measure(bench, 21, -60, 60)
    number = bench.start("quick-methacrylate-adhesive", now=AT)
    bench.test(number, answer, now=minutes_later(3), milestone="working_time")
    working_time = milestone(bench.step_view(number, minutes_later(3)), "working_time")
    assert working_time.early is not None
    assert working_time.shown == working_time.early


def test_still_workable_is_asked_again_by_the_likely_end(bench: Bench) -> None:
    measure(bench, 21, -60, 60)
    number, now = bench.start("quick-methacrylate-adhesive", now=AT), minutes_later(8)
    bench.test(number, "still-works", now=now, milestone="working_time")
    working_time = milestone(bench.step_view(number, now), "working_time")
    assert working_time.shown is not None
    assert working_time.likely is not None
    assert now < working_time.shown <= max(working_time.likely, now + timedelta(minutes=1))


def test_not_yet_long_after_the_latest_time_asks_again_and_for_nothing_that_comes_after(
    bench: Bench,
) -> None:
    measure(bench, 21, -60, 1800, every=5)
    number, now = bench.start(ADHESIVE, now=AT), minutes_later(1500)
    bench.test(number, "gone-off", now=minutes_later(60), milestone="working_time")
    bench.test(number, "not-yet", now=now, milestone="clamp_time")
    assert milestone(bench.step_view(number, now), "sand_ready").shown is None
    again = milestone(bench.step_view(number, now), "clamp_time").shown
    assert again is not None
    assert now < again <= minutes_later(1580)
    (due,) = bench.view(again).due
    assert (due.milestone.name, due.milestone.due) == ("clamp_time", True)


def test_a_witness_moves_its_step_and_forgetting_it_restores_the_times(bench: Bench) -> None:
    measure(bench, 16, -60, 120)
    number = bench.start(ADHESIVE, now=AT)
    now = minutes_later(100)
    before = milestone(bench.step_view(number, now), "clamp_time")
    seen = bench.witness(number, "workable", now=now)
    slower = milestone(bench.step_view(number, now), "clamp_time")
    assert before.likely is not None
    assert slower.likely is not None
    assert slower.likely > before.likely
    undo(bench, act_of_event(bench.store, number, seen), now=now)
    assert milestone(bench.step_view(number, now), "clamp_time") == before


@pytest.mark.parametrize(
    ("state", "sample", "says"),
    [("green", "smear", "not a state of a dab"), ("tacky", "bucket", "is not a sample")],
)
def test_a_witness_that_cannot_be_is_refused(
    bench: Bench, state: str, sample: str, says: str
) -> None:
    number = bench.start(ADHESIVE, now=AT)
    with pytest.raises(StepError, match=says):
        bench.witness(number, state, now=AT, sample=sample)


def test_a_witness_before_the_mixing_is_refused(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=AT)
    with pytest.raises(StepError, match="before the mixing"):
        bench.witness(number, "tacky", now=minutes_later(5), seen_at=minutes_later(-5))


def test_of_a_finished_step_nothing_is_said_that_its_panel_must_still_do(bench: Bench) -> None:
    measure(bench, 3, -60, 60)
    number = bench.start(ADHESIVE, now=AT)
    assert "cold-now" in codes(bench.step_view(number, minutes_later(60)).warnings)
    bench.abandon(number, "too cold", now=minutes_later(61))
    assert not set(AHEAD_ONLY) & set(codes(bench.step_view(number, minutes_later(62)).warnings))


def test_a_finished_step_leaves_the_bench_and_stays_in_the_log(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=AT, acknowledged=["ventilation"])
    bench.finish(number, now=minutes_later(500))
    assert bench.view(minutes_later(500)).steps == ()
    (entry,) = logbook(bench, minutes_later(600))
    assert entry.step.state == "finished"
    with pytest.raises(StepError, match="already finished"):
        bench.finish(number, now=minutes_later(501))


def test_reminders_are_answered_and_the_log_says_which_were_not(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=AT, acknowledged=["ventilation"])
    bench.acknowledge(number, "gloves", now=minutes_later(1))
    answered = {
        reminder.key: reminder.answered_at
        for reminder in bench.view(minutes_later(2)).steps[0].reminders
    }
    assert answered["ventilation"] == AT
    assert answered["gloves"] == minutes_later(1)
    row = "".join(csv_lines(logbook(bench, minutes_later(2)))).split("\r\n")[1]
    assert "ventilation gloves" in row
    assert "leftovers" in row


def test_the_log_has_least_mean_and_most_of_each_stretch(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=AT)
    readings = []
    for i in range(121):
        for place, quantity, value in (
            ("panel", "surface_temperature", 20 - i / 20),
            ("air", "air_temperature", 15.0),
            ("air", "relative_humidity", 70.0),
        ):
            readings.append(make_reading(place, quantity, value, minutes_later(i), "probe"))
    bench.store.add_readings(readings)
    bench.finish(number, now=minutes_later(120))
    (entry,) = logbook(bench, minutes_later(120))
    spans = entry.stretches[-1].spans
    surface = spans["surface_temperature"]
    assert surface.minimum == pytest.approx(14, abs=0.1)
    assert surface.mean == pytest.approx(17, abs=0.1)
    assert surface.maximum == pytest.approx(20, abs=0.1)
    # 15 C and 70 %: dew point 9.579 C, psychrolib 2.5.0 (ASHRAE Fundamentals 2017 ch. 1)
    assert spans["dew_point_spread"].minimum == pytest.approx(14 - 9.579, abs=0.15)


def test_a_cell_of_the_csv_is_never_a_formula(bench: Bench) -> None:
    bench.start(ADHESIVE, now=AT, details=Details(part="=1+1", job='@"x"\nnext'))
    text = "".join(csv_lines(logbook(bench, minutes_later(1))))
    assert "'=1+1" in text
    assert ",=1" not in text


@pytest.mark.parametrize(
    ("was", "now_is"), [("lid", "chassis bracket"), ("chassis bracket", "lid")]
)
def test_the_bench_is_shown_when_a_part_turns_out_to_be_structural_or_not(
    bench: Bench, was: str, now_is: str
) -> None:
    number = bench.start(ADHESIVE, now=AT, details=Details(part=was))
    bench.amend(number, Details(part=now_is), now=minutes_later(31))
    shown = bench.view(minutes_later(35)).steps[0]
    assert (shown.milestones == ()) is (now_is == "chassis bracket")
    assert shown.changes == ()


def test_the_bench_is_shown_when_a_part_is_marked_structural_meanwhile(bench: Bench) -> None:
    bench.start(ADHESIVE, now=AT, details=Details(part="lid"))
    assert bench.view(minutes_later(31)).steps[0].milestones
    parts.mark(bench.store, "lid", "", "structural", now=minutes_later(32))
    assert bench.view(minutes_later(33)).steps[0].milestones == ()


def test_a_mix_that_began_later_than_was_told_is_corrected(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=AT)
    bench.witness(number, "tacky", now=minutes_later(5))
    bench.amend(number, Details(), mixed_at=minutes_later(10), now=minutes_later(11))
    (shown,) = bench.view(minutes_later(12)).steps
    assert shown.mixed_at == minutes_later(10)
    late = milestone(shown, "clamp_time").late
    assert late is not None
    assert late > minutes_later(10)
    bench.finish(number, now=minutes_later(15))
    bench.amend(number, Details(), mixed_at=minutes_later(20), now=minutes_later(21))
    (entry,) = logbook(bench, minutes_later(30))
    assert entry.step.mixed_at == minutes_later(20)


def test_a_week_of_a_data_logger_is_taken_up_within_a_minute(bench: Bench) -> None:
    measure(bench, 14.0, -60, 0)
    assert len(bench.reader.readings(AT, AT)) == 61
    measure(bench, 12.0, -5 * 1440, -4 * 1440, 60)
    readings = bench.reader.readings(AT, minutes_later(1))
    assert readings[0].at == minutes_later(-5 * 1440)


def test_a_restart_changes_nothing(bench: Bench) -> None:
    measure(bench, 14, -60, 30)
    bench.start(ADHESIVE, now=AT)
    now = minutes_later(30)
    before = bench.view(now)
    again = Store(bench.store.path)
    after = Bench(again).view(now)
    assert [view.milestones for view in after.steps] == [view.milestones for view in before.steps]
    assert after.due == before.due


def test_a_summer_time_change_moves_no_milestone(bench: Bench) -> None:
    zone = ZoneInfo("Europe/Berlin")
    mixed = datetime(2026, 10, 25, 1, 30, tzinfo=zone)
    bench.store.add_readings(
        [
            make_reading(
                "panel",
                "surface_temperature",
                21.0,
                mixed.astimezone(UTC) + timedelta(minutes=i),
                "probe",
            )
            for i in range(-60, 1)
        ]
    )
    number = bench.start(ADHESIVE, now=mixed)
    clamp = milestone(bench.step_view(number, mixed.astimezone(UTC)), "clamp_time")
    assert clamp.likely is not None
    elapsed = clamp.likely - mixed.astimezone(UTC)
    assert elapsed.total_seconds() / 60 == pytest.approx(240, rel=0.05)
    wall = clamp.likely.astimezone(zone).replace(tzinfo=None) - mixed.replace(tzinfo=None)
    assert wall == elapsed - timedelta(hours=1)


def test_asking_again_when_nothing_changed_is_the_same_view(bench: Bench) -> None:
    bench.start(ADHESIVE, now=AT)
    assert bench.view(minutes_later(3)).steps is bench.view(minutes_later(3)).steps


@settings(max_examples=cases(20))
@given(text=st.text(max_size=80))
def test_any_text_is_kept_as_it_was_told_but_for_marks_that_cannot_be_shown(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    store = Store(tmp_path_factory.mktemp("data") / "curewatch.sqlite")
    bench = Bench(store)
    try:
        text.encode()
    except UnicodeEncodeError:
        return
    number = bench.start(ADHESIVE, now=AT, details=Details(part=text))
    assert bench.step(number).part == plain(text.strip())
    store.close()
