"""The dew point ahead: how it goes with the temperature, learned from the garage's own days."""

from __future__ import annotations

import numpy as np
import pytest

from curewatch.climate.dew_course import GUESS_SLOPE, SPAN_H, DewCourse, learned
from curewatch.climate.psychrometrics import (
    FloatArray,
    dew_point_c,
    saturation_pressure_magnus,
)

HOURS: FloatArray = np.arange(336.0)
DAY_C: FloatArray = 12.0 + 5.0 * np.sin(HOURS / 24 * 2 * np.pi)


def test_a_massive_room_keeps_its_relative_humidity() -> None:
    course = learned(DAY_C, np.full(336, 70.0))
    dew_c = np.asarray(dew_point_c(DAY_C, np.full(336, 70.0)))
    rise = (dew_c.max() - dew_c.min()) / (DAY_C.max() - DAY_C.min())
    assert course.slope == pytest.approx(rise, abs=0.03)
    ahead = course.humidity_pct(np.array([12.0, 7.0, 17.0]), 70.0)
    assert ahead == pytest.approx(70.0, abs=2.0)


def test_a_leaky_room_keeps_its_dew_point() -> None:
    outdoors_pct = np.asarray(
        100 * saturation_pressure_magnus(4.0) / saturation_pressure_magnus(DAY_C)
    )
    course = learned(DAY_C, outdoors_pct)
    assert course.slope < 0.05
    air_c = np.array([12.0, 7.0, 3.0])
    ahead = course.humidity_pct(air_c, float(outdoors_pct[0]))
    assert dew_point_c(air_c[:2], ahead[:2]) == pytest.approx(4.0, abs=0.2)
    assert ahead[2] == 100.0


def test_with_few_days_the_first_guess_stands() -> None:
    gaps = DAY_C.copy()
    gaps[: 336 - 50] = np.nan
    assert learned(gaps, np.full(336, 70.0)) == DewCourse()
    assert DewCourse().slope == GUESS_SLOPE


def test_a_warning_is_the_more_careful_the_further_ahead_up_to_six_hours() -> None:
    margin = DewCourse(0.5, 2.0).margin_k(np.array([0.0, 1.5, SPAN_H, 24.0]))
    assert margin == pytest.approx([0.0, 0.5, 1.0, 1.0])
