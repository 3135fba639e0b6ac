"""A data logger's file: what is found in it, what is refused, twice is once."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import ReadingError
from curewatch.store import Store
from sensors.csvfile import read_logger

DUBLIN = ZoneInfo("Europe/Dublin")
PLAIN = """time,Temperature (°C),Humidity (%)
2025-10-20T18:00:00Z,14.2,68
2025-10-20T18:10:00Z,14.0,69
"""


def test_columns_and_times_are_found() -> None:
    found = read_logger(PLAIN, "log.csv", "air")
    assert found.time_column == "time"
    assert [(each.name, each.quantity, each.unit) for each in found.columns] == [
        ("Temperature (°C)", "air_temperature", "C"),
        ("Humidity (%)", "relative_humidity", "%"),
    ]
    assert [each.value for each in found.readings] == [14.2, 68.0, 14.0, 69.0]
    assert found.readings[0].at == datetime(2025, 10, 20, 18, tzinfo=UTC)
    assert (found.refused, found.refused_count) == ((), 0)


def test_semicolons_commas_fahrenheit_and_a_preamble_are_read() -> None:
    text = (
        "\ufeffLogger 12\n\nNo;Date time;Panel temp °F;Battery\n"
        "1;2025/10/20 18:00;57,56;3,1\n2;2025/10/20 18:10;50;3,1\n"
    )
    found = read_logger(text, "log.csv", "panel", ZoneInfo("Etc/GMT-2"))
    assert [(each.quantity, each.unit) for each in found.columns] == [("surface_temperature", "F")]
    assert [each.value for each in found.readings] == pytest.approx([14.2, 10.0])
    assert found.readings[0].at == datetime(2025, 10, 20, 16, tzinfo=UTC)


def test_the_hour_that_comes_twice_in_autumn_is_told_apart_by_the_order_of_lines() -> None:
    times = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]
    lines = [f"2025-10-26 {time},14" for time in times]
    found = read_logger("time,temperature\n" + "\n".join(lines), "log.csv", "air", DUBLIN)
    start = datetime(2025, 10, 25, 23, 30, tzinfo=UTC)
    minutes = [(each.at - start).total_seconds() / 60 for each in found.readings]
    assert minutes == [0, 30, 60, 90, 120, 150]


def test_the_same_file_twice_is_stored_once(tmp_path: Path) -> None:
    store = Store(tmp_path / "curewatch.db")
    assert store.add_readings(read_logger(PLAIN, "log.csv", "air").readings) == 4
    assert store.add_readings(read_logger(PLAIN, "log.csv", "air").readings) == 0
    store.close()


def test_a_bad_line_is_named_and_the_others_are_taken() -> None:
    text = PLAIN + "2025-10-20T18:20:00Z,warm,140\nsoon,1,2\n2025-10-20T18:30:00Z,13\n"
    found = read_logger(text, "log.csv", "air")
    assert len(found.readings) == 5
    assert found.refused_count == 4
    assert found.refused[0].startswith("line 4: Temperature (°C): 'warm' is no number")
    assert found.refused[1] == "line 4: humidity 140 is outside 0..100 %; check the sensor."
    assert found.refused[2].startswith("line 5: 'soon' is no time")
    assert found.refused[3].startswith("line 6: Humidity (%): '' is no number")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "log.csv: no column holds times like 2025-10-20 18:00:00"),
        ("time,temperature\n20.10.2025 18:00,14\n", "let the logger write year, month, day"),
        ("2025-10-20T18:00:00Z,14\n", "log.csv: no line names the columns"),
        ("time,colour\n2025-10-20T18:00:00Z,red\n", "no column seems to be a temperature"),
        ("time,temperature\n2025-10-20 18:00,14\n", "has no zone; say the logger's time zone"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(text: str, sentence: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read_logger(text, "log.csv", "air")
    assert sentence in str(caught.value)


@given(st.text(max_size=300) | st.text('0123456789-:T,;. \n"Ztemp', max_size=300))
def test_any_text_gives_a_file_or_a_sentence(text: str) -> None:
    try:
        found = read_logger("time,temperature\n2025-10-20T18:00:00Z,1\n" + text, "x", "air")
    except ReadingError as error:
        assert error.fix  # noqa: PT017
    else:
        assert found.readings or found.refused
