"""What moved is said steadily: noise does not change a line, what happened does."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.changes import SteadyChange, SteadyChanges, steady
from curewatch.bench.due import moved_since
from curewatch.bench.views import BenchView, Change, ShownTimes
from tests.support.bench_views import ADHESIVE, NOW, at, bench, step


def change(later_min: float, *, entered: bool = False, since_min: float = -25) -> Change:
    times, before = ShownTimes(at(200), at(300)), ShownTimes(at(200), at(300 - later_min))
    return Change("sand_ready", later_min, at(since_min), 10.4, 10.1, entered, times, before)


def shown(later_min: float | None, minute: float) -> BenchView:
    view = step(1, "epoxy-panel-adhesive", -60, ADHESIVE)
    moved = () if later_min is None else (change(later_min),)
    return replace(bench(replace(view, changes=moved)), now=at(minute))


def said_min(moved: SteadyChanges, later_min: float | None, minute: float) -> list[float]:
    (view,) = moved.steadied(shown(later_min, minute)).steps
    return [change.later_min for change in view.changes]


@given(st.lists(st.floats(32, 48), min_size=1, max_size=30))
def test_noise_about_one_length_keeps_the_first_sentence(lengths: list[float]) -> None:
    moved = SteadyChanges()
    values = [said_min(moved, 40.0, 0.0)]
    values += [said_min(moved, length, 0.5 * place) for place, length in enumerate(lengths)]
    assert values == [[40.0]] * len(values)


@given(st.lists(st.one_of(st.none(), st.floats(-90, 90)), min_size=2, max_size=60))
def test_a_line_once_said_stands_for_three_minutes(lengths: list[float | None]) -> None:
    moved, since = SteadyChanges(), 0.0
    last: list[float] = []
    for place, length in enumerate(lengths):
        now, minute = said_min(moved, length, 0.5 * place), 0.5 * place
        if now != last:
            assert not last or minute - since >= 3
            last, since = now, minute


def test_another_length_is_said_after_three_minutes() -> None:
    moved = SteadyChanges()
    assert [said_min(moved, *pair) for pair in ((40.0, 0), (70.0, 1), (70.0, 2.9), (70.0, 3))] == [
        [40.0], [40.0], [40.0], [70.0],
    ]  # fmt: skip


def test_a_line_that_is_not_found_any_more_goes_after_three_minutes() -> None:
    moved = SteadyChanges()
    assert [said_min(moved, *pair) for pair in ((40.0, 0), (None, 2.9), (40.0, 4), (None, 7))] == [
        [40.0], [40.0], [40.0], [],
    ]  # fmt: skip


def test_what_was_told_and_a_new_look_are_said_at_once() -> None:
    line = SteadyChange(change(40.0), NOW, NOW)
    for other in (change(41.0, entered=True), change(41.0, since_min=-15)):
        steady_change = steady(line, other, at(0.1))
        assert steady_change
        assert steady_change.change == other


def test_a_kept_line_names_the_times_that_the_ribbon_shows_now() -> None:
    """Else a line says 15:30 for hours, beside a ribbon at 16:10."""
    moved = SteadyChanges()
    moved.steadied(shown(40.0, 0))
    later = shown(40.0, 1)
    milestones = tuple(
        replace(milestone, likely=at(210), late=at(333))
        if milestone.name == "sand_ready"
        else milestone
        for milestone in later.steps[0].milestones
    )
    steps = (replace(later.steps[0], milestones=milestones),)
    (kept,) = moved.steadied(replace(later, steps=steps)).steps[0].changes
    assert kept.times == ShownTimes(at(210), at(333))
    assert kept.before == ShownTimes(at(200), at(260))


@pytest.mark.parametrize(
    ("name", "later_min", "worth"),
    [
        ("full_cure", 60, True),
        ("full_cure", 15, False),
        ("clamp_time", 9, True),
        ("clamp_time", -6, False),
        ("sand_ready", -15, True),
    ],
)
def test_only_what_moved_so_far_that_someone_acts_on_it_is_a_change(
    name: str, later_min: float, worth: bool
) -> None:
    """By a quarter of an hour, or a tenth of the time since the mix; days ahead a fiftieth."""
    view = step(1, "epoxy-panel-adhesive", -60, ADHESIVE)
    by = timedelta(minutes=later_min)
    then = {
        milestone.name: replace(
            milestone,
            early=milestone.early and milestone.early - by,
            late=milestone.late and milestone.late - by,
        )
        for milestone in view.milestones
        if milestone.name == name
    }
    changes = moved_since(view, then, at(-30), (16.0, 14.0), False)
    assert [(change.milestone, change.later_min) for change in changes] == [
        (name, later_min)
    ] * worth


def test_a_milestone_that_is_passed_or_off_the_bench_is_not_spoken_of_any_more() -> None:
    moved = SteadyChanges()
    view = shown(40.0, 0)
    assert moved.steadied(view).steps[0].changes
    passed = tuple(
        replace(
            milestone, answered="reached" if milestone.name == "sand_ready" else milestone.answered
        )
        for milestone in view.steps[0].milestones
    )
    after = replace(view.steps[0], milestones=passed, changes=())
    assert moved.steadied(replace(view, steps=(after,))).steps[0].changes == ()
    assert moved.steadied(replace(view, steps=())).steps == ()
    assert moved.shown == {}


def test_a_clock_that_was_set_back_holds_nothing_longer() -> None:
    line = SteadyChange(change(40.0), NOW, NOW)
    assert steady(line, None, NOW - timedelta(hours=1)) is None
