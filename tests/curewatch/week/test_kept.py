"""A plan stays as it was shown, unless it breaks or a wish gains by another."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from curewatch.climate.psychrometrics import FloatArray
from curewatch.order.job import Placed
from curewatch.week import put
from curewatch.week.gather import wanted
from curewatch.week.kept import PLAN, ShownStep, keep, shown
from curewatch.week.lay import Laid
from curewatch.week.plan import Wanted, WeekPlan
from tests.support.logbooks import BERLIN, NOW, opened
from tests.support.planned import PART, step, week, week_shown
from tests.support.wishes import wished


@pytest.fixture(scope="module")
def laid(tmp_path_factory: pytest.TempPathFactory) -> Laid:
    """One part without a wish's time."""
    wishes: Wanted = wanted(wished(tmp_path_factory.mktemp("kept")), NOW, BERLIN)
    return wishes.laid(wishes.lefts[:1])


@pytest.fixture(autouse=True)
def _even_weeks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Chances are not what is tested here."""

    def done(laid: Laid, plan: tuple[Placed, ...]) -> FloatArray:
        return np.tile(max(step.end for step in plan), (len(laid.lines), 200)).astype(np.float64)

    monkeypatch.setattr("curewatch.week.plan.done_by_week", done)


def again(laid: Laid, steps: tuple[ShownStep, ...] = ()) -> WeekPlan:
    """The plan, where these steps were shown."""
    return put.stays_put(laid, steps, NOW, BERLIN, ())


def as_shown(plan: WeekPlan, later_h: float = 0.0) -> tuple[ShownStep, ...]:
    """What was shown of a plan, some hours later."""
    more = timedelta(hours=later_h)
    return tuple(
        ShownStep(s.part, s.job, s.number, s.start + more, s.latest + more) for s in plan.steps
    )


def test_a_plan_that_still_holds_stays_to_the_minute(laid: Laid) -> None:
    first = again(laid)
    assert first.moved is None
    second = again(laid, as_shown(first))
    assert second.steps == first.steps
    assert second.moved is None


def test_a_little_sooner_is_no_reason_to_move_and_a_whole_evening_is(laid: Laid) -> None:
    first = again(laid)
    little = again(laid, as_shown(first, 0.5))
    assert little.steps[0].start == first.steps[0].start + timedelta(minutes=30)
    assert little.moved is None
    day = again(laid, as_shown(first, 24.0))
    assert day.moved is not None
    assert (day.moved.why, day.moved.part) == ("gains", "bonnet")
    assert day.steps == first.steps


def test_what_was_not_begun_is_later_and_said_so(laid: Laid) -> None:
    first = again(laid)
    plan = again(laid, as_shown(first, -24.0))
    assert plan.moved is not None
    assert plan.moved.why == "passed"
    assert plan.moved.moves[0].was == first.steps[0].start - timedelta(hours=24)


def test_a_curing_time_that_grew_moves_what_waits_for_it(laid: Laid) -> None:
    first = again(laid)
    sand, prime = laid.job.lines[0].tasks
    slow = replace(sand, ready=np.minimum(sand.ready + 18, laid.job.count))
    line = replace(laid.job.lines[0], tasks=(slow, prime))
    slower = replace(laid, job=replace(laid.job, lines=(line,)))
    plan = again(slower, as_shown(first))
    assert plan.moved is not None
    assert plan.moved.why == "curing"
    assert [move.step.number for move in plan.moved.moves] == [1]
    assert plan.moved.moves[0].step.start > first.steps[1].start


def test_other_work_makes_a_new_plan(laid: Laid) -> None:
    first = again(laid)
    plan = again(laid, as_shown(first, 3.0)[:1])
    assert plan.moved is not None
    assert plan.moved.why == "wishes"


def test_what_was_shown_is_kept_once_and_read_again(tmp_path: Path) -> None:
    store = opened(tmp_path).store
    assert shown(store) == ()
    plan = week_shown()
    keep(store, plan)
    keep(store, replace(plan, now=NOW + timedelta(hours=1)))
    assert len(store.entries(PLAN)) == 1
    assert shown(store) == as_shown(plan)
    keep(store, week(step(2, 2.0), part=replace(PART, chance=0.5)))
    assert len(store.entries(PLAN)) == 2
