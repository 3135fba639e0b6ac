"""What sounds on the bench and from when; mixed now, named later; what was heard, kept once."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from curewatch.bench.alarms import Alarm, alarms, asks_for_tools, use_by
from curewatch.bench.marks import MOST_ALARMS, record_alarm
from curewatch.errors import StepError
from curewatch.events.events import UNDO
from curewatch.garage import unnamed_mix
from curewatch.logbook.undo import past_act, undo
from dashboard.alarms import told
from tests.curewatch.wording.test_words import BERLIN
from tests.support.pages import EVENING, Garage, open_garage, weather


@pytest.fixture
def held(tmp_path: Path) -> Garage:
    found = open_garage(tmp_path)
    found.hear(weather(EVENING))
    return found


def now_heard(held: Garage) -> list[Alarm]:
    return [alarm for alarm in alarms(held.bench.view(held.clock())) if alarm.at <= held.clock()]


def kinds(held: Garage) -> list[str]:
    return [alarm.kind for alarm in now_heard(held)]


def keep_measuring(held: Garage, minutes: float) -> None:
    """Let time pass with sensors that go on. [min]"""
    held.clock.at += timedelta(minutes=minutes)
    held.hear(weather(held.clock(), hours=minutes / 60 + 0.2))


def test_working_time_sounds_two_minutes_before_its_early_bound_and_then_is_due(
    held: Garage,
) -> None:
    held.mix("epoxy-panel-adhesive", 1, part="patch")
    held.bench.emptied(1, now=held.clock())
    assert kinds(held) == []
    milestones = held.bench.step_view(1, held.clock()).milestones
    ends = next(milestone.shown for milestone in milestones if milestone.name == "working_time")
    assert ends
    keep_measuring(held, (ends - held.clock()).total_seconds() / 60 - 1.5)
    assert "ending" in kinds(held)
    keep_measuring(held, 20)
    assert kinds(held) == ["due"]


def test_a_key_stays_until_it_is_answered_and_changes_with_each_answer(held: Garage) -> None:
    held.mix("epoxy-primer", 120, part="roof seam")
    held.bench.emptied(1, now=held.clock())
    first = now_heard(held)[0].key
    keep_measuring(held, 7)
    assert now_heard(held)[0].key == first
    held.bench.test(1, "later", now=held.clock())
    assert kinds(held) == []
    keep_measuring(held, 11)
    assert now_heard(held)[0].key != first


def test_the_cup_is_asked_for_before_the_pot_is_over_and_heard_every_quarter_of_an_hour(
    held: Garage,
) -> None:
    held.mix("epoxy-panel-adhesive", 1, part="patch")
    view = held.bench.step_view(1, held.clock())
    by = use_by(view)
    assert not asks_for_tools(view, by - timedelta(minutes=6))
    assert asks_for_tools(view, by - timedelta(minutes=4))
    keep_measuring(held, (by - held.clock()).total_seconds() / 60 + 1)
    keys = set()
    for _ in range(16):
        keys |= {alarm.key for alarm in now_heard(held) if alarm.kind == "tools"}
        keep_measuring(held, 15)
    assert len(keys) == 8
    assert "tools" not in kinds(held)
    assert all(alarm.once for alarm in now_heard(held) if alarm.kind == "tools")


def test_still_in_use_asks_again_later_and_empty_never_again(held: Garage) -> None:
    held.mix("epoxy-panel-adhesive", 90, part="patch")
    assert "tools" in kinds(held)
    held.bench.in_use(1, now=held.clock())
    assert "tools" not in kinds(held)
    keep_measuring(held, 16)
    assert "tools" in kinds(held)
    held.bench.emptied(1, now=held.clock())
    assert "tools" not in kinds(held)


def test_a_window_that_shuts_is_warned_of_twelve_and_two_hours_ahead_of_the_labels_time(
    tmp_path: Path,
) -> None:
    for number, base_c in enumerate((20.0, 12.0)):
        found = open_garage(tmp_path / str(number))
        found.hear(weather(EVENING, base_c=base_c))
        found.mix("epoxy-primer", 1, part="roof seam")
        view = found.bench.view(found.clock())
        label_min = view.steps[0].sheet.reference.minutes["recoat_closes"]
        windows = [alarm for alarm in alarms(view) if alarm.kind == "window"]
        assert [alarm.left for alarm in windows] == [timedelta(hours=12), timedelta(hours=2)]
        assert all(alarm.once for alarm in windows)
        shuts = windows[1].at + timedelta(hours=2)
        assert shuts <= view.steps[0].mixed_at + timedelta(minutes=label_min)
        found.store.close()


def test_a_late_comer_hears_of_a_window_once(held: Garage) -> None:
    held.mix("epoxy-primer", 60, part="roof seam")
    held.bench.emptied(1, now=held.clock())
    for _ in range(4):  # with each reading the early bound moves later, and less each time
        shuts = held.bench.step_view(1, held.clock()).milestones
        at = next(shut.shown for shut in shuts if shut.name == "recoat_closes")
        assert at
        keep_measuring(held, (at - held.clock()).total_seconds() / 60 - 90)
    found = [alarm for alarm in now_heard(held) if alarm.kind == "window"]
    assert [alarm.key for alarm in found] == ["window.1.2"]
    said = [each["say"] for each in told(held.bench.view(held.clock()), BERLIN)]
    assert any(each.startswith("recoat window of roof seam closes at ") for each in said)


def test_a_stalled_step_sounds_a_stop(tmp_path: Path) -> None:
    found = open_garage(tmp_path)
    found.hear(weather(EVENING, base_c=2.0))
    found.mix("epoxy-panel-adhesive", 5, part="patch")
    view = found.bench.view(found.clock())
    assert "stop" in [alarm.kind for alarm in alarms(view)]
    said = [each["say"] for each in told(view, BERLIN)]
    assert "patch is below its product's minimum: it may not cure properly" in said
    found.store.close()


def test_what_sounded_is_kept_once_for_each_key_and_never_floods(held: Garage) -> None:
    held.mix("epoxy-primer", 120, part="roof seam")
    now = held.clock()
    assert record_alarm(held.bench, 1, "due.1", "due", "test now", now=now)
    assert not record_alarm(held.bench, 1, "due.1", "due", "test now", now=now)
    for number in range(MOST_ALARMS + 5):
        record_alarm(held.bench, 1, f"due.{number + 2}", "due", "test now", now=now)
    assert len(held.bench.step(1).of("sounded")) == MOST_ALARMS


def test_a_sound_moves_no_milestone_and_is_no_news_to_the_model(held: Garage) -> None:
    held.mix("epoxy-primer", 120, part="roof seam")
    before = held.bench.step_view(1, held.clock()).milestones
    record_alarm(held.bench, 1, "due.1", "due", "test now", now=held.clock())
    assert held.bench.step_view(1, held.clock()).milestones == before


def test_a_touch_waits_for_its_name_over_midnight_and_no_longer_than_a_day(held: Garage) -> None:
    first = unnamed_mix.touch(held.store, held.clock())
    held.clock.at += timedelta(hours=7)
    second = unnamed_mix.touch(held.store, held.clock())
    assert [each.id for each in unnamed_mix.waiting(held.store, held.clock())] == [
        first.id,
        second.id,
    ]
    unnamed_mix.name(held.store, first, 7, held.clock())
    assert [each.id for each in unnamed_mix.waiting(held.store, held.clock())] == [second.id]
    with pytest.raises(StepError, match="named already"):
        unnamed_mix.find(held.store, first.id, held.clock())
    assert unnamed_mix.waiting(held.store, held.clock() + timedelta(hours=25)) == []


def test_a_touch_taken_back_is_gone_but_stays_in_the_ledger(held: Garage) -> None:
    found = unnamed_mix.touch(held.store, held.clock())
    undo(held.bench, past_act(held.store, found.act), now=held.clock())
    assert unnamed_mix.waiting(held.store, held.clock()) == []
    assert [entry.kind for entry in held.store.all_entries("mixed")] == ["touched", UNDO]
