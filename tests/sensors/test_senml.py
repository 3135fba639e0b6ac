"""SenML packs: RFC 8428's own examples, and the sentence for what is no SenML."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import ReadingError
from curewatch.settings.settings import Mapping
from sensors.payloads.decode import attempt, decode
from sensors.payloads.senml import Record, records

NOW = datetime(2025, 10, 20, 18, 0, tzinfo=UTC)
PROBE = "urn:dev:ow:10e2073a01080063"

# RFC 8428 section 5.1.1: one temperature, "roughly now".
ONE = f'[{{"n":"{PROBE}","u":"Cel","v":23.1}}]'
# Section 5.1.2: two values of one device, then a series with base time and base unit.
TWO = f'[{{"bn":"{PROBE}:","n":"voltage","u":"V","v":120.1}},{{"n":"current","u":"A","v":1.2}}]'
SERIES = """[
  {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,
   "n":"voltage","u":"V","v":120.1},
  {"n":"current","t":-5,"v":1.2}, {"n":"current","t":-4,"v":1.3},
  {"n":"current","t":-3,"v":1.4}, {"n":"current","t":-2,"v":1.5},
  {"n":"current","t":-1,"v":1.6}, {"n":"current","v":1.7}]"""
# Section 5.1.3: humidity and position of a moving device.
MOVING = """[
  {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
  {"u":"lon","v":24.30621}, {"u":"lat","v":60.07965},
  {"t":60,"v":20.3}, {"u":"lon","t":60,"v":24.30622}, {"u":"lat","t":60,"v":60.07965},
  {"t":120,"v":20.7}, {"u":"lon","t":120,"v":24.30623}, {"u":"lat","t":120,"v":60.07966},
  {"u":"%EL","t":150,"v":98},
  {"t":180,"v":21.2}, {"u":"lon","t":180,"v":24.30628}, {"u":"lat","t":180,"v":60.07967}]"""
# Section 5.1.4: the same, resolved: unit, Unix time and value of each record.
MOVING_RESOLVED = [
    ("%RH", 1.320067464e09, 20),
    ("lon", 1.320067464e09, 24.30621),
    ("lat", 1.320067464e09, 60.07965),
    ("%RH", 1.320067524e09, 20.3),
    ("lon", 1.320067524e09, 24.30622),
    ("lat", 1.320067524e09, 60.07965),
    ("%RH", 1.320067584e09, 20.7),
    ("lon", 1.320067584e09, 24.30623),
    ("lat", 1.320067584e09, 60.07966),
    ("%EL", 1.320067614e09, 98),
    ("%RH", 1.320067644e09, 21.2),
    ("lon", 1.320067644e09, 24.30628),
    ("lat", 1.320067644e09, 60.07967),
]
# Section 5.1.5: values of several types.
TYPES = f"""[{{"bn":"{PROBE}:","n":"temp","u":"Cel","v":23.1}},
  {{"n":"label","vs":"Machine Room"}}, {{"n":"open","vb":false}},
  {{"n":"nfc-reader","vd":"aGkgCg"}}]"""
# Section 5.1.6: resources of one device.
RESOURCES = """[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":27.2},
  {"n":"humidity","u":"%RH","v":80}]"""


def resolved(text: str) -> list[Record]:
    return records(json.loads(text))


def test_a_single_value_is_of_roughly_now() -> None:
    assert resolved(ONE) == [Record(PROBE, "Cel", 23.1, 0.0)]


def test_the_base_name_stands_before_each_name() -> None:
    assert resolved(TWO) == [
        Record(f"{PROBE}:voltage", "V", 120.1, 0.0),
        Record(f"{PROBE}:current", "A", 1.2, 0.0),
    ]


def test_a_series_counts_from_its_base_time_in_its_base_unit() -> None:
    base = 1.276020076001e09
    voltage, *currents = resolved(SERIES)
    assert (voltage.unit, voltage.value, voltage.time_s) == ("V", 120.1, base)
    assert [current.time_s for current in currents] == [base + step for step in range(-5, 1)]
    assert [current.value for current in currents] == [1.2, 1.3, 1.4, 1.5, 1.6, 1.7]
    assert {current.unit for current in currents} == {"A"}


def test_the_moving_device_resolves_as_the_rfc_says() -> None:
    assert resolved(MOVING) == [
        Record(PROBE, unit, float(value), time_s) for unit, time_s, value in MOVING_RESOLVED
    ]


def test_values_of_other_types_are_kept_apart() -> None:
    assert [record.value for record in resolved(TYPES)] == [23.1, "Machine Room", False, "aGkgCg"]


def test_a_base_value_is_added_and_base_fields_alone_are_no_record() -> None:
    pack = [{"bn": "a", "bv": 20.0, "bu": "Cel"}, {"n": "b", "v": 1.5}, {"n": "c", "t": 1}]
    assert [(record.name, record.value) for record in records(pack)] == [("ab", 21.5), ("ac", 20.0)]


def test_fields_unknown_here_are_ignored_unless_they_must_be_understood() -> None:
    assert len(records([{"n": "a", "v": 1, "colour": "red", "ut": 5}])) == 1
    with pytest.raises(ReadingError, match="record 1: colour_ must be understood, and is not"):
        records([{"n": "a", "v": 1, "colour_": "red"}])


@pytest.mark.parametrize(
    ("pack", "sentence"),
    [
        ([], "the SenML pack is not a list of records"),
        ({}, "the SenML pack is not a list of records"),
        ([3], "SenML record 1: it is not an object"),
        ([{"v": 1}], "SenML record 1: '' is not a SenML name"),
        ([{"n": "-a", "v": 1}], "'-a' is not a SenML name"),
        ([{"n": "a b", "v": 1}], "'a b' is not a SenML name"),
        ([{"n": "a"}], "SenML record 1: it has no value; send one of v, vs, vb, vd"),
        ([{"n": "a", "v": 1, "vs": "b"}], "it has both v and vs"),
        ([{"n": "a", "v": "1"}], "v is not a finite number"),
        ([{"n": "a", "v": 1e999}], "v is not a finite number"),
        ([{"n": "a", "v": 10**400}], "v is not a finite number"),
        ([{"n": "a", "v": True}], "v is not a finite number"),
        ([{"n": 3, "v": 1}], "n is not text"),
        ([{"n": "a", "vb": 1}], "vb is neither true nor false"),
        ([{"n": "a", "v": 1}, {"n": "b", "v": 1, "bver": 11}], "record 2: its version is above 10"),
    ],
)
def test_what_is_no_senml_is_refused_with_its_record(pack: Any, sentence: str) -> None:
    with pytest.raises(ReadingError) as caught:
        records(pack)
    assert sentence in str(caught.value)


def test_a_pack_on_a_topic_of_ours_needs_no_setup() -> None:
    readings = decode("curewatch/air/relative_humidity", MOVING.encode(), NOW)
    assert [reading.value for reading in readings] == [20.0, 20.3, 20.7, 21.2]
    start = datetime(2011, 10, 31, 13, 24, 24, tzinfo=UTC)
    assert [reading.at - start for reading in readings] == [timedelta(minutes=m) for m in range(4)]


def test_a_temperature_in_kelvin_of_five_seconds_ago_is_read() -> None:
    pack = b'[{"n": "probe", "u": "K", "v": 287.35, "t": -5}]'
    (reading,) = decode("curewatch/panel/surface_temperature", pack, NOW)
    assert reading.value == pytest.approx(14.2)
    assert reading.at == NOW - timedelta(seconds=5)


def test_a_mapping_takes_the_record_of_its_name() -> None:
    def named(record: str, quantity: str) -> Mapping:
        return Mapping("box", "", "C", "air", quantity, None, record)

    rules = [
        named("2001:db8::2/temperature", "air_temperature"),
        named("2001:db8::2/humidity", "relative_humidity"),
    ]
    readings = decode("box", RESOURCES.encode(), NOW, rules)
    assert [reading.value for reading in readings] == [27.2, 80.0]
    assert {reading.at for reading in readings} == {datetime(2011, 10, 31, 16, 27, 9, tzinfo=UTC)}
    with pytest.raises(ReadingError, match="no SenML record named 'door' has a unit for air temp"):
        decode("box", RESOURCES.encode(), NOW, [named("door", "air_temperature")])


def test_one_bad_record_does_not_cost_the_others() -> None:
    pack = b'[{"n": "a", "u": "%RH", "v": 68}, {"n": "b", "u": "%RH", "v": 140}]'
    good, bad = attempt("curewatch/air/relative_humidity", pack, NOW)
    assert [reading.value for reading in good] == [68.0]
    assert [error.what for error in bad] == ["humidity 140 is outside 0..100 %"]


def test_a_farad_is_no_fahrenheit() -> None:
    with pytest.raises(ReadingError, match="no SenML record has a unit for air temperature"):
        decode("curewatch/air/air_temperature", b'[{"n": "a", "u": "F", "v": 50}]', NOW)


leaves = st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=5)
keys = st.sampled_from(
    ["n", "bn", "t", "bt", "u", "bu", "v", "bv", "vs", "vb", "vd", "s", "bs", "bver", "x", "x_"]
)
packs = st.lists(st.dictionaries(keys, leaves), max_size=4)


@given(packs)
def test_any_pack_gives_records_or_a_sentence(pack: list[dict[str, Any]]) -> None:
    good, bad = attempt("curewatch/air/air_temperature", json.dumps(pack).encode(), NOW)
    assert good or bad
    assert all(str(error).endswith(".") for error in bad)


times = st.floats(1e9, 1.7e9) | st.just(0.0)


@given(st.lists(st.tuples(times, st.floats(-40, 60)), min_size=1, max_size=5), times)
def test_a_resolved_pack_resolves_to_itself(values: list[tuple[float, float]], base: float) -> None:
    pack = [{"n": "a", "t": at - base, "v": value, "u": "Cel"} for at, value in values]
    pack[0]["bt"] = base
    once = records(pack)
    plain = [
        {"n": record.name, "u": record.unit, "t": record.time_s, "v": record.value}
        for record in once
    ]
    assert records(plain) == once
