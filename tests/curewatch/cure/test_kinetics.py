"""The speed of each chemistry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.cure import kinetics
from curewatch.cure.kinetics import speed_arrhenius
from curewatch.products.chemistries import CHEMISTRIES

celsius = st.floats(5.0, 40.0)

# Ea 55 kJ/mol, reference 20 C: computed, not published
SPEEDS = [(5, 0.2962), (10, 0.4507), (15, 0.6760), (25, 1.4600), (30, 2.1051), (40, 4.2257)]
# vapour pressure relative to 20 C at 10 and 30 C: DIPPR correlations, via the chemicals package
SOLVENTS = {
    "toluene": (0.57, 1.67),
    "styrene": (0.52, 1.83),
    "n-butyl acetate": (0.52, 1.82),
}


@pytest.mark.parametrize(("temperature", "speed"), SPEEDS)
def test_speed_at_check_temperatures(temperature: float, speed: float) -> None:
    assert float(speed_arrhenius(float(temperature), 20.0, 55.0)) == pytest.approx(speed, abs=5e-5)


@pytest.mark.parametrize("solvent", SOLVENTS)
def test_solvents_evaporate_within_the_prior(solvent: str) -> None:
    family = CHEMISTRIES["solvent-1k"]
    for temperature, published in zip((10.0, 30.0), SOLVENTS[solvent], strict=True):
        speeds = [
            float(speed_arrhenius(temperature, 20.0, family.ea_kj + k * family.ea_sd_kj))
            for k in (-2, 2)
        ]
        assert min(speeds) <= published <= max(speeds)


def test_halving_for_ten_degrees_is_within_one_sd_of_every_two_part_prior() -> None:
    # UFGS 09971 p. 26: pot life halves for each 10 C, which is 51.6 kJ/mol between 21 and 31 C
    for name in ("epoxy-amine", "urethane-2k", "polyester-peroxide", "methacrylate"):
        family = CHEMISTRIES[name]
        assert abs(family.ea_kj - 51.6) <= family.ea_sd_kj


def test_hot_metal_is_held_at_forty() -> None:
    assert speed_arrhenius(70.0, 21.0, 50.0) == speed_arrhenius(40.0, 21.0, 50.0)


@given(celsius, celsius, st.floats(5.0, 100.0))
def test_warmer_is_never_slower(one: float, two: float, energy: float) -> None:
    low, high = sorted((one, two))
    assert speed_arrhenius(low, 21.0, energy) <= speed_arrhenius(high, 21.0, energy)


@given(celsius, st.floats(10.0, 99.0), st.floats(10.0, 99.0))
def test_wetter_is_never_slower_for_moisture_cure_nor_faster_for_water(
    temperature: float, one: float, two: float
) -> None:
    low, high = (np.array([pct]) for pct in sorted((one, two)))
    panel = np.array([temperature])
    moist = [kinetics.speed_absolute_humidity(panel, pct, 20.0, 50.0) for pct in (low, high)]
    water = [kinetics.speed_deficit(panel, panel, pct, 20.0, 50.0) for pct in (low, high)]
    assert moist[0] <= moist[1]
    assert water[0] >= water[1]


def test_the_label_air_is_speed_one() -> None:
    there, pct = np.array([21.0]), np.array([50.0])
    assert kinetics.speed_absolute_humidity(there, pct, 21.0, 50.0) == pytest.approx([1.0])
    assert kinetics.speed_deficit(there, there, pct, 21.0, 50.0) == pytest.approx([1.0])


@given(st.floats(1.0, 3.0), st.floats(1.0, 3.0))
def test_more_hardener_is_never_longer(one: float, two: float) -> None:
    low, high = sorted((one, two))
    family = CHEMISTRIES["polyester-peroxide"]
    longer, shorter = (kinetics.stretch_hardener(family, 2.0, dose) for dose in (low, high))
    assert shorter <= longer


def test_film_counts_by_its_chemistry() -> None:
    times = {name: kinetics.stretch_film(family, 2.0) for name, family in CHEMISTRIES.items()}
    assert times["epoxy-amine"] == 1.0
    assert times["moisture-urethane"] == pytest.approx(4.0)
    assert times["solvent-1k"] == times["waterborne"] == pytest.approx(2**1.5)


def test_only_two_families_let_the_hardener_vary() -> None:
    assert {name for name, chemistry in CHEMISTRIES.items() if chemistry.hardener_varies} == {
        "methacrylate",
        "polyester-peroxide",
    }


def test_every_family_says_where_its_energy_is_from() -> None:
    for family in CHEMISTRIES.values():
        assert family.source
        assert "assumed" in family.source if family.assumed else family.ea_sd_kj > 0
