"""The outlook, held against a year of open weather."""

from __future__ import annotations

import functools
import hashlib
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from curewatch.climate.diurnal import SHARES, TAUS_H, hourly_means, ways
from curewatch.climate.flag import Flag
from curewatch.climate.outlook import outlook
from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import Reading
from curewatch.notice import Duration, Measure, notice
from tests.bench.outlook import BETTER, HORIZONS_H, TARGETS_C, OutlookErrors, errors_on
from tests.support import weather

NOW = datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
# every hour of the day in every month; `./tests/bench/run outlook` asks four times as often
APART_H = 29


def hours(count: int, level: float = 12.0, swing: float = 3.0, age_h: float = 0.0) -> list[Reading]:
    """Hourly panel readings that end age_h before NOW."""
    backs = np.arange(count) + age_h
    return [
        Reading(
            "panel",
            "surface_temperature",
            float(level + swing * np.sin(2 * np.pi * -back / 24)),
            NOW - timedelta(hours=float(back)),
        )
        for back in backs
    ]


def test_the_weather_file_is_the_one_its_source_gave() -> None:
    assert hashlib.sha256(weather.FILE.read_bytes()).hexdigest() == weather.SHA256
    rows = weather.rows()
    assert len(rows) == weather.ROWS
    assert set(rows[0]) == {"time_hour", "temp_f", "dewp_f", "humid"}


@functools.cache
def errors(with_outdoors: bool) -> OutlookErrors:
    """OutlookErrors over a year behind a lag of six hours."""
    return errors_on(weather.year(), with_outdoors, APART_H)


def test_errors_and_band_over_a_year() -> None:
    errors_c = errors(False)
    ours, values, inside = errors_c.ours, errors_c.held, errors_c.inside
    for i, (hour, target) in enumerate(zip(HORIZONS_H, TARGETS_C, strict=True)):
        error, peer = np.abs(ours[:, i]).mean(), np.abs(values[:, i]).mean()
        assert error <= target
        assert 1 - error / peer >= BETTER.get(hour, -1.0)
        assert 0.85 <= inside[:, i].mean() <= 0.95


def test_an_outdoor_sensor_helps() -> None:
    alone, with_outdoors = errors(False).ours, errors(True).ours
    for i in range(3):
        assert np.abs(with_outdoors[:, i]).mean() < 0.8 * np.abs(alone[:, i]).mean()


def test_with_nothing_read_the_label_is_assumed_with_a_wide_band() -> None:
    ahead = outlook([], NOW, assumed_c=21.0)
    assert ahead.method == "assumed"
    assert ahead.basis == (notice("forecast-assumed", assumed=Measure(21.0, "C")),)
    assert ahead.warm_c[0] - ahead.cool_c[0] > 12.0


def test_a_short_history_is_held_with_a_widening_band() -> None:
    ahead = outlook(hours(20), NOW, assumed_c=21.0)
    assert ahead.method == "held"
    assert (ahead.likely_c == ahead.likely_c[0]).all()
    width = ahead.warm_c - ahead.cool_c
    assert width[-1] > width[12] > width[0]


def test_a_regular_garage_is_told_to_stay_regular() -> None:
    coming = outlook(hours(336), NOW, assumed_c=21.0)
    ahead = np.arange(coming.likely_c.size) * coming.step_s / 3600
    assert coming.method == "learned"
    assert coming.likely_c == pytest.approx(12 + 3 * np.sin(2 * np.pi * ahead / 24), abs=0.15)


def test_an_old_reading_widens_the_band_from_the_start() -> None:
    fresh = outlook(hours(20), NOW, assumed_c=21.0)
    old = outlook(hours(20, age_h=3.0), NOW, assumed_c=21.0)
    assert old.warm_c[0] - old.likely_c[0] > fresh.warm_c[0] - fresh.likely_c[0] + 1.0
    assert old.basis[-1] == notice("forecast-reading-old", age=Duration(180.0, "down"))


def test_each_way_starts_from_now_and_one_of_them_stays_there() -> None:
    means = hourly_means(np.full((1, 169), 10.0))
    values = ways(means, np.array([14.0]), np.array([0.0, 48.0]))[:, 0]
    assert values[:, 0] == pytest.approx(14.0)
    assert values[SHARES.index(1.0) * len(TAUS_H) + TAUS_H.index(48.0), 1] == pytest.approx(
        10.0 + 4.0 / np.e
    )
    assert values[-1, 1] == 14.0


def test_it_reaches_as_far_as_asked_and_stays_ordered() -> None:
    ahead = outlook(hours(336), NOW, assumed_c=21.0, hours=36.0)
    assert ahead.step_s * (ahead.likely_c.size - 1) == 36 * 3600
    assert (ahead.cool_c <= ahead.likely_c).all()
    assert (ahead.likely_c <= ahead.warm_c).all()


def test_doubtful_readings_and_later_ones_are_left_out() -> None:
    good = hours(336)
    spoiled = [Reading("panel", "surface_temperature", 80.0, NOW, flag=Flag("stuck"))]
    later = [Reading("panel", "surface_temperature", 60.0, NOW + timedelta(hours=1))]
    ahead = outlook(good + spoiled + later, NOW, assumed_c=21.0)
    assert ahead.likely_c.max() < 17.0


def test_a_last_reading_of_hours_ago_is_carried_on_along_the_usual_course() -> None:
    coming = outlook(hours(330, age_h=6.0), NOW, assumed_c=21.0, hours=12.0)
    ahead = np.arange(coming.likely_c.size) * coming.step_s / 3600
    assert coming.method == "learned"
    assert coming.likely_c == pytest.approx(12 + 3 * np.sin(2 * np.pi * ahead / 24), abs=0.3)


def test_an_offset_of_the_sensor_goes_on_into_the_hours_ahead() -> None:
    exact, doubtful = (
        outlook(hours(336), NOW, assumed_c=21.0, sensor_sd_c=value) for value in (0.0, 2.0)
    )
    assert doubtful.warm_c[0] - doubtful.cool_c[0] == pytest.approx(2 * 1.645 * 2.0)
    assert (doubtful.warm_c >= exact.warm_c).all()
    assert (doubtful.likely_c == exact.likely_c).all()


def test_in_a_hall_that_hardly_moves_the_hours_ahead_are_hardly_worse_than_now() -> None:
    lga = weather.year(100.0, weather.DATA / "lga2013.csv.gz")
    slow: FloatArray = np.round(10 * lga.garage_c) / 10
    context = weather.Year(lga.start, lga.outdoors_c, slow, lga.humidity_pct)
    errors = errors_on(context, False, 97)
    ratios = errors.ours.mean(axis=0) / errors.held.mean(axis=0)
    assert ratios.mean() <= 1.05
    assert ratios[0] <= 1.05
