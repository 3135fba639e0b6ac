"""Equivalent age, held against closed forms and an outside integrator."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure import equivalent_age
from curewatch.cure.kinetics import inverse_below_glass, inverse_temperature, speed_arrhenius
from curewatch.cure.prior import STEEP_KJ

EA, REFERENCE = 55.0, 20.0
temperatures = st.lists(st.floats(5.0, 40.0), min_size=2, max_size=60)


def age_h(hours: FloatArray, celsius: FloatArray) -> FloatArray:
    return equivalent_age.cumulative(60 * hours, speed_arrhenius(celsius, REFERENCE, EA)) / 60


def test_two_cold_three_usual_one_warm_hour() -> None:
    # computed: 2 h at 10, 3 h at 20, 1 h at 30 C is 6.00650 h at 20 C with 55 kJ/mol
    total = sum(
        age_h(np.array([0.0, h]), np.full(2, c))[-1] for h, c in ((2, 10), (3, 20), (1, 30))
    )
    assert total == pytest.approx(6.00650, abs=1e-4)


def test_a_day_of_swinging_temperature() -> None:
    # computed: 24 h of 20 + 8 sin(2 pi t/24) C is 26.10263 h
    hours = np.arange(0, 24 * 60 + 1) / 60
    age = age_h(hours, 20 + 8 * np.sin(2 * np.pi * hours / 24))[-1]
    assert age == pytest.approx(26.10263, rel=1e-3)
    assert age == pytest.approx(26.10263, abs=2e-4)


def test_when_four_hours_are_reached_in_a_warming_garage() -> None:
    # computed: from 10 C rising 2 C/h, an age of 4 h after 5.51691 h
    hours = np.arange(0, 8 * 60 + 1) / 60
    minutes = equivalent_age.reached(60 * hours, 60 * age_h(hours, 10 + 2 * hours), 240.0)
    assert minutes == pytest.approx(60 * 5.51691, rel=1e-4)


def test_an_outside_integrator_agrees() -> None:
    from scipy.integrate import solve_ivp

    def speed(minute: float, _: FloatArray) -> FloatArray:
        celsius = 14 + 6 * np.sin(2 * np.pi * minute / 1440)
        return np.atleast_1d(speed_arrhenius(celsius, REFERENCE, EA))

    theirs = solve_ivp(speed, (0, 2880), [0.0], rtol=1e-9, atol=1e-9).y[0, -1]
    minutes = np.arange(2881.0)
    celsius = 14 + 6 * np.sin(2 * np.pi * minutes / 1440)
    ours = equivalent_age.cumulative(minutes, speed_arrhenius(celsius, REFERENCE, EA))[-1]
    assert ours == pytest.approx(theirs, rel=1e-5)


@given(st.floats(5.0, 40.0), st.floats(10.0, 5000.0), st.floats(5.0, 100.0))
def test_at_a_constant_it_is_the_closed_form(celsius: float, length: float, energy: float) -> None:
    times = np.linspace(0, length, 7)
    speed = speed_arrhenius(np.full(7, celsius), REFERENCE, energy)
    assert equivalent_age.cumulative(times, speed)[-1] == pytest.approx(length * speed[0], rel=1e-9)


@given(temperatures, st.integers(1, 58))
def test_splitting_a_series_changes_nothing(celsius: list[float], cut: int) -> None:
    cut = min(cut, len(celsius) - 1)
    times = np.arange(len(celsius), dtype=float)
    speed = speed_arrhenius(np.array(celsius), REFERENCE, EA)
    whole = equivalent_age.cumulative(times, speed)[-1]
    parts = (
        equivalent_age.cumulative(times[: cut + 1], speed[: cut + 1])[-1]
        + equivalent_age.cumulative(times[cut:], speed[cut:])[-1]
    )
    assert parts == pytest.approx(whole, rel=1e-12)


@given(temperatures, st.floats(0.5, 50.0))
def test_reached_undoes_age(celsius: list[float], target: float) -> None:
    times = np.arange(len(celsius), dtype=float)
    ages = equivalent_age.cumulative(times, speed_arrhenius(np.array(celsius), REFERENCE, EA))
    when = equivalent_age.reached(times, ages, target)
    if target > ages[-1]:
        assert when is None
    else:
        assert when is not None
        assert equivalent_age.at(times, ages, when) == pytest.approx(target, rel=1e-9)


@given(st.lists(st.floats(-10.0, 60.0), min_size=30, max_size=60))
def test_nine_nodes_carry_the_whole_grid_of_energies(celsius: list[float]) -> None:
    times = np.arange(len(celsius), dtype=float) * 30
    inverse = inverse_temperature(np.array(celsius), 21.0)[None, :]
    grid = np.linspace(2.0, 115.0, 41)
    gate = np.ones_like(inverse)
    ages = equivalent_age.over_grid(
        times, lambda ea: equivalent_age.speeds(inverse, ea, gate), grid
    )
    direct = equivalent_age.cumulative(times, equivalent_age.speeds(inverse, grid, gate))[0, :, -1]
    last = np.array([times.size - 1])
    assert np.exp(ages.ln_at_samples(last))[:, 0] == pytest.approx(direct, rel=5e-4)


@given(st.lists(st.floats(-10.0, 60.0), min_size=30, max_size=60))
def test_three_nodes_carry_every_level_of_the_steeper_law(celsius: list[float]) -> None:
    times = np.arange(len(celsius), dtype=float) * 30
    surface_c = np.array(celsius)[None, :]
    inverse = inverse_temperature(surface_c, 21.0)
    steep = equivalent_age.Steeper(STEEP_KJ, inverse_below_glass(surface_c, 21.0))

    def speed(ea_kj: np.ndarray) -> np.ndarray:
        return equivalent_age.speeds(inverse, ea_kj, np.ones_like(inverse))

    ages = equivalent_age.over_grid(times, speed, np.linspace(8.0, 92.0, 21), steep)
    last = ages.ln_at(float(times[-1])).reshape(ages.shape)
    for level, level_kj in enumerate(STEEP_KJ):
        exact = speed(np.array([50.0])) * np.exp(-level_kj * steep.inverse)
        direct = equivalent_age.cumulative(times, exact)[0, 0, -1]
        assert np.exp(last[0, level, 10]) == pytest.approx(direct, rel=0.02)
