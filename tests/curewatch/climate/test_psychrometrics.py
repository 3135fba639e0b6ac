"""The air, held against the ASHRAE formulas and published spot values."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.climate import psychrometrics

psychrolib.SetUnitSystem(psychrolib.SI)

# C, %, dew point C, absolute humidity g/m3: computed by psychrolib 2.5.0 (ASHRAE Fundamentals
# 2017, ch. 1, eq. 5 and 6)
SPOTS = [
    (10, 85, 7.598, 7.987),
    (15, 70, 9.579, 8.977),
    (20, 50, 9.272, 8.643),
    (20, 85, 17.403, 14.694),
    (25, 50, 13.864, 11.516),
    (30, 70, 23.928, 21.244),
]
GRID = [
    (float(c), float(pct))
    for c in range(0, 41, 4)
    for pct in range(20, 101, 10)
    if psychrolib.GetTDewPointFromRelHum(c, pct / 100) > 0
]
humidities = st.floats(1.0, 100.0)
temperatures = st.floats(-20.0, 45.0)


@pytest.mark.parametrize(("celsius", "pct", "dew", "water"), SPOTS)
def test_published_spot_values(celsius: float, pct: float, dew: float, water: float) -> None:
    assert psychrometrics.dew_point_c(float(celsius), float(pct)) == pytest.approx(dew, abs=0.05)
    value = psychrometrics.absolute_humidity_g_m3(float(celsius), float(pct))
    assert value == pytest.approx(water, rel=0.0035)


@pytest.mark.parametrize(("celsius", "pct"), GRID)
def test_dew_point_agrees_with_psychrolib(celsius: float, pct: float) -> None:
    theirs = psychrolib.GetTDewPointFromRelHum(celsius, pct / 100)
    assert psychrometrics.dew_point_c(celsius, pct) == pytest.approx(theirs, abs=0.05)


@pytest.mark.parametrize(("celsius", "pct"), GRID)
def test_absolute_humidity_agrees_with_psychrolib(celsius: float, pct: float) -> None:
    pascal = psychrolib.GetVapPresFromRelHum(celsius, pct / 100)
    theirs = 1000 * pascal / (461.5 * (celsius + 273.15))
    assert psychrometrics.absolute_humidity_g_m3(celsius, pct) == pytest.approx(theirs, rel=0.0035)


def test_dew_point_agrees_with_coolprop() -> None:
    from CoolProp.HumidAirProp import HAPropsSI  # takes five seconds: for one process of the run

    for celsius, pct in GRID[::7]:
        theirs = HAPropsSI("D", "T", celsius + 273.15, "R", pct / 100, "P", 101325.0) - 273.15
        ours = psychrometrics.dew_point_c(celsius, pct)
        assert ours == pytest.approx(theirs, abs=0.06), (celsius, pct)


# deficit relative to 20 C and 50 %: computed, two figures
@pytest.mark.parametrize(
    ("celsius", "pct", "ratio"), [(10, 50, 0.53), (20, 85, 0.30), (30, 50, 1.82), (5, 85, 0.11)]
)
def test_deficit_ratios(celsius: float, pct: float, ratio: float) -> None:
    usual = psychrometrics.vapour_pressure_deficit_kpa(20.0, 50.0)
    assert usual == pytest.approx(1.169, rel=0.003)
    value = psychrometrics.vapour_pressure_deficit_kpa(float(celsius), float(pct)) / usual
    assert value == pytest.approx(ratio, abs=0.01)


# a spread of 3 K is 80.7 to 83.8 % at the surface: computed
@pytest.mark.parametrize("surface", [0.0, 10.0, 20.0, 35.0])
def test_three_kelvin_of_spread_is_just_over_eighty_per_cent(surface: float) -> None:
    dew = psychrometrics.saturation_pressure_magnus(surface - 3.0)
    pct = 100 * dew / psychrometrics.saturation_pressure_magnus(surface)
    assert 80.0 <= pct <= 85.0
    assert psychrometrics.dew_point_spread_c(surface, surface, pct) == pytest.approx(3.0, abs=1e-9)


@given(temperatures, humidities)
def test_dew_point_is_never_above_the_air(celsius: float, pct: float) -> None:
    assert psychrometrics.dew_point_c(celsius, pct) <= celsius + 1e-9


@given(temperatures, humidities, humidities)
def test_wetter_air_has_a_higher_dew_point(celsius: float, one: float, two: float) -> None:
    low, high = sorted((one, two))
    assert (
        psychrometrics.dew_point_c(celsius, low) <= psychrometrics.dew_point_c(celsius, high) + 1e-9
    )
    assert psychrometrics.vapour_pressure_deficit_kpa(
        celsius, high
    ) <= psychrometrics.vapour_pressure_deficit_kpa(celsius, low)


@given(temperatures, humidities)
def test_arrays_give_what_numbers_give(celsius: float, pct: float) -> None:
    both = psychrometrics.absolute_humidity_g_m3(np.array([celsius, celsius]), np.array([pct, pct]))
    assert both == pytest.approx(
        [psychrometrics.absolute_humidity_g_m3(celsius, pct)] * 2, rel=1e-12
    )


def test_bone_dry_air_has_a_dew_point_all_the_same() -> None:
    assert np.isfinite(psychrometrics.dew_point_c(20.0, 0.0))


def test_a_panel_colder_than_the_dew_point_takes_up_nothing() -> None:
    assert psychrometrics.vapour_pressure_deficit_kpa(20.0, 90.0, 5.0) == 0.0
