"""What becomes of a mix by when it is started: chances against a closed form, and their order."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import settings
from hypothesis import strategies as st

from curewatch.climate.outlook import Outlook
from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.belief import BATCH_SD, MILESTONE_SD, learned
from curewatch.cure.inputs import Mix
from curewatch.cure.prior import PRODUCT_SD
from curewatch.products.sheet import generic_sheets, parse_sheet
from curewatch.starts.courses import departures, drawn
from curewatch.starts.windows import Starts, starts
from tests.support.many import cases

NOW = datetime(2026, 11, 14, 17, 2, 20, tzinfo=UTC)
SHEETS = generic_sheets()
EPOXY = SHEETS["epoxy-panel-adhesive"]
CONSTANT = parse_sheet(
    'name = "made up"\nkind = "adhesive"\nchemistry = "epoxy-amine"\n[[times]]\n'
    'temperature = "21 C"\nworking_time = "30 min"\nclamp_time = "120 min"\n'
    '[limits]\ntemperature = ["5 C", "35 C"]\n',
    "made-up",
)
a_few = settings(max_examples=cases(10), deadline=None)
nights = st.lists(st.floats(-12, 12), min_size=4, max_size=4)


def outlook(likely_c: FloatArray, band_c: float | FloatArray = 0.0) -> Outlook:
    """A made-up outlook, five minutes apart."""
    even = np.ones(likely_c.size)
    low, high = likely_c - band_c, likely_c + band_c
    return Outlook(NOW, 300.0, likely_c, low, high, likely_c, 60 * even, "held", ())


def night(departures_c: list[float], around_c: float = 14.0, hours: int = 48) -> FloatArray:
    """A course through four departures from a temperature, evenly over the hours. [C]"""
    grid = np.linspace(0, 1, 12 * hours + 1)
    course: FloatArray = around_c + np.interp(grid, np.linspace(0, 1, 4), departures_c)
    return course


def starts_in(ahead: Outlook, milestone: str = "clamp_time", hours: float = 24.0) -> Starts:
    """The starts of the epoxy in an outlook."""
    until = NOW + timedelta(hours=hours)
    return starts(EPOXY, Mix(NOW), learned(EPOXY), ahead, milestone, until)


@pytest.mark.parametrize("after_min", [80, 100, 120, 150, 180])
def test_at_the_labels_temperature_the_chance_is_that_of_a_normal_scatter(after_min: int) -> None:
    # at 21 C no energy counts, so ln(time / label's) is normal with the three spreads together;
    # the normal distribution function: the standard library's NormalDist
    still = outlook(np.full(12 * 24 + 1, 21.0))
    by = NOW + timedelta(minutes=after_min)
    table = starts(CONSTANT, Mix(NOW), learned(CONSTANT), still, "clamp_time", by)
    sd = float(np.sqrt(PRODUCT_SD**2 + BATCH_SD**2 + MILESTONE_SD**2))
    expected = NormalDist(0.0, sd).cdf(float(np.log(after_min / 120)))
    assert table.by(by).now == pytest.approx(expected, abs=0.05)


def test_the_same_question_has_the_same_answer_bit_for_bit() -> None:
    ahead, by = outlook(night([4, 0, -5, 3]), 2.0), NOW + timedelta(hours=20)
    assert np.array_equal(starts_in(ahead).by(by).chance, starts_in(ahead).by(by).chance)


def test_before_the_cold_counts_each_course_with_its_own_cold() -> None:
    # 20 C falling 1.5 K an hour is under the label's 10 C after 6 h 40
    hours = np.arange(12 * 48 + 1) / 12
    falling = 20 - 1.5 * np.minimum(hours, 16)
    before = starts_in(outlook(falling, 1.5 * np.minimum(hours, 1)), hours=7).before_cold(10.0)
    assert before.chance[0] > before.chance[36] > before.chance[72] == 0.0


def test_what_is_not_reached_as_far_as_the_outlook_goes_counts_as_missed() -> None:
    short = outlook(np.full(13, 12.0))
    chances = starts_in(short, hours=1.0)
    assert chances.before_cold(5.0).now == 0.0
    assert chances.by(NOW + timedelta(hours=1)).now == 0.0


def test_where_the_panel_is_outside_the_labels_limits_no_start_is_offered() -> None:
    warming = outlook(8.0 + np.arange(12 * 24 + 1) / 24)  # 10 C after four hours
    chances = starts_in(warming, hours=12.0).by(NOW + timedelta(hours=23))
    assert not chances.allowed[0]
    assert chances.now == 0.0
    first = next(at for at, may in zip(chances.instants, chances.allowed, strict=True) if may)
    assert first - NOW >= timedelta(hours=3, minutes=55)


def test_starts_are_now_and_then_every_full_five_minutes() -> None:
    instants = starts_in(outlook(np.full(12 * 24 + 1, 15.0)), hours=1.0).by(NOW).instants
    assert instants[0] == NOW
    assert [at.minute for at in instants[1:4]] == [5, 10, 15]
    assert {at.second for at in instants[1:]} == {0}


def test_departures_go_together_over_hours_and_each_has_its_mirror() -> None:
    z = departures(np.array([0.0, 6.0, 24.0, 96.0]), 4000, np.random.default_rng(1))
    assert np.allclose(z.mean(axis=0), 0.0)
    assert z.std(axis=0) == pytest.approx(np.ones(4), abs=0.05)
    together = [float(np.corrcoef(z[:, 0], z[:, i])[0, 1]) for i in (1, 2, 3)]
    assert together == pytest.approx([0.90, 0.68, 0.40], abs=0.05)


def test_drawn_courses_keep_to_the_outlooks_band() -> None:
    even = np.full(12 * 24 + 1, 12.0)
    courses = drawn(outlook(even, 1.645), 2000, np.random.default_rng(1))
    inside = (np.abs(courses.surface_c - 12.0) <= 1.645).mean()
    assert inside == pytest.approx(0.90, abs=0.02)
