"""A line of typed readings: what it may hold, and what is said of one that holds anything else."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import ReadingError
from sensors.manual.one_line import by_place, in_line

SURFACE, AIR, DAMP = "surface_temperature", "air_temperature", "relative_humidity"


@pytest.mark.parametrize(
    ("line", "values"),
    [
        ("14.5", [("panel", SURFACE, "14.5 C")]),
        ("−3,5 °C", [("panel", SURFACE, "-3,5 °C")]),
        ("58 F", [("panel", SURFACE, "58 F")]),
        ("air 16", [("air", AIR, "16 C")]),
        ("62%", [("air", DAMP, "62 %")]),
        ("humidity 62", [("air", DAMP, "62 %")]),
        ("outdoors: 3", [("outdoors", AIR, "3 C")]),
        ("tailgate 12.5; humidity 70", [("tailgate", SURFACE, "12.5 C"), ("air", DAMP, "70 %")]),
        (
            "surface 14.5, air 16 and 62 %",
            [("panel", SURFACE, "14.5 C"), ("air", AIR, "16 C"), ("air", DAMP, "62 %")],
        ),
        ("new lamp 40", [("new lamp", SURFACE, "40 C")]),
    ],
)
def test_a_line_says_what_was_read_and_where(line: str, values: list[tuple[str, str, str]]) -> None:
    assert [(value.place, value.quantity, value.text) for value in in_line(line, "C")] == values


def test_a_bare_number_has_the_reader_s_unit() -> None:
    assert in_line("58", "F")[0].text == "58 F"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("", "nothing was typed"),
        ("cold", "“cold” isn't a reading"),
        ("14.5 kg", "“kg” isn't a reading"),
        ("14.5 16", "the same thing is there twice"),
    ],
)
def test_a_line_with_anything_else_says_how_to_write_it(line: str, words: str) -> None:
    with pytest.raises(ReadingError, match=words) as caught:
        in_line(line, "C")
    assert "type a number, like 14.5" in str(caught.value)


def test_values_stand_under_their_places() -> None:
    assert by_place(in_line("14 air 16 62 %", "C")) == {
        "panel": {SURFACE: "14 C"},
        "air": {AIR: "16 C", DAMP: "62 %"},
    }


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_in_words(line: str) -> None:
    try:
        assert in_line(line, "C")
    except ReadingError as error:
        assert error.fix  # noqa: PT017
