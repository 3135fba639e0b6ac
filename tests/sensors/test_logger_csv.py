"""A data logger's file: what is found in it, what is refused, twice is once."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from freezegun import freeze_time
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import ReadingError
from curewatch.store.store import Store
from sensors.manual.csv_options import FileOptions, Unclear
from sensors.manual.csv_table import decoded
from sensors.manual.logger_csv import LoggerFile, read_logger
from tests.conftest import Run

DUBLIN = ZoneInfo("Europe/Dublin")
FAR = datetime(2100, 1, 1, tzinfo=UTC)


def read(
    text: str,
    name: str = "log.csv",
    place: str = "air",
    zone: tzinfo | None = None,
    dates: str | None = None,
    only: Sequence[str] = (),
    now: datetime = FAR,
) -> LoggerFile:
    """What a file holds, long after it was written."""
    return read_logger(text, name, place, FileOptions(zone, dates, tuple(only)), now=now)


PLAIN = """time,Temperature (°C),Humidity (%)
2025-10-20T18:00:00Z,14.2,68
2025-10-20T18:10:00Z,14.0,69
"""


def test_columns_and_times_are_found() -> None:
    log_file = read(PLAIN, "log.csv", "air")
    assert log_file.time_column == "time"
    assert [(column.name, column.quantity, column.unit) for column in log_file.columns] == [
        ("Temperature (°C)", "air_temperature", "C"),
        ("Humidity (%)", "relative_humidity", "%"),
    ]
    assert [reading.value for reading in log_file.readings] == [14.2, 68.0, 14.0, 69.0]
    assert log_file.readings[0].at == datetime(2025, 10, 20, 18, tzinfo=UTC)
    assert (log_file.refused, log_file.refused_count) == ((), 0)


def test_semicolons_commas_fahrenheit_and_a_preamble_are_read() -> None:
    text = (
        "\ufeffLogger 12\n\nNo;Date time;Panel temp °F;Battery\n"
        "1;2025/10/20 18:00;57,56;3,1\n2;2025/10/20 18:10;50;3,1\n"
    )
    log_file = read(text, "log.csv", "panel", ZoneInfo("Etc/GMT-2"))
    assert [(column.quantity, column.unit) for column in log_file.columns] == [
        ("surface_temperature", "F")
    ]
    assert [reading.value for reading in log_file.readings] == pytest.approx([14.2, 10.0])
    assert log_file.readings[0].at == datetime(2025, 10, 20, 16, tzinfo=UTC)


def test_the_hour_that_comes_twice_in_autumn_is_told_apart_by_the_order_of_lines() -> None:
    times = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]
    lines = [f"2025-10-26 {time},14" for time in times]
    log_file = read("time,temperature\n" + "\n".join(lines), "log.csv", "air", DUBLIN)
    start = datetime(2025, 10, 25, 23, 30, tzinfo=UTC)
    minutes = [(reading.at - start).total_seconds() / 60 for reading in log_file.readings]
    assert minutes == [0, 30, 60, 90, 120, 150]


def test_the_same_file_twice_is_stored_once(tmp_path: Path) -> None:
    store = Store(tmp_path / "curewatch.db")
    assert store.add_readings(read(PLAIN, "log.csv", "air").readings) == 4
    assert store.add_readings(read(PLAIN, "log.csv", "air").readings) == 0
    store.close()


def test_a_bad_line_is_named_and_the_others_are_taken() -> None:
    text = PLAIN + "2025-10-20T18:20:00Z,warm,140\nsoon,1,2\n2025-10-20T18:30:00Z,13\n"
    log_file = read(text, "log.csv", "air")
    assert len(log_file.readings) == 5
    assert log_file.refused_count == 3
    assert log_file.refused[0].startswith("line 4: Temperature (°C): 'warm' is not a number")
    assert log_file.refused[1] == "line 4: humidity 140 is outside 0..100 %; check the sensor."
    assert log_file.refused[2].startswith("line 5: 'soon' is not a time")
    assert log_file.empty == 1


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "log.csv: no column has times like 2025-10-20 18:00:00"),
        ("time,temperature\n20th of May,14\n", "let the logger write date and time like this"),
        ("2025-10-20T18:00:00Z,14\n", "log.csv: no line names the columns"),
        ("time,colour\n2025-10-20T18:00:00Z,red\n", "no column seems to be a temperature"),
        (
            "time,temperature\n2025-10-20 18:00,14\n",
            "has no zone; give the logger's time zone, like",
        ),
    ],
)
def test_a_file_that_cannot_be_read_says_why(text: str, sentence: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read(text, "log.csv", "air")
    assert sentence in str(caught.value)


def written(*times: str, delimiter: str = ",") -> str:
    """A file with one temperature a line at these times."""
    lines = [f"{time}{delimiter}14.2" for time in times]
    return "\n".join([f"time{delimiter}temperature (°C)", *lines])


@pytest.mark.parametrize(
    ("times", "dates", "first"),
    [
        (["20.10.2025 18:00", "21.10.2025 18:00"], "dmy", (10, 20, 18)),
        (["3.4.25 18:00:05"], "dmy", (4, 3, 18)),
        (["03/04/2025 18:00", "13/04/2025 18:00"], "dmy", (4, 3, 18)),
        (["03/04/2025 18:00", "03/13/2025 18:00"], "mdy", (3, 4, 18)),
        (["04-03-2025 18:00", "04-30-2025 18:00"], "mdy", (4, 3, 18)),
        (["05/05/2025 6:00 PM", "05/05/2025 6:10 PM"], "dmy", (5, 5, 18)),
        (["10/20/2025 12:05 a.m."], "mdy", (10, 20, 0)),
        (["2025/10/20 18:00"], "ymd", (10, 20, 18)),
    ],
)
def test_the_order_of_dates_is_taken_from_the_file_where_only_one_will_do(
    times: list[str], dates: str, first: tuple[int, int, int]
) -> None:
    log_file = read(written(*times, delimiter=";"), "log.csv", "air", ZoneInfo("UTC"))
    at = log_file.readings[0].at
    assert (log_file.dates, (at.month, at.day, at.hour)) == (dates, first)
    assert at.year == 2025


def test_a_date_in_one_column_and_its_time_in_the_next_are_one_time() -> None:
    text = "No,Date,Time,Temperature (°C)\n1,20.10.2025,18:00:30,14.2\n2,20.10.2025,18:10:30,14\n"
    log_file = read(text, "log.csv", "air", ZoneInfo("UTC"))
    assert [reading.value for reading in log_file.readings] == [14.2, 14.0]
    assert log_file.readings[1].at == datetime(2025, 10, 20, 18, 10, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("times", "told", "sentence"),
    [
        (["03/04/2025 18:00"], None, "log.csv: '03/04/2025' can be read with the day or the "
                                     "month first, and no line shows which; add --dates dmy or "
                                     "--dates mdy."),
        (["13/04/2025 18:00", "04/13/2025 18:00"], None, "log.csv: '13/04/2025' has the day first, "
         "'04/13/2025' the month; let the logger write all dates alike."),
        (["13/04/2025 18:00"], "mdy", "log.csv: '13/04/2025' is not a date of month, day, year; "
         "leave out --dates."),
    ],
)  # fmt: skip
def test_dates_that_can_be_read_two_ways_are_asked_for(
    times: list[str], told: str | None, sentence: str
) -> None:
    with pytest.raises(ReadingError) as caught:
        read(written(*times), "log.csv", "air", ZoneInfo("UTC"), told)
    assert str(caught.value) == sentence


@given(
    st.lists(st.integers(0, 3_000_000_000), min_size=1, max_size=8, unique=True),
    st.sampled_from([("dmy", "%d/%m/%Y %H:%M:%S"), ("mdy", "%m/%d/%Y %H:%M:%S")]),
)
def test_an_order_is_never_guessed_wrong_and_always_taken_when_told(
    seconds: list[int], order: tuple[str, str]
) -> None:
    typed_order, form = order
    wanted = [datetime(2001, 1, 1, tzinfo=UTC) + timedelta(seconds=second) for second in seconds]
    text = written(*(moment.strftime(form) for moment in wanted))
    log_file = read(text, "x", "air", ZoneInfo("UTC"), typed_order)
    assert [reading.at for reading in log_file.readings] == wanted
    try:
        guessed = read(text, "x", "air", ZoneInfo("UTC"))
    except ReadingError as error:
        assert "--dates" in str(error)  # noqa: PT017
    else:
        assert [reading.at for reading in guessed.readings] == wanted


SHAPES = {
    "zone in the name": (
        '"#","Date Time, GMT+02:00","Temp, °C (LGR S/N: 123)","RH, % (LGR S/N: 123)"\n'
        '1,"10/20/25 08:00:00 PM",14.2,68\n'
    ),
    "short names": "Date;Time;T;RH\n20.10.2025;19:00;14,2;68\n",
    "German": "Datum;Zeit;Temperatur [°C];Luftfeuchte [%]\n20.10.2025;19:00;14,2;68\n",
    "Unix seconds": "timestamp,temp_c,humidity\n1760983200,14.2,68\n",
    "Unix milliseconds": "id,ts,temp_c,humidity\n7,1760983200000,14.2,0.68\n",
    "a dew point and a serial number beside it": (
        "Time,Celsius(°C),Humidity(%rh),Dew Point(°C),Serial\n20/10/2025 19:00:00,14.2,68,8,1001\n"
    ),
    "Fahrenheit": "Timestamp,Temperature_Fahrenheit,RH\n2025-10-20 19:00:00,57.56,68\n",
    "channels": "Date/Time\tChannel 1 (C)\tChannel 2 (%RH)\n2025-10-20 19:00\t14.2\t68\n",
    "units in the cells": "time,temp,hum\n20251020T180000Z,57.56 °F,68 %\n",
    "a serial number like a Unix time above": (
        "Serial;1234567890\n\ntime;temperature;humidity\n2025-10-20T18:00:00Z;14.2;68\n"
    ),
    "the first line with a gap": (
        "time,temp,hum\n2025-10-20T17:50:00Z,,\n2025-10-20T18:00:00Z,14.2,68\n"
    ),
}


@pytest.mark.parametrize("text", SHAPES.values(), ids=SHAPES)
def test_the_usual_files_of_loggers_are_read(text: str) -> None:
    log_file = read(text, "log.csv", "air", DUBLIN)
    assert [(reading.quantity, round(reading.value, 6)) for reading in log_file.readings] == [
        ("air_temperature", 14.2),
        ("relative_humidity", 68.0),
    ]
    assert {reading.at for reading in log_file.readings} == {datetime(2025, 10, 20, 18, tzinfo=UTC)}


def test_columns_that_are_not_taken_are_shown() -> None:
    text = "Date,Time,T,Dew Point(°C),Colour\n2025-10-20,18:00,14.2,8,red\n"
    assert read(text, "log.csv", "air", DUBLIN).others == ("Dew Point(°C)", "Colour")


def test_two_columns_of_one_kind_are_never_mixed_up() -> None:
    text = "time,outdoor temp,bench temp\n2025-10-20T18:00:00Z,7,14.2\n"
    with pytest.raises(ReadingError, match=r"both seem to be the air temperature; .*--column NAME"):
        read(text, "log.csv", "air")
    (reading,) = read(text, "log.csv", "air", only=["bench temp"]).readings
    assert reading.value == 14.2
    with pytest.raises(
        ReadingError, match=r"no column 'colour'; it has 'time', 'outdoor temp', 'bench"
    ):
        read(text, "log.csv", "air", only=["colour"])


def series(title: str, *values: str, header: str = "time") -> str:
    """A file with one value every ten minutes."""
    start = datetime(2025, 10, 20, 18, tzinfo=UTC)
    times = [start + timedelta(minutes=10 * n) for n in range(len(values))]
    lines = [f"{at:%Y-%m-%dT%H:%M:%SZ},{value}" for at, value in zip(times, values, strict=True)]
    return "\n".join([f"{header},{title}", *lines])


COLD_C = [f"{14 + n / 10:.1f}" for n in range(19)]
WARM_F = [f"{57 + n / 10:.1f}" for n in range(19)]


@pytest.mark.parametrize(
    ("title", "values", "unit", "second"),
    [
        ("temperature", ["120", *COLD_C], "C", 14.0),
        ("temperature", ["14.0", *COLD_C[:-2], "999", "-999"], "C", 14.0),
        ("temperature", ["-40", *WARM_F], "F", 13.8889),
        ("temperature", ["0", *(f"{287 + n / 10:.1f}" for n in range(19))], "K", 13.85),
        ("temp_f", ["20", *(["20.0"] * 19)], "F", -6.6667),
        ("humidity", ["0", *(["0.68"] * 19)], "fraction", 68.0),
        ("humidity", ["1", *(["68"] * 19)], "%", 68.0),
    ],
)
def test_the_whole_column_tells_its_unit_and_an_error_code_nothing(
    title: str, values: list[str], unit: str, second: float
) -> None:
    log_file = read(series(title, *values))
    assert [column.unit for column in log_file.columns] == [unit]
    at = datetime(2025, 10, 20, 18, 10, tzinfo=UTC)
    assert [e.value for e in log_file.readings if e.at == at] == [pytest.approx(second, abs=1e-4)]


def test_a_column_that_could_be_in_either_unit_is_asked_about() -> None:
    text = series("temperature", *(f"{36 + n / 2:.1f}" for n in range(20)))
    with pytest.raises(Unclear, match=r"could be °C or °F; add --unit C") as caught:
        read(text)
    assert (caught.value.option, caught.value.choices) == ("unit", ("C", "F"))
    log_file = read_logger(text, "log.csv", "air", FileOptions(unit="F"), now=FAR)
    assert log_file.readings[0].value == pytest.approx(2.2222, abs=1e-4)


@pytest.mark.parametrize(
    "text",
    [
        'time,temp,hum\n"1",2025-10-20 18:00,14.2,68\n"2",2025-10-20 18:10,14.0,69\n',
        "temp,hum\n2025-10-20 18:00,14.2,68\n2025-10-20 18:10,14.0,69\n",
        "date,time,temp,hum\n1,2025-10-20,18:00,14.2,68\n2,2025-10-20,18:10,14.0,69\n",
        "time,temp,hum\n2025-10-20 18:00,14.2,68,\n2025-10-20 18:10,14.0,69,\n",
        "time,temp,hum\n2025-10-20 18:00,14.2,68,ok\n2025-10-20 18:10,14.0,69,ok\n",
    ],
    ids=["row names", "times as row names", "two columns of time", "a last comma", "a last cell"],
)
def test_a_line_of_names_that_is_one_short_shifts_nothing(text: str) -> None:
    log_file = read(text, zone=UTC)
    assert [(reading.quantity, reading.value) for reading in log_file.readings] == [
        ("air_temperature", 14.2),
        ("relative_humidity", 68.0),
        ("air_temperature", 14.0),
        ("relative_humidity", 69.0),
    ]


def test_names_that_may_belong_to_either_column_are_asked_for() -> None:
    text = "temp,hum,when\n14.2,2025-10-20 18:00,68,1\n14.0,2025-10-20 18:10,69,1\n"
    with pytest.raises(ReadingError, match="names 3 columns, the lines below have 4; add"):
        read(text, zone=UTC)


LONG = "time,device,temperature,battery\n" + "".join(
    f"2025-10-20T{hour:02}:00:00Z,{device},{14 + hour / 10 + shift},3\n"
    for hour in range(10)
    for device, shift in (("attic", 0), ("bench", 2), ("door", 5))
)


def test_several_sensors_under_one_time_are_told_apart_by_the_column_that_names_them() -> None:
    with pytest.raises(Unclear, match=r"like --rows 'device=attic'") as caught:
        read(LONG)
    assert caught.value.choices == ("device=attic", "device=bench", "device=door")
    log_files = [
        read_logger(LONG, "log.csv", "air", FileOptions(rows=choice), now=FAR)
        for choice in caught.value.choices
    ]
    assert [
        (log_file.readings[0].value, len(log_file.readings), log_file.repeated)
        for log_file in log_files
    ] == [
        (14.0, 10, 0),
        (16.0, 10, 0),
        (19.0, 10, 0),
    ]
    assert len({log_file.readings[0].source for log_file in log_files}) == 3
    with pytest.raises(ReadingError, match=r"no line has 'roof' .* it has attic, bench, door"):
        read_logger(LONG, "log.csv", "air", FileOptions(rows="device=roof"), now=FAR)


def test_values_whose_time_came_before_with_another_one_are_counted() -> None:
    text = "time,temperature\n" + "2025-10-20T18:00:00Z,14\n2025-10-20T18:00:00Z,15\n" * 3
    log_file = read(text)
    assert ([reading.value for reading in log_file.readings], log_file.repeated) == ([14.0], 3)


def test_a_column_that_the_user_names_is_taken_whatever_its_name() -> None:
    text = "time,T6,Q\n2025-10-20T18:00:00Z,14.2,68\n2025-10-20T18:10:00Z,14.0,69\n"
    (first, _) = read(text, only=["T6"]).readings
    assert (first.quantity, first.value) == ("air_temperature", 14.2)
    options = FileOptions(columns=("Q",), quantity="relative_humidity")
    log_file = read_logger(text, "log.csv", "air", options, now=FAR)
    assert {reading.quantity for reading in log_file.readings} == {"relative_humidity"}
    with pytest.raises(ReadingError, match="'colour' has no numbers"):
        read("time,colour,T\n2025-10-20T18:00:00Z,red,1\n", only=["colour"])


def test_empty_cells_are_counted_and_not_refused() -> None:
    log_file = read(series("temperature", "14.2", "", "NaN", "NA", "-", "null", "14.0"))
    assert [reading.value for reading in log_file.readings] == [14.2, 14.0]
    assert (log_file.empty, log_file.refused_count) == (5, 0)


def test_lines_of_the_future_are_refused_with_their_number() -> None:
    now = datetime(2025, 10, 20, 18, 15, tzinfo=UTC)
    text = series("temperature", "14", "15", "16") + "\n2030-01-01T00:00:00Z,35\n"
    log_file = read(text, now=now)
    assert [reading.value for reading in log_file.readings] == [14.0, 15.0, 16.0]
    (sentence,) = log_file.refused
    assert sentence.startswith("line 5: '2030-01-01T00:00:00Z' is in the future; check the log")
    assert [reading.value for reading in read(text, now=now - timedelta(seconds=1)).readings] == [
        14,
        15,
    ]


def test_a_day_and_month_mixed_up_into_the_future_store_nothing(run: Run, tmp_path: Path) -> None:
    with freeze_time("2025-04-20T12:00:00Z"):
        file = tmp_path / "log.csv"
        file.write_text(written("03/12/2025 18:00", "03/11/2025 18:00"))
        words = ("reading", "import", str(file), "--zone", "Europe/Vienna", "--yes", "--dates")
        code, out, err = run(*words, "dmy")
        assert (code, out.count("is in the future")) == (2, 2)
        assert err == "curewatch: log.csv: no reading can be taken; see the lines above.\n"
        assert run(*words, "mdy")[1].endswith(
            "2 stored for air; 0 were there already, by name and time.\n"
        )


class FakeTerminal(io.StringIO):
    """Standard input where somebody answers."""

    def isatty(self) -> bool:
        """It is a terminal."""
        return True


def test_what_a_file_leaves_open_is_asked_on_a_terminal(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "log.csv"
    file.write_text(LONG.replace("Z,", ","))
    monkeypatch.setattr("sys.stdin", FakeTerminal("Europe/Vienna\ndevice=bench\ny\n"))
    code, out, err = run("reading", "import", str(file))
    assert (code, "the column 'device' tells them apart" in err) == (0, True)
    assert "10 stored for air" in out


def test_without_a_terminal_nothing_is_asked_and_what_to_pass_is_said(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "log.csv"
    file.write_text(LONG)
    monkeypatch.setattr("sys.stdin", io.StringIO("device=attic\ny\n"))
    code, _, err = run("reading", "import", str(file))
    assert (code, err.count("\n"), "--rows 'device=attic'" in err) == (2, 1, True)
    code, out, err = run("reading", "import", str(file), "--rows", "device=attic")
    assert (code, "10 readings" in out) == (2, True)
    assert err == "curewatch: nothing is stored yet; add --yes to store these readings.\n"


def test_a_dash_reads_standard_input(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    for new, there in ((4, 0), (0, 4)):
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(PLAIN.encode())))
        code, out, _ = run("reading", "import", "-", "--yes")
        assert (code, f"{new} stored for air; {there} were" in out) == (0, True)


def test_a_file_that_has_grown_adds_only_what_is_new(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    file.write_text(PLAIN)
    run("reading", "import", str(file), "--yes")
    file.write_text(PLAIN + "2025-10-20T18:20:00Z,13.9,70\n")
    _, out, _ = run("reading", "import", str(file), "--yes", "--column", "Temperature (°C)")
    assert "1 stored for air; 2 were there already" in out


def test_files_as_windows_wrote_them_are_read() -> None:
    assert decoded(PLAIN.encode("cp1252")) == PLAIN
    assert decoded(PLAIN.encode("utf-16")) == PLAIN
    assert decoded(PLAIN.encode("utf-8-sig")) == PLAIN


def test_zone_and_order_are_asked_or_given_and_shown_before_anything_is_stored(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "log.csv"
    file.write_text(written("03/04/2025 18:00"))
    monkeypatch.setattr("sys.stdin", FakeTerminal("Europe/Vienna\nn\n"))
    code, out, err = run("reading", "import", str(file), "--dates", "dmy")
    assert (code, "Whose clock are the file's times?" in err) == (0, True)
    assert "time: time (day, month, year)" in out
    assert "2025-04-03T16:00:00+00:00" in out
    assert "stored" not in out
    code, out, _ = run(
        "reading", "import", str(file), "--dates", "mdy", "--zone", "Europe/Vienna", "--yes"
    )
    assert "2025-03-04T17:00:00+00:00" in out
    assert "1 stored for air" in out
    code, _, err = run("reading", "import", str(file), "--yes")
    assert (code, err.count("\n")) == (2, 1)
    assert "--dates dmy or --dates mdy" in err


@given(st.text(max_size=300) | st.text('0123456789-:T,;. \n"Ztemp', max_size=300))
def test_any_text_gives_a_file_or_a_sentence(text: str) -> None:
    try:
        log_file = read("time,temperature\n2025-10-20T18:00:00Z,1\n" + text, "x", "air")
    except ReadingError as error:
        assert error.fix  # noqa: PT017
    else:
        assert log_file.readings or log_file.refused
