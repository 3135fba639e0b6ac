"""What a lamp is sent of the bench: every milestone, the next thing and what sounds."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from curewatch.bench.views import BenchView, StepView
from curewatch.exchange.announcements import NOTHING, SCHEMAS, STATES, alike, announced, for_json
from curewatch.quality.availability import Outage
from tests.curewatch.exchange.test_log_schema import faults
from tests.support.bench_views import ADHESIVE, NOW, PRIMER, at, bench, step

ADHESIVE_STEP = step(3, "epoxy-panel-adhesive", -60, ADHESIVE)


def announced_object(view: BenchView, topic: str) -> dict[str, Any]:
    """A topic's object as a lamp reads it."""
    data: dict[str, Any] = json.loads(json.dumps(for_json(announced(view)[topic])))
    return data


def answered(view: StepView, name: str) -> StepView:
    """The step with one milestone passed by a test."""
    return replace(
        view,
        milestones=tuple(
            replace(milestone, answered="reached") if milestone.name == name else milestone
            for milestone in view.milestones
        ),
    )


def test_a_milestone_says_what_where_when_and_how_sure() -> None:
    view = bench(answered(ADHESIVE_STEP, "working_time"), asks=("clamp_time",))
    data = announced_object(view, "3/clamp_time")
    assert data == {
        "step": 3,
        "what": "clamp_time",
        "where": "lower corner patch",
        "place": "panel",
        "product": "Two-part epoxy panel adhesive (generic)",
        "state": "ahead",
        "due": "2026-10-14T17:56:00Z",
        "early": "2026-10-14T17:46:00Z",
        "likely": "2026-10-14T17:51:00Z",
        "late": "2026-10-14T17:56:00Z",
        "reason": "panel 13.5 C",
        "revision": "1",
    }
    assert announced_object(view, "next") == data


def test_each_milestone_is_in_one_of_five_states() -> None:
    past = {**ADHESIVE, "clamp_time": (-9.0, -5.0, -1.0), "pot_life": (-40.0, -30.0, -20.0)}
    one = step(1, "epoxy-panel-adhesive", -60, past)
    view = bench(answered(one, "working_time"), asks=("clamp_time",))
    data = {topic[2:]: each["state"] for topic, each in announced(view).items() if "/" in topic}
    assert data == {
        "pot_life": "over",
        "working_time": "reached",
        "clamp_time": "test-now",
        "sand_ready": "ahead",
        "full_cure": "ahead",
    }
    cold = step(2, "epoxy-primer", -60, PRIMER, stalled_from=5.0)
    stuck = announced(bench(cold, asks=("recoat_opens",)))["2/recoat_opens"]
    assert (stuck["state"], stuck["due"]) == ("no-time", None)
    assert set(data.values()) | {stuck["state"]} == set(STATES)


def test_a_milestone_that_nobody_answered_is_over_once_a_later_one_is_asked() -> None:
    late = {**ADHESIVE, "clamp_time": (-9.0, -5.0, -1.0)}
    topics = announced(bench(step(1, "epoxy-panel-adhesive", -60, late), asks=("clamp_time",)))
    assert topics["1/working_time"]["state"] == "over"
    assert topics["1/clamp_time"]["state"] == "test-now"


def test_an_empty_bench_says_that_nothing_is_next() -> None:
    data = announced_object(bench(), "next")
    assert data["state"] == NOTHING
    assert data["what"] is data["due"] is None
    assert set(announced(bench())) == {"next", "alarms"}


def test_what_is_due_stands_before_what_comes_sooner_and_what_has_no_time_comes_last() -> None:
    waiting = answered(
        step(1, "epoxy-primer", -300, {**PRIMER, "recoat_opens": (-30.0, -20.0, -9.0)}),
        "working_time",
    )
    stuck = step(2, "epoxy-primer", -60, PRIMER, stalled_from=5.0)
    soon = step(4, "fibre-polyester-filler", -5, {"working_time": (1.0, 2.0, 3.0)})
    asks = ("working_time", "recoat_opens", "working_time")
    assert announced_object(bench(stuck, waiting, soon, asks=asks), "next")["step"] == 1
    assert announced_object(bench(stuck, soon, asks=(asks[0], asks[2])), "next")["step"] == 4


def test_what_sounds_is_told_with_its_step_and_place() -> None:
    soon = step(1, "fibre-polyester-filler", -5, {"working_time": (1.5, 2.0, 3.0)})
    cold = step(2, "epoxy-primer", -60, PRIMER, stalled_from=5.0)
    silent = Outage("panel", "surface_temperature", at(-90), steps=(1, 2))
    view = replace(bench(soon, cold, asks=("working_time", "recoat_opens")), lost=(silent,))
    alarms = announced_object(view, "alarms")["alarms"]
    kinds = {alarm["kind"]: alarm for alarm in alarms}
    assert {"ending", "stop", "lost"} <= set(kinds)
    assert (kinds["ending"]["step"], kinds["ending"]["what"]) == (1, "working_time")
    assert kinds["stop"]["step"] == 2
    assert kinds["lost"]["where"] == "panel"
    assert not any(alarm["silenced"] for alarm in alarms)


@pytest.mark.parametrize("topic", ["next", "alarms", "1/working_time"])
def test_every_object_is_as_its_schema_says(topic: str) -> None:
    due = {**PRIMER, "working_time": (-3.0, -2.0, -1.0)}
    views = [
        bench(step(1, "epoxy-primer", -60, due), asks=("working_time",)),
        bench(step(1, "epoxy-primer", -60, PRIMER, stalled_from=5.0), asks=("working_time",)),
    ]
    for view in views:
        schema = SCHEMAS["alarms" if topic == "alarms" else "milestone"]
        assert list(faults(announced_object(view, topic), schema)) == []
    assert list(faults(announced_object(bench(), "next"), SCHEMAS["milestone"])) == []
    assert list(faults({"state": "sure"}, SCHEMAS["milestone"])) != []


def test_nobody_is_told_again_that_a_time_moved_by_seconds() -> None:
    view = bench(ADHESIVE_STEP)
    before = announced(view)

    def later(seconds: float) -> dict[str, Any]:
        moved = tuple(
            replace(milestone, shown=milestone.shown + timedelta(seconds=seconds))
            for milestone in ADHESIVE_STEP.milestones
            if milestone.shown
        )
        return announced(replace(bench(replace(ADHESIVE_STEP, milestones=moved)), revision="2"))

    assert alike(before, later(59))
    assert not alike(before, later(61))
    assert not alike(before, announced(bench(answered(ADHESIVE_STEP, "working_time"))))
    assert not alike(before, announced(bench()))


def test_a_silenced_alarm_stays_in_the_list_and_says_so() -> None:
    due = {**PRIMER, "working_time": (-3.0, -2.0, -1.0)}
    view = bench(step(1, "epoxy-primer", -60, due), asks=("working_time",))
    (first, *_) = announced(view)["alarms"]["alarms"]
    assert first["since"] == NOW - timedelta(minutes=3)
    keys = {"due.1.working_time.0"}
    assert announced(view, keys)["alarms"]["alarms"][0]["silenced"]
