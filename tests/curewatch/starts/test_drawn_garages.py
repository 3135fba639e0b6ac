"""What must hold in every garage, of one mix and of a way of work, in drawn ones."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.inputs import Mix
from curewatch.starts import courses, products
from curewatch.starts.courses import Courses
from curewatch.starts.reached import ages
from curewatch.starts.windows import Starts, starts
from curewatch.ways.hours import Spell
from curewatch.ways.walk import Evenings, Link, walk
from curewatch.ways.way import WayStep
from tests.support.drawn_garages import DrawnGarage, garages, milestones
from tests.support.many import cases
from tests.support.virtual_garages import MINIMUM_C

WEEKS, MOST_C = 40, 38.0
a_few = settings(max_examples=cases(5), deadline=None)
hours = st.floats(1.0, 30.0)
evenings_h = st.lists(st.floats(1.0, 6.0), min_size=4, max_size=4)
GRIND = WayStep("grind", 30.0, loud=True)


def starts_of(garage: DrawnGarage, milestone: str) -> Starts:
    """Every start of the coming day."""
    until = garage.now + timedelta(hours=24)
    return starts(garage.sheet, Mix(garage.now), garage.known, garage.ahead, milestone, until)


@a_few
@given(garages, milestones)
def test_a_later_start_never_reaches_it_sooner(garage: DrawnGarage, milestone: str) -> None:
    samples = starts_of(garage, milestone).reached.samples
    sooner, later = samples[:, :-1], samples[:, 1:]
    both = np.isfinite(later)
    assert (later[both] >= sooner[both] - 1e-6).all()
    assert np.isinf(later[np.isinf(sooner)]).all()


@a_few
@given(garages, milestones, hours, st.floats(0.1, 6.0))
def test_a_warmer_garage_never_makes_it_less_likely(
    garage: DrawnGarage, milestone: str, by_h: float, more_k: float
) -> None:
    by = garage.now + timedelta(hours=by_h)
    cool = starts_of(garage, milestone).by(by)
    warm = starts_of(garage.warmer(more_k), milestone).by(by)
    assert (warm.chance >= cool.chance - 1e-9).all()


@a_few
@given(garages, milestones, hours, hours)
def test_more_time_until_the_wish_never_makes_it_less_likely(
    garage: DrawnGarage, milestone: str, one_h: float, two_h: float
) -> None:
    table, first, second = starts_of(garage, milestone), min(one_h, two_h), max(one_h, two_h)
    less = table.by(garage.now + timedelta(hours=first))
    more = table.by(garage.now + timedelta(hours=second))
    assert (more.chance >= less.chance).all()


@a_few
@given(garages, milestones, hours, st.floats(0.5, 0.98), st.floats(0.5, 0.98))
def test_who_wants_to_be_surer_starts_no_later(
    garage: DrawnGarage, milestone: str, by_h: float, one: float, two: float
) -> None:
    chances = starts_of(garage, milestone).by(garage.now + timedelta(hours=by_h))
    surer, sure = chances.latest(max(one, two)), chances.latest(min(one, two))
    assert surer is None or (sure is not None and surer <= sure)


def _drawn(garage: DrawnGarage) -> Courses:
    return courses.drawn(garage.ahead, WEEKS, np.random.default_rng(1))


def _mixed(garage: DrawnGarage, paths: Courses, milestone: str) -> Link:
    """A step that waits for a milestone of the garage's product."""
    mix, rng = Mix(garage.now), np.random.default_rng(2)
    drawn = products.drawn(garage.sheet, mix, garage.known, milestone, WEEKS, rng)
    age_min = ages(garage.sheet, paths, drawn, milestone)
    step = WayStep("apply", 20.0, garage.sheet.kind, 5.0, milestone)
    return Link(step, np.ones(WEEKS), age_min, drawn.need_min, MINIMUM_C, MOST_C)


def _evenings(garage: DrawnGarage, lengths_h: list[float]) -> list[Spell]:
    """An evening a day from an hour after now, noise for no longer than two hours."""
    begins = [garage.now + timedelta(days=day, hours=1) for day in range(len(lengths_h))]
    return [
        Spell(at, at + timedelta(hours=long), at + timedelta(hours=min(long, 2.0)))
        for at, long in zip(begins, lengths_h, strict=True)
    ]


def done(garage: DrawnGarage, lengths_h: list[float], ready: float = 0.0) -> FloatArray:
    """When a patch that is bonded, ground, filled and ground is done, by drawn week; ready: the
    sample from which on it may be begun [-]."""
    paths, even = _drawn(garage), np.ones(WEEKS)
    grind = Link(GRIND, even)
    steps = [_mixed(garage, paths, name) for name in ("clamp_time", "sand_ready")]
    spells = Evenings(paths, _evenings(garage, lengths_h))
    links = (steps[0], grind, steps[1], grind)
    return walk(links, spells, 1.0, np.full(WEEKS, ready)).done


@a_few
@given(garages, evenings_h, st.floats(0.1, 3.0))
def test_more_hours_never_end_a_part_later(
    garage: DrawnGarage, lengths_h: list[float], more_h: float
) -> None:
    longer = [length + more_h for length in lengths_h]
    assert (done(garage, longer) <= done(garage, lengths_h) + 1e-6).all()


@a_few
@given(garages, evenings_h, st.floats(0.1, 6.0))
def test_a_warmer_garage_never_ends_a_part_later(
    garage: DrawnGarage, lengths_h: list[float], more_k: float
) -> None:
    warm = garage.warmer(more_k)
    assume(_drawn(warm).surface_c.max() <= MOST_C)  # too warm to mix is another matter
    assert (done(warm, lengths_h) <= done(garage, lengths_h) + 1e-6).all()


@a_few
@given(garages, evenings_h, st.floats(0.0, 300.0), st.floats(0.0, 300.0))
def test_a_part_begun_later_never_ends_sooner(
    garage: DrawnGarage, lengths_h: list[float], one: float, two: float
) -> None:
    sooner, later = (done(garage, lengths_h, at) for at in sorted((one, two)))
    assert (later >= sooner - 1e-6).all()
