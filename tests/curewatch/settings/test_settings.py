"""What curewatch.toml may say, and the sentence for what it may not."""

from __future__ import annotations

import contextlib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.climate.reading import PlaceSettings
from curewatch.errors import ConfigError
from curewatch.settings.settings import Mapping, Settings, load_settings, parse_settings

EVERYTHING = """
zone = "Europe/Dublin"
temperature_unit = "F"
hours = 12
port = 9000
copies = false

[mqtt]
host = "10.0.0.5"
port = 1884
user = "garage"
password = "open sesame"

[places.panel]
old_after = "45 min"
lag = "90 s"
sensor_error = "0.9 F"

[places.left-door]

[[mappings]]
topic = "garage/+/state"
pointer = "/inner/0/temp"
unit = "F"
place = "panel"
quantity = "surface_temperature"
time = "/when"

[[mappings]]
topic = "hygro/#"
place = "air"
quantity = "relative_humidity"

[clock]
speed = 60
wall = 2026-01-01T12:00:00Z
shown = 2025-10-20T20:00:00+02:00
"""


def read(text: str) -> Settings:
    return parse_settings(text, Path("/data"))


def test_no_file_means_every_default(tmp_path: Path) -> None:
    settings = load_settings(tmp_path)
    assert (settings.zone, settings.temperature_unit, settings.hours) == (None, "C", 24)
    assert (settings.port, settings.mqtt.host, settings.mqtt.port) == (8050, "127.0.0.1", 1883)
    assert settings.mqtt.embedded
    assert settings.copies
    assert settings.place("panel") == PlaceSettings(30.0, 3.0, 0.3)
    assert settings.mappings == ()
    assert settings.clock is None
    assert settings.folder == tmp_path


def test_every_key_is_taken() -> None:
    settings = read(EVERYTHING)
    assert (settings.zone, settings.temperature_unit) == ("Europe/Dublin", "F")
    assert (settings.hours, settings.port, settings.copies) == (12, 9000, False)
    assert (settings.mqtt.host, settings.mqtt.port, settings.mqtt.user) == (
        "10.0.0.5",
        1884,
        "garage",
    )
    panel = settings.place("panel")
    assert (panel.old_after_min, panel.lag_min) == (45.0, 1.5)
    assert panel.sensor_error_c == pytest.approx(0.5)
    assert settings.place("left-door") == PlaceSettings()
    assert settings.mappings == (
        Mapping("garage/+/state", "/inner/0/temp", "F", "panel", "surface_temperature", "/when"),
        Mapping("hygro/#", "", "%", "air", "relative_humidity"),
    )


def test_a_broker_elsewhere_is_not_embedded() -> None:
    assert not read('[mqtt]\nhost = "10.0.0.5"').mqtt.embedded
    assert read('[mqtt]\nhost = "localhost"').mqtt.embedded
    assert read('[mqtt]\nhost = "127.0.0.1"\nembedded = false').mqtt.embedded is False


def test_a_certificate_file_turns_encryption_on(tmp_path: Path) -> None:
    (tmp_path / "ca.pem").write_text("")
    settings = parse_settings('[mqtt]\nhost = "10.0.0.5"\nca_file = "ca.pem"', tmp_path)
    assert settings.mqtt.tls
    assert settings.mqtt.ca_file == tmp_path / "ca.pem"
    assert settings.mqtt.port == 8883


def test_the_demo_clock_runs_from_its_two_times() -> None:
    clock = read(EVERYTHING).clock
    assert clock is not None
    wall = datetime(2026, 1, 1, 12, 1, tzinfo=UTC)
    assert clock.at(wall) == datetime(2025, 10, 20, 19, 0, tzinfo=UTC)


def test_the_demo_clock_keeps_its_pace_over_a_summer_time_change() -> None:
    text = "[clock]\nspeed = 60\nwall = 2026-01-01T12:00:00Z\nshown = 2025-10-26T02:30:00+02:00"
    clock = read(text).clock
    assert clock is not None
    assert clock.at(clock.wall + timedelta(minutes=1)) - clock.shown == timedelta(hours=1)


def test_the_password_is_not_printed() -> None:
    assert "sesame" not in repr(read(EVERYTHING))


ROW = '[[mappings]]\ntopic = "t"\nplace = "panel"\nquantity = "air_temperature"\n'
WRONG = [
    ("colour = 1", "colour is not a key curewatch knows; use one of zone, "),
    ("zone = 3", "zone = 3 is not text"),
    ('zone = "Mars/Olympus"', "zone = 'Mars/Olympus' is not a time zone; use an IANA name"),
    ('zone = "../../etc/passwd"', "is not a time zone"),
    ('zone = ""', "zone = '' is not text"),
    ('temperature_unit = "K"', "temperature_unit = 'K' is not allowed; use one of 'C', 'F'"),
    ("dates = 'ymd'", "dates = 'ymd' is not allowed; use one of 'dmy', 'mdy'"),
    ("hours = 25", "hours = 25 is not allowed; use one of 24, 12"),
    ("hours = 24.0", "hours = 24.0 is not allowed"),
    ("copies = 7", "copies = 7 is neither true nor false"),
    ("port = 0", "port = 0 is outside 1..65535"),
    ("port = true", "port = True is outside 1..65535"),
    ('port = "8050"', "port = '8050' is outside 1..65535; give a whole number without quotes"),
    ("mqtt = 3", "mqtt is not a table; write it as [mqtt]"),
    ("[mqtt]\nqos = 2", "mqtt.qos is not a key curewatch knows; use one of host, port"),
    ("[mqtt]\nport = 70000", "mqtt.port = 70000 is outside 1..65535"),
    ('[mqtt]\nhost = ""', "mqtt.host = '' is not a host"),
    ('[mqtt]\nhost = "a b"', "mqtt.host = 'a b' is not a host"),
    ('[mqtt]\nembedded = "yes"', "mqtt.embedded = 'yes' is neither true nor false"),
    ('[mqtt]\nhost = "10.0.0.5"\nembedded = true', "is not this machine, where curewatch"),
    ('[mqtt]\npassword = "x"', "mqtt.user is missing beside a password"),
    ('[mqtt]\nca_file = "none.pem"', "mqtt.ca_file = '/data/none.pem' is not there"),
    ("[places]\npanel = 1", "places.panel is not a table; write it as [places.panel]"),
    ("[places.Panel]", "places.Panel is wrong: 'Panel' is not a name for a place"),
    ("[places.panel]\nold_after = 30", "places.panel.old_after = 30 has no unit"),
    ('[places.panel]\nold_after = "30"', "places.panel.old_after is wrong: '30' has no unit"),
    ('[places.panel]\nsensor_error = "0.3"', "sensor_error is wrong: '0.3' is not a temperature"),
    ('[places.panel]\nsensor_error = "-1 C"', "sensor_error is wrong: '-1 C' is not a temperature"),
    (
        '[places.panel]\nsensor_error = "nan C"',
        "sensor_error is wrong: 'nan C' is not a temperature",
    ),
    ('[places.air]\nhumidity_error = "40 %"', "is not an error of a hygrometer of 0..30 %"),
    ('[places.air]\nhumidity_error = "3"', "humidity_error is wrong"),
    ("mappings = 3", "mappings is not a list of tables; write each as [[mappings]]"),
    ("mappings = [3]", "mappings is not a list of tables"),
    ('[[mappings]]\nplace = "a"', "mappings.1.quantity is missing"),
    (ROW + 'unit = "%"', "mappings.1.unit = '%' is not allowed; use one of 'C', 'F', 'K'"),
    (ROW + "colour = 1", "mappings.1.colour is not a key curewatch knows"),
    (ROW + 'pointer = "a"', "mappings.1.pointer = 'a' does not start with /"),
    (ROW + 'pointer = "/~2"', "mappings.1.pointer = '/~2' has ~ without 0 or 1"),
    (ROW + 'time = "when"', "mappings.1.time = 'when' does not start with /"),
    (ROW.replace('"t"', '"a/#/b"'), "topic = 'a/#/b' has # elsewhere than as its whole last"),
    (ROW.replace('"t"', '"a+/b"'), "topic = 'a+/b' has + beside other letters of its level"),
    (ROW.replace("panel", "The Panel"), "mappings.1.place is wrong: 'The Panel' is not a name"),
    (ROW.replace("air_t", "t"), "mappings.1.quantity is wrong: 'temperature' is not a quantity"),
    (ROW + 'record = "a"\npointer = "/a"', "mappings.1.pointer is given beside record"),
    (ROW + 'record = ""', "mappings.1.record = '' is not text"),
    ("[clock]\nspeed = 0", "clock.speed = 0 is outside 0..100000"),
    ("[clock]\nspeed = nan", "clock.speed = nan is outside 0..100000"),
    ("[clock]\nspeed = 2", "clock.wall is missing; write wall = 2026-01-01T12:00:00Z"),
    ("[clock]\nwall = 2026-01-01T12:00:00", "clock.wall = 2026-01-01 12:00:00 is not a time with"),
    ("port 8050", "not valid TOML: "),
]


@pytest.mark.parametrize(("text", "sentence"), WRONG)
def test_a_wrong_key_is_named_with_its_file_and_the_fix(text: str, sentence: str) -> None:
    with pytest.raises(ConfigError) as caught:
        read(text)
    assert sentence in str(caught.value)
    assert str(caught.value).startswith("curewatch.toml: ")
    assert caught.value.fix


def test_a_file_that_is_no_text_is_said_with_its_path(tmp_path: Path) -> None:
    (tmp_path / "curewatch.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ConfigError, match=r"curewatch\.toml: cannot be read"):
        load_settings(tmp_path)


@given(st.text(max_size=200))
def test_no_text_does_anything_but_settings_or_a_sentence(text: str) -> None:
    with contextlib.suppress(ConfigError):
        assert isinstance(read(text), Settings)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ('names = "a"', "names = 'a' has no host names; write [\"garage.home\"]."),
        ('names = ["a b"]', "names = ['a b'] has no host names; write [\"garage.home\"]."),
        ('names = ["http://a/"]', "has no host names"),
        ('lan = "yes"', "lan = 'yes' is neither true nor false; say which."),
        ('[page]\ncertificate = "no.pem"', "no.pem' is not there; give the path of the file."),
        ('[page]\nkey = "curewatch.toml"', 'page.certificate is missing beside the other; write'),
        ('[page]\nport = 1', "page.port is not a key curewatch knows; use one of certificate, "
                             "key."),
        ("zone = 1" + "1" * 5000, "not valid TOML"),
        ('[places."panel\\n"]', "is not a name for a place"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_the_door_s_settings_is_said(
    tmp_path: Path, text: str, sentence: str
) -> None:
    (tmp_path / "curewatch.toml").write_text("")
    with pytest.raises(ConfigError) as caught:
        parse_settings(text, tmp_path)
    assert sentence in str(caught.value)


def test_names_are_taken_as_browsers_send_them(tmp_path: Path) -> None:
    assert parse_settings('names = ["Garage.Home."]', tmp_path).names == ("garage.home",)
    assert not parse_settings("", tmp_path).lan
