"""Text to number and back: what a person types is what curewatch takes it for."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import QuantityError
from curewatch.units import (
    format_duration,
    format_film,
    minutes,
    parse_duration,
    parse_film,
    parse_humidity,
    parse_mass,
    parse_percent,
    parse_temperature,
)


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("14.5 C", 14.5),
        ("14,5 C", 14.5),
        ("14.5C", 14.5),
        ("14.5 °C", 14.5),
        ("-3 c", -3.0),
        ("58 F", 14.444444444),
        ("32 °F", 0.0),
        ("-40 F", -40.0),
        ("294.15 K", 21.0),
        ("  21 C  ", 21.0),
        ("2.1e1 C", 21.0),
    ],
)
def test_temperature_is_taken_with_its_unit(text: str, celsius: float) -> None:
    assert parse_temperature(text) == pytest.approx(celsius)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("14.5", "'14.5' has no unit; write the temperature like '14.5 C' or '58 F'."),
        ("14.5 X", "'14.5 X' has the unknown unit 'X'; write the temperature like"),
        ("warm", "'warm' is not a temperature; write it like '14.5 C'."),
        ("", "'' is not a temperature"),
        ("1e309 C", "'1e309 C' is not a finite number"),
        ("200 C", "temperature '200 C' is outside -60..150 C; check the number and unit."),
        ("nan C", "'nan C' is not a temperature"),
    ],
)
def test_a_temperature_that_cannot_be_is_refused_in_a_sentence(text: str, sentence: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_temperature(text)
    assert sentence in str(caught.value)


@pytest.mark.parametrize(
    ("text", "length_min"),
    [
        ("10 min", 10),
        ("90 s", 1.5),
        ("1.5 h", 90),
        ("1 h 30 min", 90),
        ("7 days", 10080),
        ("2 d", 2880),
        ("0 min", 0),
    ],
)
def test_duration_is_taken_with_its_unit(text: str, length_min: float) -> None:
    assert parse_duration(text) == pytest.approx(length_min)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("10", "'10' has no unit; write the duration like '10 min'."),
        ("10 weeks", "'10 weeks' has the unknown unit 'weeks'; use one of s, min, h, days"),
        ("-5 min", "duration '-5 min' is negative"),
        ("soon", "'soon' is not a duration"),
    ],
)
def test_a_duration_that_cannot_be_is_refused_in_a_sentence(text: str, sentence: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_duration(text)
    assert sentence in str(caught.value)


@pytest.mark.parametrize(
    ("text", "grams"), [("60 g", 60), ("0.5 kg", 500), ("2 oz", 56.69904625), ("1 lb", 453.59237)]
)
def test_mass_is_taken_with_its_unit(text: str, grams: float) -> None:
    assert parse_mass(text) == pytest.approx(grams)


@pytest.mark.parametrize(
    ("text", "microns"), [("100 um", 100), ("100 µm", 100), ("3 mm", 3000), ("4 mil", 101.6)]
)
def test_film_is_taken_with_its_unit(text: str, microns: float) -> None:
    assert parse_film(text) == pytest.approx(microns)


@pytest.mark.parametrize("text", ["0 g", "-1 g", "1e9 g", "60", "60 ml"])
def test_an_amount_that_cannot_be_mixed_is_refused(text: str) -> None:
    with pytest.raises(QuantityError, match=r"60 g|unit"):
        parse_mass(text)


@pytest.mark.parametrize("text", ["140 %", "-1 %", "62", "62 C"])
def test_a_humidity_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="%"):
        parse_humidity(text)


def test_percentages_are_taken_with_their_sign() -> None:
    assert parse_humidity("62 %") == 62
    assert parse_humidity("62%rh") == 62
    assert parse_percent("2.5 %") == 2.5
    with pytest.raises(QuantityError, match="has no percent sign"):
        parse_percent("2.5")


@given(st.floats(-50, 140))
def test_fahrenheit_and_kelvin_say_the_same_as_celsius(celsius: float) -> None:
    in_f, in_k = celsius * 9 / 5 + 32, celsius + 273.15
    assert parse_temperature(f"{in_f!r} F") == pytest.approx(celsius, abs=1e-6)
    assert parse_temperature(f"{in_k!r} K") == pytest.approx(celsius, abs=1e-6)


@given(st.integers(0, 20_000))
def test_a_written_duration_reads_back_as_itself(length_min: int) -> None:
    assert parse_duration(format_duration(length_min)) == length_min


@given(st.text(max_size=30))
def test_any_text_is_a_temperature_or_a_sentence(text: str) -> None:
    words = ""
    try:
        assert -60 <= parse_temperature(text) <= 150
    except QuantityError as error:
        words = str(error)
    assert not words or words.endswith(".")


def test_minutes_of_a_timedelta() -> None:
    assert minutes(timedelta(hours=1, seconds=30)) == 60.5


@pytest.mark.parametrize(
    ("microns", "words"), [(20.0, "20 µm"), (999.0, "999 µm"), (1000.0, "1 mm"), (6000.0, "6 mm")]
)
def test_a_film_is_said_in_mm_from_a_millimetre_on(microns: float, words: str) -> None:
    assert format_film(microns) == words
    assert parse_film(words) == pytest.approx(microns)


@pytest.mark.parametrize(
    ("text", "length_min"),
    [
        ("90 minutes", 90),
        ("1 hour", 60),
        ("2 hours 5 minutes", 125),
        ("1h30", 90),
        ("1 h 04", 64),
        ("Half an hour", 30),
        ("a quarter of an hour", 15),
        ("45 sec", 0.75),
        ("2 hrs", 120),
        ("5½ h", 330),
        ("½ h", 30),
        ("2 hours and 10 minutes", 130),
        ("2 hours, 10 mins.", 130),
    ],
)
def test_a_length_of_time_is_taken_as_people_write_it(text: str, length_min: float) -> None:
    assert parse_duration(text) == pytest.approx(length_min)


@pytest.mark.parametrize("text", ["1 h 75", "1 h 5 s 3", "hour", "half", "1 h -5 min"])
def test_what_is_no_length_of_time_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_duration(text)


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("14.5 ℃", 14.5),
        ("50 ℉", 10),
        ("50 deg F", 10),
        ("50 degrees Fahrenheit", 10),
        ("14 degC", 14),
        ("14 celsius", 14),
        ("−4.5 °C", -4.5),
    ],
)
def test_a_temperature_is_taken_as_people_write_it(text: str, celsius: float) -> None:
    assert parse_temperature(text) == pytest.approx(celsius)
