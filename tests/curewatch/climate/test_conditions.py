"""From readings to what a step felt, with the doubt of every gap."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.climate.conditions import (
    AIR_FOR_SURFACE_SD_C,
    ASSUMED_SD_C,
    WALK_C,
    bridge_sd,
    resampled,
)
from curewatch.climate.flag import Flag
from curewatch.climate.reading import Quantity, Reading
from curewatch.climate.series import IndexedReadings, lagged
from curewatch.climate.summary import summary
from curewatch.notice import Duration, Measure, Term, notice
from tests.support.notices import codes

START = datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def read(
    minutes: list[float],
    values: list[float],
    quantity: Quantity = "surface_temperature",
    place: str = "panel",
) -> list[Reading]:
    return [
        Reading(place, quantity, value, START + timedelta(minutes=minute))
        for minute, value in zip(minutes, values, strict=True)
    ]


def end(minutes: float) -> datetime:
    return START + timedelta(minutes=minutes)


def test_each_minute_has_a_sample_on_the_straight_line() -> None:
    conditions = resampled(read([0, 10, 20], [10, 12, 11]), START, end(20), assumed_c=21)
    assert conditions.step_s == 60
    assert conditions.surface_c == pytest.approx(np.interp(range(21), [0, 10, 20], [10, 12, 11]))
    assert conditions.source == "surface"


def test_the_doubt_of_a_gap_is_that_of_a_walk_tied_at_both_ends() -> None:
    conditions = resampled(read([0, 120], [10, 12]), START, end(120), assumed_c=21, sensor_sd_c=0.3)
    assert conditions.surface_sd_c[0] == pytest.approx(0.3)
    # an hour from both ends: variance w^2 * 1 * 1 / 2
    assert conditions.surface_sd_c[60] == pytest.approx(np.hypot(0.3, WALK_C * np.sqrt(0.5)))
    assert "not-read" in codes(conditions.notes)


def test_the_tied_walk_agrees_with_simulated_walks() -> None:
    rng = np.random.default_rng(1)
    walks = np.cumsum(rng.normal(0, WALK_C * np.sqrt(0.1), (20_000, 30)), axis=1)
    line = walks[:, -1:] * np.arange(1, 31) / 30
    spread = (walks - line)[:, 9].std()
    values = np.array([0.0, 3 * 3600.0])
    assert bridge_sd(np.array([3600.0]), values, 0.0, WALK_C)[0] == pytest.approx(spread, rel=0.02)


def test_a_lost_sensor_is_held_doubted_and_said() -> None:
    conditions = resampled(read([0, 5, 10], [10, 10, 10]), START, end(250), assumed_c=21)
    assert conditions.surface_c[-1] == 10
    assert conditions.surface_sd_c[-1] == pytest.approx(np.hypot(0.3, WALK_C * 2.0), rel=1e-6)
    assert notice("reading-old", of=Term("panel"), age=Duration(240.0, "down")) in conditions.notes


def test_air_alone_lags_is_said_and_doubted() -> None:
    air = read([0, 60], [10, 20], "air_temperature", "air")
    conditions = resampled(air, START, end(60), assumed_c=21, lag_min=3.0)
    assert conditions.source == "air"
    assert conditions.surface_c[-1] < 20
    assert conditions.surface_sd_c[0] == pytest.approx(np.hypot(0.3, AIR_FOR_SURFACE_SD_C))
    assert "panel-from-air" in codes(conditions.notes)


def test_with_nothing_measured_the_label_is_assumed() -> None:
    conditions = resampled([], START, end(30), assumed_c=21)
    assert conditions.source == "assumed"
    assert (conditions.surface_c == 21).all()
    assert (conditions.surface_sd_c == ASSUMED_SD_C).all()
    assert conditions.notes[0] == notice("temperature-assumed", assumed=Measure(21.0, "C"))


def test_a_flagged_reading_is_not_used() -> None:
    bad = Reading("panel", "surface_temperature", 85.0, end(5), flag=Flag("jump"))
    conditions = resampled([*read([0, 10], [10, 10]), bad], START, end(10), assumed_c=21)
    assert conditions.surface_c.max() == 10


def test_the_order_of_readings_does_not_matter() -> None:
    readings = read([0, 10, 20], [10, 12, 11])
    one = resampled(readings, START, end(20), assumed_c=21)
    two = resampled(readings[::-1], START, end(20), assumed_c=21)
    assert np.array_equal(one.surface_c, two.surface_c)


def test_metal_behind_a_sudden_change_is_the_exponential() -> None:
    seconds = np.arange(0, 1801, 60.0)
    air = np.where(seconds > 0, 20.0, 10.0)
    metal = lagged(seconds, air, 5.0)
    from_one = 20 - (20 - metal[1]) * np.exp(-(seconds[1:] - 60) / 300)
    assert metal[1:] == pytest.approx(from_one)


@given(st.floats(1.0, 30.0), st.floats(0.5, 30.0))
def test_metal_behind_a_ramp_trails_by_the_lag(rate: float, lag: float) -> None:
    seconds = np.arange(0, 60.0 * 60 * 8, 60.0)
    air = rate * seconds / 3600
    metal = lagged(seconds, air, lag)
    assert air[-1] - metal[-1] == pytest.approx(rate * lag / 60, rel=1e-3)


@given(st.lists(st.floats(0.0, 600.0), min_size=2, max_size=20, unique=True))
def test_a_further_reading_never_adds_doubt(minutes: list[float]) -> None:
    times = 60 * np.array(sorted(minutes))
    grid = np.arange(0.0, 36_000.0, 600.0)
    some = bridge_sd(grid, times[:-1], 0.3, WALK_C)
    more = bridge_sd(grid, times, 0.3, WALK_C)
    assert (more <= some + 1e-9).all()


def test_a_week_is_kept_in_a_few_thousand_samples() -> None:
    conditions = resampled(read([0], [10]), START, end(7 * 1440), assumed_c=21)
    assert conditions.surface_c.size <= 2881
    assert conditions.step_s * (conditions.surface_c.size - 1) == pytest.approx(
        7 * 86400, abs=conditions.step_s
    )


def test_the_summary_tells_least_mean_and_most() -> None:
    readings = (
        read([0, 60], [10, 14])
        + read([0, 60], [15, 15], "air_temperature", "air")
        + read([0, 60], [70, 70], "relative_humidity", "air")
    )
    spans = summary(resampled(readings, START, end(60), assumed_c=21), START, end(60))
    surface = spans["surface_temperature"]
    assert (surface.minimum, surface.mean, surface.maximum) == (10, 12, 14)
    # dew point of 15 C and 70 %: 9.579 C (psychrolib 2.5.0)
    assert spans["dew_point_spread"].minimum == pytest.approx(10 - 9.579, abs=0.05)


def test_what_was_not_measured_is_absent_from_the_summary() -> None:
    for readings, names in ((read([0], [10]), {"surface_temperature"}), ([], set())):
        felt = resampled(readings, START, end(60), assumed_c=21)
        assert set(summary(felt, START, end(60))) == names


def test_readings_sorted_once_give_the_same() -> None:
    readings = read([0, 10, 20], [10, 12, 11]) + read([5], [50], "relative_humidity", "air")
    once = IndexedReadings(readings)
    one, two = (resampled(given, START, end(20), assumed_c=21) for given in (readings, once))
    assert np.array_equal(one.surface_c, two.surface_c)
    assert np.array_equal(one.humidity_pct, two.humidity_pct)
    assert list(once) == readings
    assert once[1:] == readings[1:]
