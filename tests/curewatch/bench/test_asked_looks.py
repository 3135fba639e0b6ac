"""When the dab turned, and which look at it is worth asking for."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from curewatch.bench import marks
from curewatch.bench.asking import Phase, askings
from curewatch.bench.bench import Bench
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
from tests.support.steps import forecast_at, sheet

AT = datetime(2026, 10, 17, 17, 0, tzinfo=UTC)
ADHESIVE = "epoxy-panel-adhesive"


def after(minutes: float) -> datetime:
    return AT + timedelta(minutes=minutes)


def bench_at(folder: Path, surface_c: Callable[[float], float]) -> Bench:
    """A bench with readings of the panel every five minutes. surface_c: by minute [C]"""
    store = Store(folder / "curewatch.sqlite")
    panel = [
        make_reading("panel", "surface_temperature", surface_c(5 * n), after(5 * n), "probe")
        for n in range(-24, 200)
    ]
    store.add_readings(panel)
    return Bench(store)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """A bench with one step at an even 18 C."""
    bench = bench_at(tmp_path, lambda minute: 18.0)
    bench.start(ADHESIVE, now=AT)
    return bench


def asked_look(bench: Bench, minutes: float) -> AskedLook | None:
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
        milestone = forecast_at(product, 21.0, now_min=60.0, looks=[look]).by_name["clamp_time"]
        assert milestone.early_min is not None
        assert milestone.late_min is not None
        return milestone.late_min / milestone.early_min

    turned = Sighting(1, 60.0, "stringy", turned=(52.5, 57.5))
    assert band(turned) < 0.93 * band(Sighting(1, 60.0, "stringy"))


def test_a_look_is_asked_for_about_when_it_is_as_likely_as_not(bench: Bench) -> None:
    middle = likely_min(bench, "clamp_time")
    look = asked_look(bench, middle)
    assert look is not None
    assert (look.milestone, look.state, look.waited) == ("clamp_time", "hard", "clamp_time")
    assert 0.2 < look.worth < 0.4
    assert after(middle) < look.until < after(1.3 * middle)
    assert asked_look(bench, 0.7 * middle) is None
    assert asked_look(bench, 1.3 * middle) is None


def test_no_look_is_asked_for_near_another_question(bench: Bench) -> None:
    middle = likely_min(bench, "clamp_time")
    bench.witness(1, "stringy", now=after(middle - 5))
    assert asked_look(bench, middle) is None
    looks = [look for at in (40, 70) if (look := asked_look(bench, middle + at))]
    assert looks
    assert looks[0].start - after(middle - 5) >= timedelta(minutes=10)


def test_at_most_three_looks_are_asked_for_answered_or_not(bench: Bench) -> None:
    """Two pass unanswered; then the clamps are found not ready twice. A bench opened afterwards
    knows what was asked for."""
    assert [look.milestone for at in (60, 300) if (look := asked_look(bench, at))] == [
        "working_time",
        "clamp_time",
    ]
    bench.witness(1, "stringy", now=after(345))
    third = asked_look(Bench(bench.store), 400)
    assert third is not None
    assert third.start == after(355)
    bench.witness(1, "stringy", now=after(430))
    afresh = Bench(bench.store)
    assert [asked_look(afresh, at) for at in (445, 470)] == [None, None]


def test_looks_of_ones_own_take_nothing_from_those_asked_for(bench: Bench) -> None:
    middle = likely_min(bench, "clamp_time")
    for minute in (10.0, 20.0, 30.0):
        bench.witness(1, "workable", now=after(minute))
    assert asked_look(bench, middle) is not None


def test_a_question_is_asked_once_while_the_forecast_changes(tmp_path: Path) -> None:
    """The panel cools by 8 K meanwhile; what was asked for since an instant stays so."""
    cooling = bench_at(tmp_path, lambda minute: 22.0 if minute < 150 else 14.0)
    cooling.start(ADHESIVE, now=AT)
    looks = [look for at in (265, 300, 330, 350) if (look := asked_look(cooling, at))]
    assert {look.milestone for look in looks} == {"clamp_time"}
    starts = [look.start for look in looks]
    assert max(starts) - min(starts) < timedelta(seconds=30)


def look_at(start: float, until: float, name: str = "clamp_time") -> AskedLook:
    return AskedLook(name, "hard", "clamp_time", 0.3, after(start), after(until))


def phase(start: float, end: float, *looks: AskedLook, questions: tuple[float, ...] = ()) -> Phase:
    return Phase(after(start), after(end), looks, tuple(after(minute) for minute in questions))


def spans(*phases: Phase) -> list[tuple[float, float]]:
    return [
        ((look.start - AT).total_seconds() / 60, (look.until - AT).total_seconds() / 60)
        for look in askings(phases)
    ]


def test_a_look_waits_for_other_questions_and_ends_with_the_next() -> None:
    assert spans(phase(0, 90, look_at(50, 100), questions=(45,))) == [(55, 100)]
    assert spans(phase(0, 90, look_at(50, 100), questions=(55, 66))) == [(76, 100)]
    assert spans(phase(0, 90, look_at(50, 100), questions=(80,))) == [(50, 80)]
    assert spans(phase(0, 90, look_at(50, 59), questions=(52,))) == []


def test_a_look_ends_with_an_entry_and_another_keeps_its_distance() -> None:
    first, second = phase(0, 60, look_at(50, 100)), phase(60, 90, look_at(50, 100))
    assert spans(first, second) == [(50, 60), (60, 100)]
    assert spans(phase(0, 52, look_at(50, 100)), second) == [(50, 52), (60, 100)]
    together = phase(0, 90, look_at(50, 53, "working_time"), look_at(51, 100))
    assert spans(together) == [(50, 53), (60, 100)]


def test_what_was_seen_reached_is_not_asked_for_again(bench: Bench) -> None:
    middle = likely_min(bench, "clamp_time")
    bench.witness(1, "hard", now=after(middle - 20))
    look = asked_look(bench, middle)
    assert look is None or look.milestone != "clamp_time"
