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
from dashboard.endpoints.alarms import as_data
from tests.curewatch.wording.test_words import BERLIN
from tests.support.pages import EVENING, Garage, open_garage, weather


@pytest.fixture
def garage(tmp_path: Path) -> Garage:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING))
    return garage


def now_heard(garage: Garage) -> list[Alarm]:
    return [
        alarm for alarm in alarms(garage.bench.view(garage.clock())) if alarm.at <= garage.clock()
    ]


def kinds(garage: Garage) -> list[str]:
    return [alarm.kind for alarm in now_heard(garage)]


def keep_measuring(garage: Garage, minutes: float) -> None:
    """Let time pass with sensors that go on. [min]"""
    garage.clock.at += timedelta(minutes=minutes)
    garage.hear(weather(garage.clock(), hours=minutes / 60 + 0.2))


def test_working_time_sounds_two_minutes_before_its_early_bound_and_then_is_due(
    garage: Garage,
) -> None:
    garage.mix("epoxy-panel-adhesive", 1, part="patch")
    garage.bench.emptied(1, now=garage.clock())
    assert kinds(garage) == []
    milestones = garage.bench.step_view(1, garage.clock()).milestones
    ends = next(milestone.shown for milestone in milestones if milestone.name == "working_time")
    assert ends
    keep_measuring(garage, (ends - garage.clock()).total_seconds() / 60 - 1.5)
    assert "ending" in kinds(garage)
    keep_measuring(garage, 20)
    assert kinds(garage) == ["due"]


def test_a_key_stays_until_it_is_answered_and_changes_with_each_answer(garage: Garage) -> None:
    garage.mix("epoxy-primer", 120, part="roof seam")
    garage.bench.emptied(1, now=garage.clock())
    first = now_heard(garage)[0].key
    keep_measuring(garage, 7)
    assert now_heard(garage)[0].key == first
    garage.bench.test(1, "later", now=garage.clock())
    assert kinds(garage) == []
    keep_measuring(garage, 11)
    assert now_heard(garage)[0].key != first


def test_the_cup_is_asked_for_before_the_pot_is_over_and_heard_every_quarter_of_an_hour(
    garage: Garage,
) -> None:
    garage.mix("epoxy-panel-adhesive", 1, part="patch")
    view = garage.bench.step_view(1, garage.clock())
    by = use_by(view)
    assert not asks_for_tools(view, by - timedelta(minutes=6))
    assert asks_for_tools(view, by - timedelta(minutes=4))
    keep_measuring(garage, (by - garage.clock()).total_seconds() / 60 + 1)
    keys = set()
    for _ in range(16):
        keys |= {alarm.key for alarm in now_heard(garage) if alarm.kind == "tools"}
        keep_measuring(garage, 15)
    assert len(keys) == 8
    assert "tools" not in kinds(garage)
    assert all(alarm.once for alarm in now_heard(garage) if alarm.kind == "tools")


def test_still_in_use_asks_again_later_and_empty_never_again(garage: Garage) -> None:
    garage.mix("epoxy-panel-adhesive", 90, part="patch")
    assert "tools" in kinds(garage)
    garage.bench.in_use(1, now=garage.clock())
    assert "tools" not in kinds(garage)
    keep_measuring(garage, 16)
    assert "tools" in kinds(garage)
    garage.bench.emptied(1, now=garage.clock())
    assert "tools" not in kinds(garage)


def test_a_window_that_shuts_is_warned_of_twelve_and_two_hours_ahead_of_the_labels_time(
    tmp_path: Path,
) -> None:
    for number, base_c in enumerate((20.0, 12.0)):
        garage = open_garage(tmp_path / str(number))
        garage.hear(weather(EVENING, base_c=base_c))
        garage.mix("epoxy-primer", 1, part="roof seam")
        view = garage.bench.view(garage.clock())
        label_min = view.steps[0].sheet.reference.minutes["recoat_closes"]
        windows = [alarm for alarm in alarms(view) if alarm.kind == "window"]
        assert [alarm.left for alarm in windows] == [timedelta(hours=12), timedelta(hours=2)]
        assert all(alarm.once for alarm in windows)
        shuts = windows[1].at + timedelta(hours=2)
        assert shuts <= view.steps[0].mixed_at + timedelta(minutes=label_min)
        garage.store.close()


def test_a_late_comer_hears_of_a_window_once(garage: Garage) -> None:
    garage.mix("epoxy-primer", 60, part="roof seam")
    garage.bench.emptied(1, now=garage.clock())
    for _ in range(4):  # with each reading the early bound moves later, and less each time
        shuts = garage.bench.step_view(1, garage.clock()).milestones
        at = next(shut.shown for shut in shuts if shut.name == "recoat_closes")
        assert at
        keep_measuring(garage, (at - garage.clock()).total_seconds() / 60 - 90)
    alarms = [alarm for alarm in now_heard(garage) if alarm.kind == "window"]
    assert [alarm.key for alarm in alarms] == ["window.1.2"]
    sentences = [data["say"] for data in as_data(garage.bench.view(garage.clock()), BERLIN)]
    assert any(
        sentence.startswith("recoat window of roof seam closes at ") for sentence in sentences
    )


def test_a_stalled_step_sounds_a_stop(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.hear(weather(EVENING, base_c=2.0))
    garage.mix("epoxy-panel-adhesive", 5, part="patch")
    view = garage.bench.view(garage.clock())
    assert "stop" in [alarm.kind for alarm in alarms(view)]
    sentences = [data["say"] for data in as_data(view, BERLIN)]
    assert "patch is below its product's minimum: it may not cure properly" in sentences
    garage.store.close()


def test_what_sounded_is_kept_once_for_each_key_and_never_floods(garage: Garage) -> None:
    garage.mix("epoxy-primer", 120, part="roof seam")
    now = garage.clock()
    assert record_alarm(garage.bench, 1, "due.1", "due", "test now", now=now)
    assert not record_alarm(garage.bench, 1, "due.1", "due", "test now", now=now)
    for number in range(MOST_ALARMS + 5):
        record_alarm(garage.bench, 1, f"due.{number + 2}", "due", "test now", now=now)
    assert len(garage.bench.step(1).of("sounded")) == MOST_ALARMS


def test_a_sound_moves_no_milestone_and_is_no_news_to_the_model(garage: Garage) -> None:
    garage.mix("epoxy-primer", 120, part="roof seam")
    before = garage.bench.step_view(1, garage.clock()).milestones
    record_alarm(garage.bench, 1, "due.1", "due", "test now", now=garage.clock())
    assert garage.bench.step_view(1, garage.clock()).milestones == before


def test_a_touch_waits_for_its_name_over_midnight_and_no_longer_than_a_day(garage: Garage) -> None:
    first = unnamed_mix.touch(garage.store, garage.clock())
    garage.clock.at += timedelta(hours=7)
    second = unnamed_mix.touch(garage.store, garage.clock())
    assert [mix.id for mix in unnamed_mix.waiting(garage.store, garage.clock())] == [
        first.id,
        second.id,
    ]
    unnamed_mix.name(garage.store, first, 7, garage.clock())
    assert [mix.id for mix in unnamed_mix.waiting(garage.store, garage.clock())] == [second.id]
    with pytest.raises(StepError, match="named already"):
        unnamed_mix.find(garage.store, first.id, garage.clock())
    assert unnamed_mix.waiting(garage.store, garage.clock() + timedelta(hours=25)) == []


def test_a_touch_taken_back_is_gone_but_stays_in_the_ledger(garage: Garage) -> None:
    mix = unnamed_mix.touch(garage.store, garage.clock())
    undo(garage.bench, past_act(garage.store, mix.act), now=garage.clock())
    assert unnamed_mix.waiting(garage.store, garage.clock()) == []
    assert [entry.kind for entry in garage.store.all_entries("mixed")] == ["touched", UNDO]
