"""A panel under a lamp, against libraries, finite differences and its own energy balance."""

from __future__ import annotations

import numpy as np
import pytest

from curewatch.warmth import panel


def test_air_is_as_a_library_of_fluids_has_it() -> None:
    # CoolProp (MIT), dry air at one atmosphere
    from CoolProp.CoolProp import PropsSI

    for air_c in (0.0, 10.0, 25.0, 40.0):
        viscosity, conductivity, prandtl = panel.air_properties(air_c)
        at = ("T", air_c + 273.15, "P", 101_325.0, "Air")
        expected = PropsSI("V", *at) / PropsSI("D", *at)
        assert viscosity == pytest.approx(expected, rel=0.01), air_c
        assert conductivity == pytest.approx(PropsSI("L", *at), rel=0.02), air_c
        assert prandtl == pytest.approx(PropsSI("PRANDTL", *at), rel=0.02), air_c


@pytest.mark.parametrize("rayleigh", [1e4, 1e6, 1e8, 1e9, 1e11])
@pytest.mark.parametrize("prandtl", [0.7, 0.72])
def test_convection_is_as_a_library_of_heat_transfer_has_it(
    rayleigh: float, prandtl: float
) -> None:
    # ht (MIT): Churchill and Chu (1975), vertical plate
    import ht

    expected = ht.conv_free_immersed.Nu_vertical_plate_Churchill(prandtl, rayleigh / prandtl)
    assert panel.nusselt_upright(rayleigh, prandtl) == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("watts", [150.0, 500.0, 1000.0])
@pytest.mark.parametrize("air_c", [0.0, 12.0, 25.0])
def test_in_the_end_as_much_heat_leaves_as_comes(watts: float, air_c: float) -> None:
    lit_m2 = 0.5
    rise = panel.steady_rise_k(watts, lit_m2, air_c)
    leaves = rise * panel.loss(rise, air_c, lit_m2**0.5)
    assert leaves == pytest.approx(watts * panel.LANDS * panel.TAKEN_UP / lit_m2, rel=0.001)


def test_on_the_way_what_came_is_what_left_and_what_is_stored() -> None:
    steady, constant = 20.0, 8.0
    minutes = np.linspace(0.0, 60.0, 6001)
    rise = panel.course(minutes, 0.0, 40.0, steady, constant)
    lit = minutes <= 40.0
    came = np.trapezoid(np.where(lit, steady / constant, 0.0), minutes)
    left = np.trapezoid(rise / constant, minutes)
    assert came == pytest.approx(left + rise[-1], rel=0.001)


def test_switched_on_and_off_it_follows_the_equation_integrated() -> None:
    # scipy's integrator over the same balance, with a lamp from the 10th to the 50th minute
    from scipy.integrate import solve_ivp

    def balance(minute: float, rise: float) -> float:
        return ((20.0 if 10.0 <= minute < 50.0 else 0.0) - rise) / 8.0

    at = np.array([5.0, 15.0, 30.0, 50.0, 55.0, 90.0])
    solution = solve_ivp(balance, (0.0, 90.0), [0.0], t_eval=at, max_step=0.05, rtol=1e-8)
    assert panel.course(at, 10.0, 50.0, 20.0, 8.0) == pytest.approx(solution.y[0], abs=0.02)


def test_along_the_sheet_it_falls_off_as_finite_differences_say() -> None:
    # the fin equation of a sheet lit on one half, by central differences on half-millimetres
    rise, air_c, height = 20.0, 12.0, 0.7
    loss = panel.loss(rise, air_c, height)
    step, count = 0.0005, 2001
    conducts = panel.STEEL_W_M_K * panel.STEEL_M / step**2
    flux = np.where(np.arange(count) < count // 2, loss * rise, 0.0)
    flux[count // 2] = loss * rise / 2
    matrix = (
        np.diag(np.full(count, 2 * conducts + loss))
        - np.diag(np.full(count - 1, conducts), 1)
        - np.diag(np.full(count - 1, conducts), -1)
    )
    matrix[0, 0] -= conducts
    matrix[-1, -1] -= conducts
    along = np.linalg.solve(matrix, flux) / rise
    for inside_m in (0.0, 0.02, 0.05, 0.10):
        share = along[count // 2 - round(inside_m / step)]
        assert panel.share_of_rise(inside_m, rise, air_c, height) == pytest.approx(share, rel=0.005)
    beyond = panel.margin_m(0.9, rise, air_c, height)
    assert panel.share_of_rise(beyond, rise, air_c, height) == pytest.approx(0.9)


def test_a_lamp_nearer_makes_it_warmer_and_a_stronger_one_too() -> None:
    assert panel.steady_rise_k(500, 0.25, 12) > panel.steady_rise_k(500, 0.5, 12)
    assert panel.steady_rise_k(1000, 0.5, 12) > panel.steady_rise_k(500, 0.5, 12)
