"""The week's plan of a garage: by the wall clock, with products, wishes and what is left out."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from curewatch.errors import StepError
from curewatch.order.check import broken
from curewatch.order.search import planned
from curewatch.starts.windows import COURSES
from curewatch.ways import entered
from curewatch.ways.walk import Evenings
from curewatch.week.draws import Draws, quantile, reached_by
from curewatch.week.gather import wanted, week_plan
from curewatch.week.lay import Laid, LaidStep
from curewatch.week.lived import done_by_week
from curewatch.week.plan import Wanted, WeekPlan
from curewatch.week.put import stays_put
from tests.support.logbooks import BERLIN, NOW, opened
from tests.support.wishes import WISHES, wish, wished


@pytest.fixture(scope="module")
def wishes(tmp_path_factory: pytest.TempPathFactory) -> Wanted:
    """Two parts."""
    return wanted(wished(tmp_path_factory.mktemp("week")), NOW, BERLIN)


@pytest.fixture(scope="module")
def plan(wishes: Wanted) -> WeekPlan:
    """Their plan."""
    return stays_put(wishes.laid(), (), NOW, BERLIN, ())


def test_every_step_is_done_while_somebody_is_there_and_noise_ends_at_eight(plan: WeekPlan) -> None:
    assert len(plan.steps) == 8
    for step in plan.steps:
        spell = next(s for s in plan.spells if s.start <= step.start < s.end)
        assert step.end <= spell.end
        assert not step.loud or step.end <= spell.loud_end
        if step.kind == "primer":
            assert step.end + timedelta(minutes=30) <= spell.end, "the room is aired"
    assert all(one.end <= other.start for one, other in pairwise(plan.steps))


def test_a_step_waits_for_the_late_time_of_what_cures_before_it(plan: WeekPlan) -> None:
    for part in ("bonnet", "wing"):
        steps = [step for step in plan.steps if step.part == part]
        for one, other in pairwise(steps):
            late = None if one.ready is None else one.ready[2]
            # the plan's own draw of the batch differs a little from that of the shown times
            assert late is None or other.start >= late - timedelta(minutes=10)
    cured = [step.ready for step in plan.steps if step.ready is not None]
    assert all(early and likely and early <= likely for early, likely, _ in cured)


def test_a_coat_is_wet_while_nobody_sands(plan: WeekPlan) -> None:
    coats = [step for step in plan.steps if step.kind == "primer"]
    for step in plan.steps:
        for coat in coats:
            if step.loud and step.start > coat.start:
                assert coat.ready is not None
                assert coat.ready[2] is not None
                assert step.start >= coat.ready[2] - timedelta(minutes=10)
            if step.loud and step.start < coat.start:
                assert coat.start >= step.end + timedelta(minutes=30), "dust settles"


def test_each_may_be_begun_later_as_long_as_the_rest_keeps_its_moment(plan: WeekPlan) -> None:
    for one, other in pairwise(plan.steps):
        assert one.start <= one.latest
        assert one.latest + (one.end - one.start) <= other.latest
    assert plan.tonight[0] is plan.steps[0]


def test_a_part_says_its_chance_by_its_wish_and_no_number_without(plan: WeekPlan) -> None:
    bonnet, wing = plan.parts
    assert bonnet.chance is None
    assert wing.chance is not None
    assert wing.done is not None
    assert wing.surely is not None
    assert wing.done <= wing.surely
    assert wing.hold is not None


def test_a_wish_beyond_seven_days_has_no_number(wishes: Wanted) -> None:
    far = replace(wishes.lefts[1].wish, by=NOW + timedelta(days=9))
    lefts = (replace(wishes.lefts[1], wish=far),)
    assert stays_put(wishes.laid(lefts), (), NOW, BERLIN, ()).parts[0].chance is None


def test_the_grid_s_plan_breaks_no_rule_and_a_surer_one_is_never_sooner(wishes: Wanted) -> None:
    from curewatch.order.search import planned

    laid = wishes.laid()
    assert broken(laid.job, planned(laid.job)) == []
    for step in (step for steps in laid.lines for step in steps if step.link.age_min is not None):
        here = step.planned.here
        ready = step.task.ready[here]
        assert (np.diff(ready) >= 0).all(), "begun later it is never ready sooner"
        mixes = step.planned.mixes()
        likely, late = (reached_by(step.link, mixes, share) for share in (0.5, 0.95))
        assert (likely <= late).all()


def test_warmer_is_never_ready_later(wishes: Wanted) -> None:
    step = next(s for s in wishes.laid().lines[1] if s.step.kind == "filler")
    draws = step.planned.draws
    n = draws.weeks.likely_c.size
    warm = draws.weeks.warmed(np.full((1, n), 3.0), 60.0, room=False)
    warmer = Draws(warm, draws.beliefs).link(step.step, step.sheet, step.step.waits_for, 0)
    same = draws.link(step.step, step.sheet, step.step.waits_for, 0)
    mixes = step.planned.mixes()
    assert (reached_by(warmer, mixes, 0.9) <= reached_by(same, mixes, 0.9) + 1e-6).all()


def test_two_mixes_of_one_product_share_all_but_their_batch(wishes: Wanted) -> None:
    fills = [s.link for s in wishes.laid().lines[1] if s.step.kind == "filler"]
    one, other = (link.need_min for link in fills)
    assert one is not None
    assert other is not None
    assert fills[0].age_min is fills[1].age_min
    assert 0.3 < float(np.corrcoef(np.log(one), np.log(other))[0, 1]) < 0.999


def test_lived_weeks_keep_the_order_of_a_part_and_its_quantiles(wishes: Wanted) -> None:
    from curewatch.order.search import planned

    laid = wishes.laid()
    plan = planned(laid.job)
    done = done_by_week(laid, plan)
    assert done.shape == (2, 200)
    for line in range(2):
        hands = sum(step.hands for step in laid.job.lines[line].tasks)
        assert done[line].min() > hands / 4
        assert quantile(done[line], 0.5) <= quantile(done[line], 0.9)
    assert (done_by_week(laid, plan) == done).all(), "the same plan has the same chances"


def alone(laid: Laid, week: int) -> Laid:
    """The same in one of its drawn weeks only."""
    weeks, only = laid.weeks, slice(week, week + 1)
    one = replace(
        weeks,
        surface_c=weeks.surface_c[only],
        air_c=weeks.air_c[only],
        humidity_pct=weeks.humidity_pct[only],
    )
    evenings = Evenings(one, laid.spells)

    def lived(step: LaidStep) -> LaidStep:
        link = step.link
        age = None if link.age_min is None else link.age_min[only]
        need = None if link.need_min is None else link.need_min[only]
        link = replace(link, hands=link.hands[only], age_min=age, need_min=need)
        return replace(step, link=link, planned=replace(step.planned, evenings=evenings))

    lines = tuple(tuple(map(lived, steps)) for steps in laid.lines)
    return replace(laid, lines=lines, ready=tuple(ready[only] for ready in laid.ready))


@pytest.fixture(scope="module")
def five_parts(tmp_path_factory: pytest.TempPathFactory) -> Laid:
    """Five parts of twenty-six steps."""
    parts = {f"patch {number}": ("bond-a-patch", None) for number in range(3)}
    bench = wished(tmp_path_factory.mktemp("five"), {**parts, **WISHES})
    return wanted(bench, NOW, BERLIN).laid()


def test_each_drawn_week_is_lived_as_if_it_were_alone(five_parts: Laid) -> None:
    plan = planned(five_parts.job)
    together = done_by_week(five_parts, plan)
    for week in range(0, COURSES, 10):
        one = done_by_week(alone(five_parts, week), plan)
        assert one[:, 0].tolist() == together[:, week].tolist()


def test_steps_alike_share_what_tells_when_they_may_begin(five_parts: Laid) -> None:
    plan = planned(five_parts.job)
    tracemalloc.start()
    try:
        done_by_week(five_parts, plan)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    of_a_step = COURSES * five_parts.job.count * 4
    assert peak < len(plan) * of_a_step / 2


def test_what_cannot_be_planned_is_left_out_with_its_reason(tmp_path: Path) -> None:
    bench = wished(tmp_path, {})
    wish(bench, "sill", "bond-a-patch", None)
    wish(bench, "door", "bond-a-patch", None)
    wish(bench, "roof", "prime-bare-metal", NOW - timedelta(hours=1))
    entered.set_clamps(bench.store, 3, now=NOW)
    plan = week_plan(bench, NOW, BERLIN)
    assert plan.steps == plan.parts == ()
    texts = {left.part: str(left.why) for left in plan.left_out}
    assert "structural" in texts["sill"].casefold()
    assert "4 clamps" in texts["door"]
    assert "past" in texts["roof"]


def test_without_hours_it_asks_for_them(tmp_path: Path) -> None:
    with pytest.raises(StepError, match="when are you there"):
        week_plan(opened(tmp_path), NOW, BERLIN)
