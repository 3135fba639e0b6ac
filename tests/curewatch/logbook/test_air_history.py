"""A period of the air: what was measured, by readings and by roll-ups, and what it met."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from curewatch.climate.flag import REPLACED, Flag
from curewatch.climate.reading import TYPED, Reading
from curewatch.logbook.air_history import GAP, air_history, begins, bucket_of
from curewatch.store.store import Store

NOW = datetime(2026, 10, 14, 17, 42, tzinfo=UTC)
DAY, HOUR, MINUTE = timedelta(days=1), timedelta(hours=1), timedelta(minutes=1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    store = Store(tmp_path / "curewatch.db")
    yield store
    store.close()


def reading(
    place: str, quantity: str, value: float, at: datetime, flag: Flag | None = None
) -> Reading:
    return Reading(place, quantity, value, at, "probe", flag)  # type: ignore[arg-type]


def panel(value: float, at: datetime, flag: Flag | None = None) -> Reading:
    return reading("panel", "surface_temperature", value, at, flag)


@pytest.mark.parametrize(
    ("length", "bucket_s"),
    [(DAY, 120), (2 * DAY, 300), (7 * DAY, 3600), (30 * DAY, 3600), (365 * DAY, 86_400),
     (3652 * DAY, 7 * 86_400)],
)  # fmt: skip
def test_a_period_is_cut_into_as_many_buckets_as_can_be_drawn(
    length: timedelta, bucket_s: float
) -> None:
    assert bucket_of(NOW - length, NOW) == bucket_s


def test_a_day_is_drawn_from_its_readings_and_gaps_stay_open(store: Store) -> None:
    store.add_readings([panel(12.0, NOW - HOUR), panel(14.0, NOW - 2 * MINUTE)])
    history = air_history(store, NOW - DAY, NOW, limit_c=10.0)
    (course,) = history.courses
    values = course.mean[~np.isnan(course.mean)]
    assert list(values) == [12.0, 14.0]
    assert history.below == ()
    assert len(history.times) == len(course.mean)


def test_a_typed_reading_beside_a_live_sensor_makes_no_dip_and_one_alone_is_drawn(
    store: Store,
) -> None:
    store.add_readings([panel(15.6, NOW - minutes * MINUTE) for minutes in range(0, 61, 10)])
    typed = [replace(panel(14.5, NOW - ago), source=TYPED) for ago in (25 * MINUTE, 3 * HOUR)]
    store.add_readings(typed)
    (course,) = air_history(store, NOW - DAY, NOW + MINUTE, limit_c=10.0).courses
    values = course.mean[~np.isnan(course.mean)]
    assert list(values) == [14.5, *[15.6] * 7]


def test_a_month_keeps_the_least_and_most_of_each_hour(store: Store) -> None:
    hour = NOW.replace(minute=0) - DAY
    store.add_readings(
        [panel(8.0, hour), panel(12.0, hour + 20 * MINUTE), panel(10.0, hour + 40 * MINUTE)]
    )
    history = air_history(store, NOW - 30 * DAY, NOW, limit_c=9.0)
    (course,) = history.courses
    index = int(np.flatnonzero(~np.isnan(course.mean))[0])
    assert (course.low[index], course.mean[index], course.high[index]) == (8.0, 10.0, 12.0)
    (spell,) = history.below
    assert (spell.start, spell.end) == (hour, hour + HOUR)


def test_the_gap_to_the_dew_point_is_that_of_surface_air_and_humidity(store: Store) -> None:
    at = NOW - HOUR
    store.add_readings(
        [
            panel(8.0, at),
            reading("air", "air_temperature", 10.0, at),
            reading("air", "relative_humidity", 80.0, at),
        ]
    )
    history = air_history(store, NOW - DAY, NOW, limit_c=5.0)
    gap = history.of(GAP)
    assert gap is not None
    # dew point of 10 C at 80 %: 6.71 C by the WMO's Magnus formula (checked in test_psychrometrics)
    assert np.nanmax(gap.mean) == pytest.approx(8.0 - 6.71, abs=0.02)
    assert len(history.damp) == 1


def test_without_a_surface_there_is_no_gap_and_nothing_is_below(store: Store) -> None:
    store.add_readings([reading("air", "air_temperature", 3.0, NOW - HOUR)])
    history = air_history(store, NOW - DAY, NOW, limit_c=5.0)
    assert (history.of(GAP), history.below, history.damp) == (None, (), ())


def test_flagged_readings_are_marks_and_withdrawn_ones_are_not(store: Store) -> None:
    spike = Flag("spike", gap=9.0, seconds=60.0)
    store.add_readings(
        [panel(30.0, NOW - HOUR - n * timedelta(seconds=1), spike) for n in range(3)]
        + [panel(31.0, NOW - 5 * HOUR, REPLACED)]
    )
    history = air_history(store, NOW - DAY, NOW, limit_c=5.0)
    (mark,) = history.flagged
    assert (mark.count, mark.flag, mark.value) == (3, spike, 30.0)
    assert history.courses == ()


def test_steps_of_the_period_are_those_that_were_on_the_bench_then(store: Store) -> None:
    for days in (20, 3, 1):
        store.add_step("epoxy-primer", NOW - days * DAY, NOW, {"sheet": "x"})
    store.add_event(1, "finished", NOW - 19 * DAY, NOW, {})
    history = air_history(store, NOW - 2 * DAY, NOW - HOUR, limit_c=5.0)
    assert [step.row.id for step in history.steps] == [2, 3]


def test_everything_begins_with_the_first_hour_measured(store: Store) -> None:
    assert begins(store, NOW) == NOW - DAY
    store.add_readings([panel(8.0, NOW - 400 * DAY)])
    assert begins(store, NOW) == (NOW - 400 * DAY).replace(minute=0)
