"""A measurement is taken whole and in UTC, or refused in a sentence."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.climate.reading import LIMITS, QUANTITIES, UNITS, Quantity, make_reading, utc
from curewatch.errors import ReadingError

AT = datetime(2026, 10, 17, 17, 42, tzinfo=UTC)


def test_a_reading_keeps_what_was_measured() -> None:
    reading = make_reading("panel", "surface_temperature", 14, AT, "typed")
    assert (reading.place, reading.quantity, reading.value, reading.at, reading.flag) == (
        "panel",
        "surface_temperature",
        14.0,
        AT,
        None,
    )


@pytest.mark.parametrize(
    ("quantity", "value", "sentence"),
    [
        ("air_temperature", 200, "sensor-1: air temperature 200 C is outside -50..60 C"),
        ("relative_humidity", 140, "sensor-1: relative humidity 140 % is outside 0..100 %"),
        ("surface_temperature", math.nan, "surface temperature nan is not a finite number"),
        ("surface_temperature", math.inf, "surface temperature inf is not a finite number"),
        ("pressure", 1013, "'pressure' is not a quantity curewatch knows; use one of surface_temp"),
    ],
)
def test_a_value_that_cannot_be_is_refused(quantity: str, value: float, sentence: str) -> None:
    with pytest.raises(ReadingError) as caught:
        make_reading("panel", quantity, value, AT, "sensor-1")
    assert sentence in str(caught.value)


@pytest.mark.parametrize("place", ["", "Panel", "a/b", "-x", "x" * 41, "pänel", "a b", "#"])
def test_a_name_that_is_no_place_is_refused(place: str) -> None:
    with pytest.raises(ReadingError, match="is not a name for a place; use lower-case"):
        make_reading(place, "air_temperature", 12, AT)


def test_a_time_without_zone_is_refused() -> None:
    naive = datetime(2026, 10, 17, 17, 42)  # noqa: DTZ001
    with pytest.raises(ReadingError, match=r"has no zone; add Z or an offset"):
        make_reading("panel", "air_temperature", 12, naive)


def test_the_two_half_past_twos_of_the_night_the_clocks_go_back_stay_an_hour_apart() -> None:
    zone = ZoneInfo("Europe/Vienna")
    first = datetime(2026, 10, 25, 2, 30, tzinfo=zone, fold=0)
    second = datetime(2026, 10, 25, 2, 30, tzinfo=zone, fold=1)
    assert utc(second) - utc(first) == timedelta(hours=1)


@given(st.sampled_from(QUANTITIES), st.floats())
def test_any_number_is_a_reading_within_limits_or_a_sentence(
    quantity: Quantity, value: float
) -> None:
    low, high = LIMITS[quantity]
    if low <= value <= high:
        assert make_reading("panel", quantity, value, AT).value == value
    else:
        with pytest.raises(ReadingError, match=r"is outside|is not a finite number"):
            make_reading("panel", quantity, value, AT)


def test_every_quantity_has_a_unit_and_limits() -> None:
    assert set(UNITS) == set(LIMITS) == set(QUANTITIES)
