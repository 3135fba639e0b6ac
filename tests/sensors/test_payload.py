"""What a sensor may send, and the sentence for what it may not."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.climate.reading import LIMITS
from curewatch.errors import ReadingError
from curewatch.settings.settings import Mapping
from sensors.payloads.decode import attempt, decode, resolve
from sensors.payloads.timestamps import instant

NOW = datetime(2025, 10, 20, 18, 0, tzinfo=UTC)
SURFACE = "curewatch/panel/surface_temperature"
HUMIDITY = "curewatch/air/relative_humidity"


@pytest.mark.parametrize(
    ("topic", "payload", "value"),
    [
        (SURFACE, b"14.2", 14.2),
        (SURFACE, b" 14.2\r\n", 14.2),
        (SURFACE, b"14,2", 14.2),
        (SURFACE, b"-3", -3.0),
        (SURFACE, b"+1.42e1", 14.2),
        (SURFACE, b"50 F", 10.0),
        (SURFACE, b"287.35 K", 14.2),
        (SURFACE, b"14.2\0", 14.2),
        (SURFACE, b"\xef\xbb\xbf14.2", 14.2),
        (HUMIDITY, b"68", 68.0),
        (HUMIDITY, b"68 %", 68.0),
    ],
)
def test_a_bare_number_needs_no_setup(topic: str, payload: bytes, value: float) -> None:
    (reading,) = decode(topic, payload, NOW)
    assert reading.value == pytest.approx(value, abs=1e-9)
    assert (reading.place, reading.quantity) == tuple(topic.split("/")[1:])
    assert (reading.at, reading.source, reading.flag) == (NOW, topic, None)


@pytest.mark.parametrize(
    ("topic", "payload", "sentence"),
    [
        (SURFACE, b"warm", "'warm' is not a number; send a bare number like 14.2."),
        (SURFACE, b"", "'' is not a number"),
        (SURFACE, b"NaN", "'NaN' is not a finite number; check the sensor."),
        (SURFACE, b"-inf", "'-inf' is not a finite number"),
        (SURFACE, b"1e309", "'1e309' is not a finite number"),
        (SURFACE, b"200", "surface temperature 200 C is outside -50..90 C"),
        (SURFACE, b"200 C", "'200 C' is outside -60..150 C"),
        (SURFACE, b"14.2 bar", "'14.2 bar' has the unknown unit 'bar'"),
        (SURFACE, b"1_4", "has the unknown unit"),
        (SURFACE, "１４".encode(), "is not a number"),
        (SURFACE, b"\xff\x00", "a payload of 2 bytes is not text"),
        (SURFACE, b"1" * 2_000_000, "a payload of 2,000,000 bytes is longer than 65,536"),
        (HUMIDITY, b"140", "humidity 140 is outside 0..100 %; check the sensor."),
        (HUMIDITY, b"-1", "humidity -1 is outside 0..100 %"),
        ("curewatch/The Panel/air_temperature", b"1", "'The Panel' is not a name for a place"),
        ("curewatch//air_temperature", b"1", "'' is not a name for a place"),
        ("curewatch/panel/pressure", b"1", "'pressure' is not a quantity curewatch knows"),
        ("garage/probe", b"1", "no mapping fits the topic 'garage/probe'; publish on curewatch/"),
        ("curewatch/panel", b"1", "no mapping fits the topic"),
    ],
)
def test_a_bad_message_is_refused_in_a_sentence(topic: str, payload: bytes, sentence: str) -> None:
    with pytest.raises(ReadingError) as caught:
        decode(topic, payload, NOW)
    assert sentence in str(caught.value)
    assert caught.value.fix


def mapping(pointer: str = "/t", unit: str = "C", time: str | None = None) -> Mapping:
    quantity = "relative_humidity" if unit in ("%", "fraction") else "surface_temperature"
    return Mapping("garage/+/state", pointer, unit, "panel", quantity, time)


@pytest.mark.parametrize(
    ("payload", "rule", "value"),
    [
        ('{"t": 14.2}', mapping(), 14.2),
        ('{"t": "14.2"}', mapping(), 14.2),
        ('{"t": 14}', mapping(), 14.0),
        ('{"a": [{"b/c": {"~": 58}}]}', mapping("/a/0/b~1c/~0", "F"), 14.444444444),
        ('{"": {"": 14.2}}', mapping("//"), 14.2),
        ('{"t": 287.35}', mapping(unit="K"), 14.2),
        ('{"h": 0.68}', mapping("/h", "fraction"), 68.0),
        ('{"h": 68}', mapping("/h", "%"), 68.0),
        ("14.2", mapping(""), 14.2),
        ("+14,2", mapping(""), 14.2),
        ("[14.2, 15]", mapping("/0"), 14.2),
        ('{"t": "14,5 °C"}', mapping(unit="F"), 14.5),
        ("58 °F", mapping(""), 130 / 9),
        ('{"h": "62 %"}', mapping("/h", "fraction"), 62.0),
    ],
)
def test_a_mapping_finds_the_value_and_its_unit(payload: str, rule: Mapping, value: float) -> None:
    (reading,) = decode("garage/3/state", payload.encode(), NOW, [rule])
    assert reading.value == pytest.approx(value, abs=1e-9)
    assert (reading.place, reading.quantity) == (rule.place, rule.quantity)


@pytest.mark.parametrize(
    ("payload", "rule", "sentence"),
    [
        ('{"t": ', mapping(), "is not valid JSON"),
        ("[" * 60_000, mapping(), "is not valid JSON"),
        ('{"x": 1}', mapping(), "there is nothing at '/t' in the payload"),
        ('{"t": true}', mapping(), "the value at '/t' is true, no number"),
        ('{"t": null}', mapping(), "the value at '/t' is null, no number"),
        ('{"t": {}}', mapping(), "the value at '/t' is an object, no number"),
        ('{"t": "warm"}', mapping(), "the value at '/t' is 'warm', no number"),
        ('{"t": NaN}', mapping(), "'NaN' is not a finite number"),
        ('{"t": 1e309}', mapping(), "the value at '/t' is not a finite number"),
        ('{"t": ' + "9" * 400 + "}", mapping(), "the value at '/t' is not a finite number"),
        ('{"t": ' + "9" * 5000 + "}", mapping(), "is not valid JSON"),
        ('{"h": 1.4}', mapping("/h", "fraction"), "humidity 1.4 is outside 0..1"),
        ('{"t": 400}', mapping(unit="F"), "surface temperature 204.444 C is outside"),
        ("[1, 2]", mapping("/01"), "there is nothing at '/01'"),
        ("[1, 2]", mapping("/-"), "there is nothing at '/-'"),
        ("[1, 2]", mapping("/2"), "there is nothing at '/2'"),
        ("NaN", mapping(""), "'NaN' is not a finite number"),
    ],
)
def test_a_mapping_that_finds_nothing_says_why(payload: str, rule: Mapping, sentence: str) -> None:
    with pytest.raises(ReadingError) as caught:
        decode("garage/3/state", payload.encode(), NOW, [rule])
    assert sentence in str(caught.value)


def test_one_bad_value_does_not_cost_the_good_ones_beside_it() -> None:
    rules = [mapping("/t"), mapping("/h", "%")]
    good, bad = attempt("garage/3/state", b'{"t": 14.2, "h": 140}', NOW, rules)
    assert [reading.value for reading in good] == [14.2]
    assert [error.what for error in bad] == ["humidity 140 is outside 0..100 %"]


def test_only_the_mappings_of_the_topic_are_used() -> None:
    elsewhere = Mapping("other/#", "/t", "C", "air", "air_temperature")
    (reading,) = decode("other/deep/down", b'{"t": 5}', NOW, [mapping(), elsewhere])
    assert (reading.place, reading.value) == ("air", 5.0)


# RFC 6901, section 5: the document and what its pointers evaluate to.
RFC6901 = {
    "foo": ["bar", "baz"],
    "": 0,
    "a/b": 1,
    "c%d": 2,
    "e^f": 3,
    "g|h": 4,
    "i\\j": 5,
    'k"l': 6,
    " ": 7,
    "m~n": 8,
}


@pytest.mark.parametrize(
    ("pointer", "found"),
    [
        ("", RFC6901),
        ("/foo", ["bar", "baz"]),
        ("/foo/0", "bar"),
        ("/", 0),
        ("/a~1b", 1),
        ("/c%d", 2),
        ("/e^f", 3),
        ("/g|h", 4),
        ("/i\\j", 5),
        ('/k"l', 6),
        ("/ ", 7),
        ("/m~0n", 8),
    ],
)
def test_pointers_find_what_rfc_6901_section_5_says(pointer: str, found: object) -> None:
    assert resolve(RFC6901, pointer) == found


def test_a_tilde_escape_is_undone_once() -> None:
    assert resolve({"~1": "kept"}, "/~01") == "kept"


@pytest.mark.parametrize(
    ("sent", "utc"),
    [
        ("2025-10-20T17:58:00Z", "17:58:00"),
        ("2025-10-20t19:58:00.5+02:00", "17:58:00.500000"),
        ("2025-10-20 17:58:00-00:00", "17:58:00"),
        (1760983080, "17:58:00"),
        (1760983080.25, "17:58:00.250000"),
        (1760983080000, "17:58:00"),
        ("1760983080", "17:58:00"),
    ],
)
def test_a_sensor_may_send_its_own_time(sent: object, utc: str) -> None:
    payload = json.dumps({"t": 14.2, "at": sent}).encode()
    (reading,) = decode("garage/3/state", payload, NOW, [mapping(time="/at")])
    assert reading.at == datetime.fromisoformat(f"2025-10-20T{utc}+00:00")


@pytest.mark.parametrize(
    ("sent", "sentence"),
    [
        ("2025-10-20T17:58:00", "has no zone; let it send Z"),
        ("2025-10-20", "is not a time; send RFC 3339 or Unix seconds"),
        ("yesterday", "the value 'yesterday' is not a time"),
        (None, "is not a time"),
        (True, "is not a time"),
        ("2025-10-20T18:20:00Z", "is ahead of its arrival; set the sensor's clock"),
        (
            "2025-10-20T19:00:00Z",
            "ahead of its arrival; set the sensor's time zone: it is 1 h ahead",
        ),
        ("2025-10-20T23:30:20Z", "set the sensor's time zone: it is 5.5 h ahead"),
        ("2025-11-20T18:00:00Z", "is ahead of its arrival; set the sensor's clock"),
        (12, "1970-01-01 00:00:12 UTC is before the year 2000; set the sensor's clock"),
        (1e300, "is not a Unix time"),
        ("0001-01-01T00:00:00+23:00", "is not a time"),
    ],
)
def test_a_time_that_cannot_be_is_refused(sent: object, sentence: str) -> None:
    with pytest.raises(ReadingError) as caught:
        instant(sent, NOW)
    assert sentence in str(caught.value)


def test_two_probes_on_one_topic_are_two_sensors_and_other_values_of_it_are_not() -> None:
    payload = b'{"in": 14.2, "out": 15.0, "rh": 61}'
    probe = mapping("/in")
    beside = [replace(mapping("/out"), place="air"), mapping("/rh", "%")]
    both = attempt("garage/3/state", payload, NOW, [probe, *beside])[0]
    assert [reading.source for reading in both] == [
        "garage/3/state /in", "garage/3/state /out", "garage/3/state"
    ]  # fmt: skip
    alone = attempt("garage/3/state", payload, NOW, [probe, beside[1]])[0]
    assert {reading.source for reading in alone} == {"garage/3/state"}
    twice = attempt("garage/3/state", payload, NOW, [probe, replace(probe, place="shelf")])[0]
    assert {reading.source for reading in twice} == {"garage/3/state"}


leaves = st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=20)
documents = st.recursive(
    leaves, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner)
)


@given(
    st.binary(max_size=300) | documents.map(lambda each: json.dumps(each).encode()),
    st.sampled_from([SURFACE, HUMIDITY, "garage/1/state", "x"]),
    st.sampled_from(["", "/t", "/0", "/a/b"]),
)
def test_any_bytes_give_checked_readings_or_a_sentence(
    payload: bytes, topic: str, pointer: str
) -> None:
    rules = [mapping(pointer), mapping(pointer, "%", time="/0")]
    good, bad = attempt(topic, payload, NOW, rules)
    for reading in good:
        low, high = LIMITS[reading.quantity]
        assert low <= reading.value <= high
        assert reading.at.tzinfo is UTC
    for error in bad:
        assert isinstance(error, ReadingError)
        assert str(error).endswith(".")
    assert good or bad


@given(st.floats(-50, 90))
def test_a_number_comes_back_as_it_was_sent(value: float) -> None:
    (reading,) = decode(SURFACE, repr(value).encode(), NOW)
    assert math.isclose(reading.value, value, abs_tol=1e-9)
