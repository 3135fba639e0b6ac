"""The morning after, pure: what a night did, from the conditions alone."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.climate.conditions import Conditions
from curewatch.climate.series import Interval, spells
from curewatch.cure.forecast import Forecast, forecast
from curewatch.cure.inputs import Mix
from curewatch.notice import Measure, notice
from curewatch.plan.night import Night, night, progress
from tests.support.many import cases
from tests.support.steps import sheet, steady

EVENING = datetime(2026, 11, 24, 17, 0, tzinfo=UTC)
LEAST_C = 10.0


def felt(celsius: list[float], air_c: float | None = None, pct: float = 50.0) -> Conditions:
    """A panel held at each temperature for an hour, in turn."""
    surface = np.repeat(np.array(celsius), 60)
    around = surface if air_c is None else np.full(surface.size, air_c)
    one = np.ones(surface.size)
    return Conditions(EVENING, 60.0, surface, 0.3 * one, around, pct * one, 3 * one, "surface")


def of(past: Conditions, damp_known: bool = True) -> Night:
    """The whole of it."""
    end = EVENING + timedelta(minutes=past.surface_c.size - 1)
    return night(past, EVENING, end, LEAST_C, damp_known=damp_known)


def hour(number: float) -> datetime:
    return EVENING + timedelta(hours=number)


def test_a_night_under_the_minimum_says_from_when_to_when_it_did_not_cure() -> None:
    overnight = of(felt([14, 12, 8, 6, 7, 11, 13]))
    assert overnight.stalled == (Interval(hour(2), hour(5)),)
    assert (overnight.coldest_c, overnight.coldest_at) == (6.0, hour(3))


def test_a_night_that_stayed_warm_has_no_such_spell() -> None:
    overnight = of(felt([14, 12, 11, 13]))
    assert overnight.stalled == ()
    assert overnight.coldest_c == 11.0


def test_two_cold_spells_stay_two_and_a_short_one_between_is_bridged() -> None:
    assert len(of(felt([14, 8, 14, 8, 14])).stalled) == 2
    values = np.array([1.0] * 10 + [0.0] * 10 + [1.0] * 10)
    assert spells(EVENING, 60.0, values) == (Interval(EVENING, EVENING + timedelta(minutes=30)),)


def test_dew_is_told_where_humidity_was_measured_and_only_there() -> None:
    damp = felt([14, 6, 14], air_c=14.0, pct=70.0)
    overnight = of(damp)
    assert overnight.damp == (Interval(hour(1), hour(2)),)
    assert overnight.lowest_k == pytest.approx(6 - 8.63, abs=0.05)
    unknown = of(damp, damp_known=False)
    assert (unknown.damp, unknown.lowest_k) == ((), None)


def test_only_the_night_itself_is_looked_at() -> None:
    past = felt([2, 14, 9, 14, 2])
    overnight = night(past, hour(1), hour(4) - timedelta(minutes=1), LEAST_C, damp_known=False)
    assert overnight.stalled == (Interval(hour(2), hour(3)),)
    assert overnight.coldest_c == 9.0


@given(st.lists(st.floats(-10, 25), min_size=1, max_size=12), st.floats(-10, 25))
def test_spells_hold_exactly_what_was_too_cold(celsius: list[float], least_c: float) -> None:
    past = felt(celsius)
    end = EVENING + timedelta(minutes=past.surface_c.size - 1)
    overnight = night(past, EVENING, end, least_c, damp_known=False)
    total = sum(
        (interval.end - interval.start).total_seconds() / 60 for interval in overnight.stalled
    )
    assert total == int((past.surface_c < least_c).sum())
    assert overnight.coldest_c == min(celsius)


def cold_night(celsius: list[float]) -> tuple[Forecast, float]:
    """A forecast in the morning after these hours, and the age the evening before."""
    past = felt(celsius)
    made = sheet(limits='temperature = ["10 C", "40 C"]')
    now = forecast(made, Mix(EVENING), past, steady(past))
    first = felt(celsius[:1])
    return now, forecast(made, Mix(EVENING), first, steady(first)).age_min


def test_progress_is_in_minutes_at_the_label_s_temperature() -> None:
    now, before = cold_night([21.0] * 5)
    towards = progress(now, before, now.by_name["sand_ready"])
    assert towards.age_min == pytest.approx(299, abs=2)
    assert towards.gained_min == pytest.approx(240, abs=2)
    assert (towards.needed_min, towards.label_min) == (pytest.approx(360, rel=1e-6), 360)


def test_nothing_is_gained_under_the_minimum_and_no_time_is_given() -> None:
    now, before = cold_night([12.0] + [6.0] * 8)
    towards = progress(now, before, now.by_name["clamp_time"])
    assert towards.gained_min == pytest.approx(0, abs=1)
    assert towards.late_min is None
    assert notice("no-time-cold", least=Measure(10.0, "C")) in towards.warnings


@settings(max_examples=cases(10))
@given(st.floats(10, 25), st.floats(0, 6))
def test_a_colder_night_never_got_further(celsius: float, colder: float) -> None:
    warm, _ = cold_night([15.0] + [celsius] * 6)
    cold, _ = cold_night([15.0] + [celsius - colder] * 6)
    assert cold.age_min <= warm.age_min + 1e-6
