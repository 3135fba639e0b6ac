"""When the dab turned, and which look at it is worth asking for."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from curewatch.bench import marks
from curewatch.bench.bench import Bench
from curewatch.bench.due import APART, look_to_ask
from curewatch.bench.views import AskedLook
from curewatch.climate.reading import make_reading
from curewatch.cure.inputs import Sighting
from curewatch.errors import StepError
from curewatch.exchange import bench_json
from curewatch.garage.steps import sightings
from curewatch.logbook.logbook import csv_lines, logbook
from curewatch.logbook.undo import act_of_event, undo
from curewatch.store.store import Store
from tests.conftest import Run
from tests.support.steps import sheet, told

AT = datetime(2026, 10, 17, 17, 0, tzinfo=UTC)
ADHESIVE = "epoxy-panel-adhesive"


def after(minutes: float) -> datetime:
    return AT + timedelta(minutes=minutes)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """A bench with one step at an even 18 C."""
    store = Store(tmp_path / "curewatch.sqlite")
    panel = [
        make_reading("panel", "surface_temperature", 18.0, after(5 * n), "probe")
        for n in range(-24, 200)
    ]
    store.add_readings(panel)
    found = Bench(store)
    found.start(ADHESIVE, now=AT)
    return found


def asked(bench: Bench, minutes: float) -> AskedLook | None:
    (step,) = bench.view(after(minutes)).steps
    return step.asked_look


def likely_min(bench: Bench, name: str) -> float:
    likely = bench.view(AT).steps[0].by_name[name].likely
    assert likely is not None
    return (likely - AT).total_seconds() / 60


def test_a_turn_is_recorded_with_the_look_or_by_one_more_touch(bench: Bench) -> None:
    bench.witness(1, "stringy", now=after(90), turned_min=5.0)
    second = bench.witness(1, "hard", now=after(400))
    touch = marks.turned(bench, 1, 10.0, now=after(401))
    assert [(look.state, look.turned_min) for look in bench.step(1).witnesses] == [
        ("stringy", 5.0),
        ("hard", 10.0),
    ]
    assert [seen.turned for seen in sightings(bench.step(1))] == [(82.5, 87.5), (385.0, 395.0)]
    undo(bench, act_of_event(bench.store, 1, touch), now=after(402))
    assert bench.step(1).witnesses[-1].turned_min is None
    marks.turned(bench, 1, 0.0, now=after(403), look=second)
    assert bench.step(1).witnesses[-1].turned_min == 0.0


def test_json_and_csv_carry_the_turn(bench: Bench) -> None:
    bench.witness(1, "stringy", now=after(90), turned_min=5.0)
    view = bench_json.step(bench.step_view(1, after(100)))
    assert view["witnesses"][0]["turned_min"] == 5.0
    lines = list(csv_lines(logbook(bench, now=after(100))))
    assert "stringy turned_min=5" in lines[1]


@pytest.mark.parametrize(
    ("state", "turned_min", "why"),
    [("workable", 5.0, "shows no turn"), ("stringy", 91.0, "before the mixing")],
)
def test_what_cannot_have_turned_is_refused(
    bench: Bench, state: str, turned_min: float, why: str
) -> None:
    with pytest.raises(StepError, match=why):
        bench.witness(1, state, now=after(90), turned_min=turned_min)


def test_a_turn_needs_a_look(bench: Bench) -> None:
    with pytest.raises(StepError, match="no such look"):
        marks.turned(bench, 1, 5.0, now=after(90))


def test_the_command_takes_a_turn_in_words(run: Run) -> None:
    run("mix", ADHESIVE, "--ago", "90 min")
    assert "turned 5 min before" in run("dab", "1", "stringy", "--turned", "5 min ago")[1]
    assert "just turned" in run("dab", "1", "hard", "--turned", "just now")[1]
    view = json.loads(run("dab", "1", "hard", "--turned", "some time ago", "--json")[1])
    assert [look["turned_min"] for look in view["witnesses"]] == [5.0, 0.0, None]
    assert "stringy, turned 5 min before" in run("undo", "--list")[1]
    code, _, err = run("dab", "1", "workable", "--turned", "5 min ago")
    assert code == 2
    assert "give how long ago it turned for stringy, hard, sands" in err


def test_a_turn_says_more_than_that_it_has() -> None:
    product = sheet()

    def band(look: Sighting) -> float:
        found = told(product, 21.0, now_min=60.0, looks=[look]).by_name["clamp_time"]
        assert found.early_min is not None
        assert found.late_min is not None
        return found.late_min / found.early_min

    turned = Sighting(1, 60.0, "stringy", turned=(52.5, 57.5))
    assert band(turned) < 0.93 * band(Sighting(1, 60.0, "stringy"))


def test_a_look_is_asked_for_about_when_it_is_as_likely_as_not(bench: Bench) -> None:
    middle = likely_min(bench, "clamp_time")
    look = asked(bench, middle)
    assert look is not None
    assert (look.milestone, look.state, look.waited) == ("clamp_time", "hard", "clamp_time")
    assert 0.2 < look.worth < 0.4
    assert after(middle) < look.until < after(1.3 * middle)
    assert asked(bench, 0.7 * middle) is None
    assert asked(bench, 1.3 * middle) is None


def test_no_look_is_asked_for_near_another_question(bench: Bench) -> None:
    middle = likely_min(bench, "clamp_time")
    bench.witness(1, "stringy", now=after(middle - 5))
    assert asked(bench, middle) is None
    later = [middle + minutes for minutes in range(5, 200, 5)]
    assert any(look_to_ask(bench.step_view(1, after(at)), after(at)) for at in later)
    assert timedelta(minutes=10) == APART


def test_at_most_three_looks_are_asked_for(bench: Bench) -> None:
    middle = likely_min(bench, "clamp_time")
    for minute in (20.0, 40.0, 60.0):
        bench.witness(1, "workable", now=after(minute))
    assert asked(bench, middle) is None


def test_what_was_seen_reached_is_not_asked_for_again(bench: Bench) -> None:
    middle = likely_min(bench, "clamp_time")
    bench.witness(1, "hard", now=after(middle - 20))
    step = bench.step_view(1, after(middle))
    found = look_to_ask(step, after(middle))
    assert found is None or found[0] != "clamp_time"
