"""From a running sensor to a mapping: what is heard, what it seems to be, what is kept."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import ConfigError
from curewatch.settings.edit import keep
from curewatch.settings.settings import Mapping, MqttSettings, load_settings
from sensors.broker.process import EmbeddedBroker
from sensors.mqtt.discovery import TopicListener, known
from sensors.payloads.decode import resolve
from sensors.payloads.guess import guess, numbers
from tests.support.brokers import free_port, publish, until


@pytest.fixture(scope="module")
def port() -> Iterator[int]:
    with EmbeddedBroker(port=free_port()) as broker:
        yield broker.port


@pytest.mark.parametrize(
    ("name", "value", "what"),
    [
        ("garage/probe/surface_temp", 14.2, ("surface_temperature", "C")),
        ("garage/state/temperature", 14.2, ("air_temperature", "C")),
        ("garage/state/temperature", 58.0, ("air_temperature", "F")),
        ("garage/state/temperature", 287.3, ("air_temperature", "K")),
        ("garage/state/temp_f", 41.0, ("air_temperature", "F")),
        ("garage/state/humidity", 68.0, ("relative_humidity", "%")),
        ("garage/state/humidity", 0.68, ("relative_humidity", "fraction")),
        ("garage/state/humidity", 140.0, None),
        ("garage/temperature/battery", 3.1, None),
        ("garage/temperature/uptime", 12.0, None),
        ("garage/counter", 12.0, None),
        ("garage/inside_temperature", 14.2, ("air_temperature", "C")),
        ("garage/outside temp", 4.0, ("air_temperature", "C")),
        ("garage/t", 14.2, ("air_temperature", "C")),
        ("garage/Luftfeuchte", 68.0, ("relative_humidity", "%")),
        ("garage/h", 68.0, ("relative_humidity", "%")),
        ("garage/h", 140.0, None),
        ("garage/overhead_temp", 14.2, ("air_temperature", "C")),
        ("garage/dew_point_temperature", 4.0, None),
        ("garage/target_temp", 20.0, None),
        ("garage/cpu_temperature", 45.0, None),
        ("garage/temperature_id", 3.0, None),
        ("garage/humidity_battery", 60.0, None),
        ("garage/state/temperature", 900.0, None),
    ],
)
def test_a_number_is_guessed_by_name_and_range(
    name: str, value: float, what: tuple[str, str] | None
) -> None:
    assert guess(name, value) == what


@pytest.mark.parametrize(
    ("payload", "devices"),
    [
        (b"14.2", [("", 14.2)]),
        (b'{"a": {"b": [1, "2", true, null, "x"]}}', [("/a/b/0", 1.0), ("/a/b/1", 2.0)]),
        (b'{"a/b": {"m~n": 3}}', [("/a~1b/m~0n", 3.0)]),
        (b"warm", []),
        (b"14,5", [("", 14.5)]),
        ("58 °F".encode(), [("", pytest.approx(14.4444, abs=1e-3))]),
        ('{"t": "14.5 °C", "h": "62,5 %"}'.encode(), [("/t", 14.5), ("/h", 62.5)]),
        (b"\xff\xfe\xfd", []),
        (b"NaN", []),
        (b"[" * 60_000, []),
        (b"1" * 70_000, []),
    ],
)
def test_every_number_of_a_payload_is_found(
    payload: bytes, devices: list[tuple[str, float]]
) -> None:
    assert [(number.pointer, number.value) for number in numbers(payload)] == devices


@pytest.mark.parametrize(
    ("payload", "units"),
    [
        (b'{"temp": 38, "humidity": 60, "unit": "F"}', {"/temp": "F", "/humidity": ""}),
        (
            b'{"in": {"temp": 38}, "TempUnit": "\xc2\xb0F", "batt": 3}',
            {"/in/temp": "F", "/batt": ""},
        ),
        (b'{"temp": 38, "unit": "metric"}', {"/temp": ""}),
        (b'{"temp": "14.5 C", "batt": "80 %"}', {"/temp": "C", "/batt": ""}),
    ],
)
def test_a_unit_that_is_said_beside_a_number_or_with_it_is_taken(
    payload: bytes, units: dict[str, str]
) -> None:
    assert {number.pointer: number.unit for number in numbers(payload)} == units


@given(st.dictionaries(st.text(max_size=5), st.lists(st.integers(-99, 99), max_size=3)))
def test_each_pointer_leads_back_to_its_number(document: dict[str, list[int]]) -> None:
    for number in numbers(json.dumps(document).encode()):
        assert resolve(document, number.pointer) == number.value


def test_what_a_sensor_publishes_is_heard_and_one_choice_maps_it(port: int, tmp_path: Path) -> None:
    with TopicListener(MqttSettings(port=port)) as ear:
        until(lambda: publish(port, "hello", "-m", "1") == 0 and ear.leaves)
        for value in ("57", "58"):
            publish(port, "garage/7", "-m", f'{{"probe": {{"temp": {value}}}, "id": 7}}')
        until(lambda: len(ear.leaves) == 3 and len(ear.leaves[0].values) == 2)
    temperature, *others = ear.leaves
    assert (temperature.topic, temperature.pointer) == ("garage/7", "/probe/temp")
    assert list(temperature.values) == [57.0, 58.0]
    assert temperature.guess == ("surface_temperature", "F")
    keep(tmp_path, temperature.mapping("panel"))
    assert load_settings(tmp_path).mappings == (
        Mapping("garage/7", "/probe/temp", "F", "panel", "surface_temperature"),
    )
    assert [other.topic for other in others] == ["garage/7", "hello"]


def test_nobody_there_is_said() -> None:
    port = free_port()
    with pytest.raises(ConfigError, match=rf"no broker answers at 127\.0\.0\.1:{port}"):
        TopicListener(MqttSettings(port=port)).__enter__()


WRITTEN = """# my garage
port = 9000  # the page

[[mappings]]  # the old probe
topic = "garage/7"
pointer = "/t"
unit = "C"
place = "air"
quantity = "air_temperature"
"""


def test_comments_and_other_settings_stay(tmp_path: Path) -> None:
    (tmp_path / "curewatch.toml").write_text(WRITTEN)
    keep(tmp_path, Mapping("hygro", "/h", "fraction", "air", "relative_humidity", "/when"))
    text = (tmp_path / "curewatch.toml").read_text()
    assert text.startswith(WRITTEN)
    assert (tmp_path / "curewatch.toml").stat().st_mode & 0o077 == 0
    settings = load_settings(tmp_path)
    assert (settings.port, [mapping.topic for mapping in settings.mappings]) == (
        9000,
        ["garage/7", "hygro"],
    )


def test_a_second_choice_for_the_same_number_replaces_the_first(tmp_path: Path) -> None:
    (tmp_path / "curewatch.toml").write_text(WRITTEN)
    keep(tmp_path, Mapping("garage/7", "/t", "F", "panel", "surface_temperature"))
    (mapping,) = load_settings(tmp_path).mappings
    assert (mapping.unit, mapping.place) == ("F", "panel")
    assert "# my garage" in (tmp_path / "curewatch.toml").read_text()


@pytest.mark.parametrize(
    ("text", "place", "sentence"),
    [
        ("port = 0", "panel", "port = 0 is outside 1..65535"),
        ("", "The Panel", "'The Panel' is not a name for a place"),
    ],
)
def test_what_is_wrong_leaves_the_file_as_it_was(
    tmp_path: Path, text: str, place: str, sentence: str
) -> None:
    (tmp_path / "curewatch.toml").write_text(text)
    with pytest.raises(ConfigError, match=sentence):
        keep(tmp_path, Mapping("a", "", "C", place, "air_temperature"))
    assert (tmp_path / "curewatch.toml").read_text() == text


def test_our_own_topics_need_no_mapping() -> None:
    assert known("curewatch/panel/surface_temperature")
    assert not known("garage/7")
