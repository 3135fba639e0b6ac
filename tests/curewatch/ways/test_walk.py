"""A way walked through drawn weeks: its order, and what can only help."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.starts.courses import Courses
from curewatch.ways.answer import Work, plan
from curewatch.ways.hours import Spell
from curewatch.ways.walk import Evenings, Link, walk
from curewatch.ways.way import WayStep
from tests.support.many import cases

NOW, ZONE = datetime(2026, 11, 16, 17, 0, tzinfo=UTC), ZoneInfo("UTC")
WEEKS, SAMPLES = 40, 5 * 288
STEPS = (
    WayStep("fit", 60.0, loud=True),
    WayStep("bond", 40.0, "adhesive", 10.0, "clamp_time"),
    WayStep("grind", 30.0, loud=True, then="bonded"),
)
evenings_h = st.lists(st.floats(1.0, 6.0), min_size=5, max_size=5)
a_few = settings(max_examples=cases(15), deadline=None)


def courses(surface_c: float = 15.0) -> Courses:
    """Five days of an even panel."""
    even = np.full((WEEKS, SAMPLES), surface_c)
    return Courses(NOW, 300.0, even[0], even, even, np.full_like(even, 60.0))


def spells(lengths_h: list[float], loud_h: float = 6.0) -> tuple[Spell, ...]:
    """Evenings from six, of these lengths."""
    starts = [NOW + timedelta(days=day, hours=1) for day in range(len(lengths_h))]
    return tuple(
        Spell(at, at + timedelta(hours=h), at + timedelta(hours=min(h, loud_h)))
        for at, h in zip(starts, lengths_h, strict=True)
    )


def links(speed: float = 1.0, hardens_h: float = 9.0, hands: float = 1.0) -> tuple[Link, ...]:
    """The three steps, the bond hardening for some hours at this speed."""
    age = np.tile(speed * 5.0 * np.arange(SAMPLES), (WEEKS, 1))
    factors = np.full(WEEKS, hands)
    need = 60 * hardens_h * np.linspace(0.8, 1.25, WEEKS)
    bond = Link(STEPS[1], factors, age, need, 10.0, 35.0)
    return Link(STEPS[0], factors), bond, Link(STEPS[2], factors)


def work(lengths_h: list[float], by_h: float | None = 80.0, **how: float) -> Work:
    """All of it, by some hours from now."""
    loud = how.pop("loud_h", 6.0)
    by = None if by_h is None else NOW + timedelta(hours=by_h)
    return Work(links(**how), courses(), np.zeros(WEEKS), spells(lengths_h, loud), 1.0, by)


def best(given: Work) -> float:
    """The greatest chance of any evening."""
    return max((evening.chance for evening in plan(given, ZONE, {}).evenings), default=0.0)


def test_steps_come_in_order_when_somebody_is_there_and_what_they_wait_for() -> None:
    given = work([4.0] * 5)
    walked = walk(given.links, Evenings(given.courses, given.spells), 1.0, given.ready)
    assert (walked.begins[1:] >= walked.ends[:-1] - 1e-6).all()
    assert (walked.begins[0] == 12).all(), "an hour from now somebody is there"
    hardened = walked.begins[1] + 2 + given.links[1].need_min / 5  # type: ignore[operator]
    assert (walked.begins[2] >= hardened - 1e-6).all()
    in_the_evening = walked.begins % 288
    assert ((in_the_evening >= 12) & (in_the_evening + 6 <= 12 + 48 + 1e-6)).all()


def test_a_loud_step_that_is_too_late_waits_for_the_next_day() -> None:
    given = work([4.0] * 5, loud_h=0.9)
    walked = walk(given.links, Evenings(given.courses, given.spells), 1.0, given.ready)
    assert np.isinf(walked.begins[0]).all(), "an hour of noise never fits"
    assert Evenings(given.courses, given.spells).reason(given.links[0], 60.0, 12.0) == "loud"


def test_a_panel_outside_the_label_s_limits_is_not_mixed_on() -> None:
    given = replace(work([4.0] * 5), courses=courses(8.0))
    walked = walk(given.links, Evenings(given.courses, given.spells), 1.0, given.ready)
    assert np.isfinite(walked.begins[0]).all()
    assert np.isinf(walked.begins[1]).all()


@a_few
@given(evenings_h, st.floats(0.1, 3.0))
def test_more_hours_never_make_it_less_likely(lengths_h: list[float], more_h: float) -> None:
    longer = [length + more_h for length in lengths_h]
    assert best(work(longer)) >= best(work(lengths_h)) - 1e-9


@a_few
@given(evenings_h, st.floats(1.0, 4.0))
def test_what_hardens_sooner_is_never_done_later(lengths_h: list[float], faster: float) -> None:
    slow = walk_done(work(lengths_h))
    quick = walk_done(work(lengths_h, speed=faster))
    assert (quick <= slow + 1e-6).all()


@a_few
@given(evenings_h)
def test_a_later_evening_is_never_surer_than_one_before(lengths_h: list[float]) -> None:
    chances = [evening.chance for evening in plan(work(lengths_h), ZONE, {}).evenings]
    assert chances == sorted(chances, reverse=True)


def walk_done(given: Work) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """When it is done, by week."""
    evenings = Evenings(given.courses, given.spells)
    return walk(given.links, evenings, 1.0, given.ready).done


def test_the_answer_names_the_last_evening_the_next_beginning_and_what_holds_it_up() -> None:
    answer = plan(work([4.0] * 5, by_h=54.0, hardens_h=18.0), ZONE, {})
    assert answer.begin_by is not None
    assert answer.begin_by.start == NOW + timedelta(days=1, hours=1)
    assert answer.too_late is not None
    assert answer.too_late.chance == 0.0
    assert answer.next_begin is not None
    assert answer.next_begin.start == NOW + timedelta(hours=1)
    assert answer.next_begin.end <= NOW + timedelta(hours=5)
    assert answer.hold is not None
    assert answer.hold.code == "hardening"
    assert answer.hold.does == "bond"


def test_without_a_wish_it_says_when_it_is_done() -> None:
    answer = plan(work([4.0] * 5, by_h=None), ZONE, {})
    assert answer.done is not None
    assert answer.surely_done is not None
    assert answer.done <= answer.surely_done


def test_what_would_help_is_walked_anew_and_named_only_where_it_does() -> None:
    given = work([2.0, 2.0, 2.0, 2.0, 2.0], by_h=30.0, hardens_h=30.0)
    quick = replace(given, links=links(hardens_h=0.3))
    answer = plan(given, ZONE, {("product", "quick one"): quick, ("lamp", "no use"): given})
    assert "quick one" in [option.name for option in answer.helps]
    assert "no use" not in [option.name for option in answer.helps]
    assert answer.helps[0].chance == pytest.approx(best(quick))


def test_heat_counts_only_once_the_clamps_are_on() -> None:
    # by hand: half an hour of the 40 min follows the mix, 30 min of age at the panel as it is; the
    # 510 min that are left of 540 pass at twice the speed, in 51 samples of 5 min
    age = np.tile(5.0 * np.arange(SAMPLES), (1, 1))
    warm = np.tile(10.0 * np.arange(SAMPLES), (1, 1))
    bond = Link(STEPS[1], np.ones(1), age, np.array([540.0]), 10.0, 35.0, warm, 300.0)
    mixed = np.array([0.0, 12.0])
    assert bond.reached(0, mixed) == pytest.approx(mixed + 6 + 51)
    quick = replace(bond, need_min=np.array([20.0]))
    assert quick.reached(0, mixed) == pytest.approx(mixed + 4), "hard before the clamps are on"
    early = np.where(np.arange(SAMPLES) < 6, 10.0 * np.arange(SAMPLES), age[0] + 30.0)[None, :]
    vain = replace(bond, warm_min=early)
    cold = replace(bond, warm_min=None)
    assert vain.reached(0, mixed[:1]) == pytest.approx(cold.reached(0, mixed[:1]))
