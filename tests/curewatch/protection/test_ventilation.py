"""Airing a room: published worked examples, and what is never given a number."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import ModelError
from curewatch.products.hazards import Hazards
from curewatch.protection import ventilation
from curewatch.protection.airing import SHARES
from curewatch.protection.ventilation import LIMITS, Room, level, limit_of

# NIOSH prints styrene 425 (NIOSH IDLH page); 426, 188 and 410 are M/24.45 itself, computed.
PER_CUBIC_METRE = [("styrene", 100, 426), ("toluene", 50, 188), ("methyl methacrylate", 100, 410)]

# CDC, MMWR 43(RR-13), 1994, table S3-1: air changes per hour; minutes for 90, 99, 99.9 %.
TABLE_S3_1 = [
    (1, (138, 276, 414)),
    (2, (69, 138, 207)),
    (6, (23, 46, 69)),
    (12, (12, 23, 35)),
    (20, (7, 14, 21)),
]

# Published table of (1 - exp(-n t))/n: air changes per hour, minutes, hours.
BUILD_UP = [(0.5, 10, 0.1599), (1, 20, 0.2835), (4, 40, 0.2326), (8, 20, 0.1163)]

# The strictest limit found over a shift [ppm], whose; lower explosive limit [%] (NIOSH, May 1994).
# Styrene: ACGIH on OSHA's sampling page of styrene, updated 6 September 2012; methyl
# methacrylate: ACGIH on OSHA's sampling page, archived 4 November 2008; toluene: Cal/OSHA 2012, on
# OSHA's page of toluene; xylene: WorkSafe New Zealand, p-xylene; n-butyl acetate: Directive (EU)
# 2019/1831, annex; acetone: NIOSH on OSHA's sampling page, archived 4 November 2008.
LOWEST = [
    ("styrene", 20, "ACGIH", 0.9),
    ("methyl methacrylate", 50, "ACGIH", 1.7),
    ("toluene", 10, "Cal/OSHA", 1.1),
    ("xylene", 50, "New Zealand", 0.9),
    ("n-butyl acetate", 50, "(EU) 2019/1831", 1.2),
    ("acetone", 250, "NIOSH", 2.5),
]
rooms = st.builds(Room, st.floats(10, 500), st.floats(5, 5000), st.floats(1, 10))


@pytest.mark.parametrize(("solvent", "ppm", "mg_m3"), PER_CUBIC_METRE)
def test_parts_per_million_as_mass(solvent: str, ppm: float, mg_m3: float) -> None:
    molar_mass = LIMITS[solvent].molar_mass
    assert ventilation.ppm_from_mg_m3(mg_m3, molar_mass) == pytest.approx(ppm, abs=0.3)


@pytest.mark.parametrize(("changes", "minutes"), TABLE_S3_1)
def test_purge_times_of_the_published_table(changes: float, minutes: tuple[float, ...]) -> None:
    values = [ventilation.purge_min(changes, share, 1.0) for share in SHARES.values()]
    assert values == pytest.approx(minutes, abs=0.6)


def test_the_mixing_factor_multiplies_the_time() -> None:
    assert ventilation.purge_min(6, 0.99) == pytest.approx(5 * ventilation.purge_min(6, 0.99, 1))


@pytest.mark.parametrize(("changes", "minutes", "hours"), BUILD_UP)
def test_build_up_while_working(changes: float, minutes: float, hours: float) -> None:
    assert ventilation.build_up_h(changes, minutes / 60) == pytest.approx(hours, abs=5e-5)


def test_with_no_air_moving_all_of_it_stays() -> None:
    assert ventilation.build_up_h(0, 0.5) == 0.5


@pytest.mark.parametrize(("name", "lowest", "whose", "explosive"), LOWEST)
def test_limits_as_they_were_read(name: str, lowest: float, whose: str, explosive: float) -> None:
    limit = LIMITS[name]
    assert (limit.lowest_ppm, limit.lel_pct) == (lowest, explosive)
    assert whose in limit.source
    assert lowest == min(ppm for ppm, _ in limit.quoted)
    assert "shift" in limit.source


def test_a_fire_level_is_far_above_a_health_level() -> None:
    toluene = LIMITS["toluene"]
    assert toluene.fire_ppm == pytest.approx(1100)
    assert toluene.fire_ppm > 2 * 500, "its IDLH, NIOSH 1994"
    assert all(limit.fire_ppm > limit.lowest_ppm for limit in LIMITS.values())


@pytest.mark.parametrize("name", ["Xylenes", " butyl  acetate ", "MMA", "toluene"])
def test_solvents_go_by_their_usual_names(name: str) -> None:
    assert limit_of(name) is not None


def test_a_solvent_without_a_kept_limit_still_gives_its_mass() -> None:
    vapour = level(Room(60, 300), "white spirit", 50, 20)
    assert vapour.mg_m3 > 0
    assert (vapour.limit, vapour.ppm, vapour.times_limit, vapour.times_fire) == (
        None,
        None,
        None,
        None,
    )


def test_a_level_against_both_limits() -> None:
    vapour = level(Room(60, 300, 5), "toluene", 100, 30)
    # by hand: 100 g in 60 m3 is 1,667 mg/m3; one mixed change an hour over half an hour 0.787
    assert vapour.still_mg_m3 == pytest.approx(1666.7, abs=0.1)
    assert vapour.mg_m3 == pytest.approx(1311.5, abs=0.5)
    assert vapour.ppm == pytest.approx(348, abs=0.5)
    assert vapour.times_limit == pytest.approx(34.8, abs=0.05)
    assert vapour.times_fire == pytest.approx(0.316, abs=0.001)


@given(rooms, st.floats(0.1, 5000), st.floats(1, 600), st.floats(1.01, 3))
def test_more_air_never_leaves_more_and_more_solvent_never_less(
    room: Room, grams: float, over_min: float, times: float
) -> None:
    here = level(room, "toluene", grams, over_min)
    windier = Room(room.volume_m3, room.flow_m3_h * times, room.mixing)
    assert level(windier, "toluene", grams, over_min).mg_m3 <= here.mg_m3 * (1 + 1e-9)
    assert level(room, "toluene", grams * times, over_min).mg_m3 >= here.mg_m3
    assert here.mg_m3 <= here.still_mg_m3 * (1 + 1e-9)


@given(st.floats(1, 10_000), st.floats(1, 2000), st.floats(0.5, 3))
def test_there_is_never_more_solvent_than_product(
    amount_g: float, g_per_l: float, density: float
) -> None:
    value = ventilation.solvent_grams(amount_g, g_per_l, density)
    assert 0 < value <= amount_g
    assert value <= ventilation.solvent_grams(amount_g, g_per_l, density / 2)


@pytest.mark.parametrize(
    ("room", "says"),
    [
        ((0, 300, 5), "a room of 0 m3 is outside"),
        ((60, 0, 5), "a flow of 0 m3/h is outside"),
        ((60, 300, 0.5), "a mixing factor of 0.5 is outside 1..10"),
        ((float("nan"), 300, 5), "a room of nan m3 is outside"),
    ],
)
def test_a_room_that_cannot_be_is_refused(room: tuple[float, float, float], says: str) -> None:
    with pytest.raises(ModelError, match=says):
        Room(*room)


@pytest.mark.parametrize(("grams", "over_min"), [(0, 20), (-1, 20), (10, 0), (10, 1e9)])
def test_a_level_of_nothing_is_refused(grams: float, over_min: float) -> None:
    with pytest.raises(ModelError, match="is outside"):
        level(Room(60, 300), "toluene", grams, over_min)


def test_no_number_for_isocyanate_mist_or_dust() -> None:
    assert "isocyanate" in ventilation.no_number(Hazards(isocyanate=True))
    assert "mist" in ventilation.no_number(Hazards(), sprayed=True)
    assert "dust" in ventilation.no_number(Hazards(), sanded=True)
    assert ventilation.no_number(Hazards(styrene=True)) == ""
