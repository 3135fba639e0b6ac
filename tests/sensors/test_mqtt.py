"""From a real broker into the store: nothing accepted is lost, nothing bad disturbs."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from curewatch.climate.flag import Flag
from curewatch.climate.reading import Reading
from curewatch.errors import StoreError
from curewatch.settings.settings import MqttSettings, Settings, parse_settings
from curewatch.store.store import Store
from sensors.broker.process import EmbeddedBroker
from sensors.mqtt.session import SESSION
from sensors.mqtt.subscriber import Subscriber
from tests.support.brokers import SystemMosquitto, free_port, publish, tool, until
from tests.support.campaign import Cable, Publisher, app, stored
from tests.support.many import cases

SURFACE = "curewatch/panel/surface_temperature"
HUMIDITY = "curewatch/panel/relative_humidity"
NOW = datetime(2025, 10, 20, 18, 0, tzinfo=UTC)


def clock() -> datetime:
    return NOW


@pytest.fixture(scope="module")
def embedded() -> Iterator[int]:
    with EmbeddedBroker(port=free_port()) as broker:
        yield broker.port


@pytest.fixture
def mosquitto(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SystemMosquitto]:
    broker = SystemMosquitto(tmp_path_factory.mktemp("mosquitto"))
    yield broker
    broker.stop()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store(tmp_path / "curewatch.db")
    yield opened
    opened.close()


Listen = Callable[..., Subscriber]


@pytest.fixture
def listen(tmp_path: Path, store: Store) -> Iterator[Listen]:
    started: list[Subscriber] = []

    def start(port: int, text: str = "", into: Store = store) -> Subscriber:
        settings = parse_settings(text, tmp_path)
        subscriber = Subscriber("127.0.0.1", port, into, settings, clock).start()
        started.append(subscriber)
        until(lambda: subscriber.state.startswith("listening"))
        return subscriber

    yield start
    for subscriber in started:
        subscriber.stop()


class FailingStore(Store):
    """A store whose disk is full until `mended`."""

    def __init__(self, store: Store) -> None:
        super().__init__(store.path)
        self.mended, self.asked = threading.Event(), 0

    def add_readings(self, readings: Sequence[Reading]) -> int:
        self.asked += 1
        if not self.mended.is_set():
            raise StoreError("nothing could be stored (disk full)", fix="make room")
        return super().add_readings(readings)


def values(store: Store) -> list[float]:
    """Every stored value, flagged ones too, read by another connection."""
    connection = sqlite3.connect(store.path)
    try:
        return sorted(row[0] for row in connection.execute("SELECT value FROM reading"))
    finally:
        connection.close()


def stored_number(store: Store, number: float) -> bool:
    return number in values(store)


def test_a_published_number_is_stored_with_its_time_of_arrival(
    embedded: int, listen: Listen, store: Store
) -> None:
    listen(embedded)
    publish(embedded, SURFACE, "-m", "14.2")
    until(store.latest)
    assert store.latest() == [Reading("panel", "surface_temperature", 14.2, NOW, SURFACE)]


@pytest.mark.parametrize(
    ("topic", "payload", "sentence"),
    [
        (SURFACE, "warm", "'warm' is not a number"),
        (SURFACE, "NaN", "'NaN' is not a finite number"),
        (SURFACE, "1e309", "'1e309' is not a finite number"),
        (SURFACE, "200 C", "'200 C' is outside -60..150 C"),
        (HUMIDITY, "140", "humidity 140 is outside 0..100 %"),
        (SURFACE, "x" * 2_000_000, "a payload of 2,000,000 bytes is longer than 65,536"),
        ("curewatch/The Panel/air_temperature", "1", "'The Panel' is not a name for a place"),
        ("curewatch/pannel/air_temperature", "1", "'pannel' is not one of your places"),
        ("curewatch/panel/pressure", "1", "'pressure' is not a quantity curewatch knows"),
    ],
)
def test_a_bad_message_is_counted_and_disturbs_nothing(
    embedded: int,
    listen: Listen,
    store: Store,
    tmp_path: Path,
    topic: str,
    payload: str,
    sentence: str,
) -> None:
    listen(embedded)
    (tmp_path / "payload").write_text(payload)
    for _ in range(2):
        publish(embedded, topic, "-f", str(tmp_path / "payload"))
    publish(embedded, SURFACE, "-m", "14.2")
    until(lambda: store.latest() and [refusal.count for refusal in store.refusals()] == [2])
    (refused,) = store.refusals()
    assert refused.source == topic
    assert abs(refused.last - NOW) < timedelta(seconds=1)
    assert sentence in refused.sentence
    assert values(store) == [14.2]


def test_a_place_counts_once_it_is_named_in_the_settings_or_by_a_step(
    embedded: int, listen: Listen, store: Store
) -> None:
    store.add_step("epoxy-primer", NOW, NOW, {"place": "tailgate"})
    listen(embedded, "[places.hood]\nlag = '5 min'\n")
    publish(embedded, "curewatch/hood/surface_temperature", "-m", "11")
    publish(embedded, "curewatch/tailgate/surface_temperature", "-m", "12")
    until(lambda: len(store.latest()) == 2)
    assert store.refusals() == []


MAPPINGS = """
[[mappings]]
topic = "garage/+/state"
pointer = "/temperature"
unit = "F"
place = "panel"
quantity = "surface_temperature"
time = "/when"

[[mappings]]
topic = "garage/+/state"
pointer = "/humidity"
unit = "fraction"
place = "air"
quantity = "relative_humidity"
"""


def test_a_sensor_of_its_own_topic_and_shape_is_mapped(
    embedded: int, listen: Listen, store: Store
) -> None:
    listen(embedded, MAPPINGS)
    sent = '{"temperature": 50, "humidity": 0.68, "when": "2025-10-20T17:59:00Z"}'
    publish(embedded, "garage/7/state", "-m", sent)
    until(lambda: len(store.latest()) == 2)
    humidity, surface = store.latest()
    assert (humidity.place, humidity.value, humidity.at) == ("air", 68.0, NOW)
    assert (surface.place, surface.value) == ("panel", 10.0)
    assert surface.at == NOW - timedelta(minutes=1)


def test_equal_numbers_in_one_instant_are_all_kept(
    embedded: int, listen: Listen, store: Store
) -> None:
    listen(embedded)
    send_many(embedded, [14.0] * 2000)
    until(lambda: len(values(store)) == 2000)


def send_many(port: int, numbers: Sequence[float]) -> None:
    command = [tool("mosquitto_pub"), "-p", str(port), "-q", "1", "-l", "-t", SURFACE]
    lines = "".join(f"{number}\n" for number in numbers)
    subprocess.run(command, input=lines, text=True, check=True, timeout=60)


def test_a_clock_that_is_set_back_gives_the_new_time(
    embedded: int, tmp_path: Path, store: Store
) -> None:
    shown = [NOW, NOW - timedelta(hours=1)]
    settings = Settings(folder=tmp_path)
    subscriber = Subscriber("127.0.0.1", embedded, store, settings, lambda: shown[0]).start()
    until(lambda: subscriber.state.startswith("listening"))
    publish(embedded, SURFACE, "-m", "1")
    until(lambda: len(values(store)) == 1)
    shown.pop(0)
    publish(embedded, SURFACE, "-m", "2")
    until(lambda: len(values(store)) == 2)
    subscriber.stop()
    readings = store.readings(NOW - timedelta(days=1), NOW)
    assert [(reading.value, reading.at) for reading in readings] == [(2.0, shown[0]), (1.0, NOW)]


def test_what_waited_at_the_broker_is_kept_but_flagged(
    mosquitto: SystemMosquitto, listen: Listen, store: Store
) -> None:
    listen(mosquitto.port).stop()
    publish(mosquitto.port, SURFACE, "-m", "3")
    listen(mosquitto.port, MAPPINGS)
    until(lambda: values(store) == [3.0])
    (reading,) = store.latest()
    assert reading.flag == Flag("waited")
    time.sleep(2.1)
    publish(mosquitto.port, SURFACE, "-m", "14.2")
    until(lambda: len(values(store)) == 2)
    usable = store.readings(NOW - timedelta(days=1), NOW + timedelta(seconds=1))
    assert [reading.value for reading in usable] == [14.2]


def test_what_waited_but_tells_its_time_is_believed(
    mosquitto: SystemMosquitto, listen: Listen, store: Store
) -> None:
    listen(mosquitto.port, MAPPINGS).stop()
    publish(mosquitto.port, "garage/7/state", "-m", '{"temperature": 50, "when": 1760983080}')
    listen(mosquitto.port, MAPPINGS)
    until(store.latest)
    (reading,) = store.latest()
    assert (reading.value, reading.flag) == (10.0, None)
    assert reading.at == NOW - timedelta(minutes=2)


def test_a_message_the_broker_kept_is_refused_unless_it_tells_its_time(
    embedded: int, listen: Listen, store: Store
) -> None:
    publish(embedded, "garage/7/state", "-r", "-m", '{"temperature": 50, "when": 1760983080}')
    publish(embedded, SURFACE, "-r", "-m", "3")
    listen(embedded, MAPPINGS)
    until(lambda: store.latest() and store.refusals())
    publish(embedded, SURFACE, "-r", "-m", "14.2")
    until(lambda: len(store.latest()) == 2)
    for topic in ("garage/7/state", SURFACE):
        publish(embedded, topic, "-r", "-n")
    assert values(store) == [10.0, 14.2]
    assert any("carries no time of measurement" in refusal.sentence for refusal in store.refusals())


def test_while_the_disk_is_full_nothing_is_acknowledged_and_then_all_is_stored(
    mosquitto: SystemMosquitto, listen: Listen, store: Store
) -> None:
    full = FailingStore(store)
    subscriber = listen(mosquitto.port, into=full)
    send_many(mosquitto.port, range(50))
    until(lambda: full.asked > 2)
    assert "wait to be stored: nothing could be stored (disk full); make room." in subscriber.state
    assert values(store) == []
    full.mended.set()
    until(lambda: values(store) == list(range(50)))
    until(lambda: subscriber.state == f"listening to 127.0.0.1:{mosquitto.port}")


def test_what_was_never_stored_comes_again_at_the_next_start(
    mosquitto: SystemMosquitto, listen: Listen, store: Store
) -> None:
    full = FailingStore(store)
    subscriber = listen(mosquitto.port, into=full)
    send_many(mosquitto.port, range(50))
    until(lambda: full.asked)
    subscriber.stop()
    send_many(mosquitto.port, range(50, 60))
    listen(mosquitto.port)
    until(lambda: values(store) == list(range(60)))


def test_a_broker_killed_and_started_again_loses_nothing(
    mosquitto: SystemMosquitto, listen: Listen, store: Store
) -> None:
    subscriber = listen(mosquitto.port)
    for number in range(3):
        publish(mosquitto.port, SURFACE, "-m", str(number))
        until(partial(stored_number, store, float(number)))
        mosquitto.kill()
        until(lambda: not subscriber.state.startswith("listening"))
        mosquitto.start()
        until(lambda: subscriber.state.startswith("listening"), 60)
    assert values(store) == [0.0, 1.0, 2.0]


def test_no_broker_is_said_and_waited_for(tmp_path: Path, store: Store) -> None:
    port = free_port()
    subscriber = Subscriber("127.0.0.1", port, store, Settings(folder=tmp_path), clock)
    assert subscriber.state == "not started"
    subscriber.start()
    until(lambda: subscriber.state == f"no broker answers at 127.0.0.1:{port}; trying again")
    with EmbeddedBroker(port=port):
        until(lambda: subscriber.state == f"listening to 127.0.0.1:{port}")
        subscriber.stop()
    assert subscriber.state == "stopped"


@pytest.fixture
def guarded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SystemMosquitto]:
    folder = tmp_path_factory.mktemp("guarded")
    words = folder / "passwords"
    words.touch(0o600)
    subprocess.run(
        [tool("mosquitto_passwd"), "-b", str(words), "garage", "open sesame"], check=True
    )
    broker = SystemMosquitto(folder, "allow_anonymous false", f"password_file {words}")
    yield broker
    broker.stop()


def test_a_wrong_password_is_said_and_the_right_one_listens(
    guarded: SystemMosquitto, tmp_path: Path, store: Store
) -> None:
    def state(password: str, wanted: str) -> None:
        mqtt = MqttSettings(port=guarded.port, user="garage", password=password)
        settings = Settings(folder=tmp_path, mqtt=mqtt)
        subscriber = Subscriber("127.0.0.1", guarded.port, store, settings, clock).start()
        until(lambda: wanted in subscriber.state)
        subscriber.stop()

    state("wrong", "the broker at 127.0.0.1:")
    state("open sesame", "listening to 127.0.0.1:")


@pytest.fixture
def encrypted(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[SystemMosquitto, Path]]:
    folder = tmp_path_factory.mktemp("encrypted")
    key, certificate = folder / "key.pem", folder / "certificate.pem"
    command = [tool("openssl"), "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"]
    command += ["-subj", "/CN=broker", "-addext", "subjectAltName=IP:127.0.0.1"]
    command += ["-keyout", str(key), "-out", str(certificate)]
    subprocess.run(command, check=True, capture_output=True)
    encryption = (f"cafile {certificate}", f"certfile {certificate}", f"keyfile {key}")
    broker = SystemMosquitto(folder, "allow_anonymous true", *encryption)
    yield broker, certificate
    broker.stop()


def test_a_connection_can_be_encrypted_with_the_brokers_certificate(
    encrypted: tuple[SystemMosquitto, Path], listen: Listen, store: Store
) -> None:
    broker, certificate = encrypted
    listen(broker.port, f'[mqtt]\nca_file = "{certificate}"')
    publish(broker.port, SURFACE, "--cafile", str(certificate), "-m", "14.2")
    until(lambda: values(store) == [14.2])


# paho leaves the socket of a failed handshake to the garbage collector.
@pytest.mark.filterwarnings("ignore:unclosed <ssl.SSLSocket:ResourceWarning")
@pytest.mark.filterwarnings("ignore:.*ssl.SSLSocket:pytest.PytestUnraisableExceptionWarning")
def test_a_certificate_that_nobody_vouches_for_is_refused(
    encrypted: tuple[SystemMosquitto, Path], tmp_path: Path, store: Store
) -> None:
    broker, _ = encrypted
    settings = parse_settings("[mqtt]\ntls = true", tmp_path)
    subscriber = Subscriber("127.0.0.1", broker.port, store, settings, clock).start()
    until(lambda: "is not signed by a CA that this machine knows" in subscriber.state)
    subscriber.stop()


def test_a_mapping_that_was_removed_is_heard_no_more(
    mosquitto: SystemMosquitto, listen: Listen, store: Store
) -> None:
    listen(mosquitto.port, MAPPINGS).stop()
    listen(mosquitto.port)
    publish(mosquitto.port, "garage/7/state", "-m", '{"temperature": 50}')
    publish(mosquitto.port, SURFACE, "-m", "14.2")
    until(store.latest)
    assert store.refusals() == []


def test_a_mapping_that_was_added_is_heard_without_a_restart(
    embedded: int, listen: Listen, store: Store, tmp_path: Path
) -> None:
    subscriber = listen(embedded)
    (tmp_path / "curewatch.toml").write_text("port = 0")
    until(lambda: "the new settings are not used" in subscriber.state)
    assert "port = 0 is outside 1..65535" in subscriber.state
    (tmp_path / "curewatch.toml").write_text(MAPPINGS)
    until(lambda: "garage/+/state" in (tmp_path / SESSION).read_text())
    time.sleep(0.3)
    publish(embedded, "garage/7/state", "-m", '{"temperature": 50, "when": 1760983080}')
    until(store.latest)
    assert values(store) == [10.0]
    assert subscriber.state == f"listening to 127.0.0.1:{embedded}"


def test_the_name_at_the_broker_stays_and_its_file_is_the_owners(
    embedded: int, listen: Listen, tmp_path: Path
) -> None:
    listen(embedded).stop()
    first = (tmp_path / SESSION).read_text()
    listen(embedded).stop()
    assert (tmp_path / SESSION).read_text() == first
    assert (tmp_path / SESSION).stat().st_mode & 0o077 == 0


def test_a_damaged_session_file_is_made_anew(embedded: int, listen: Listen, tmp_path: Path) -> None:
    (tmp_path / SESSION).write_text('{"client": ')
    listen(embedded)
    assert "curewatch-" in (tmp_path / SESSION).read_text()


def test_a_folder_that_cannot_be_written_is_said(store: Store) -> None:
    with pytest.raises(StoreError, match=rf"/proc/{SESSION}: cannot be used"):
        Subscriber("127.0.0.1", 1, store, Settings(folder=Path("/proc")), clock)


def test_a_flood_without_acknowledgement_and_a_full_disk_still_stop_soon(
    embedded: int, listen: Listen, store: Store
) -> None:
    subscriber = listen(embedded, into=FailingStore(store))
    flood = paho.Client(CallbackAPIVersion.VERSION2)
    flood.connect("127.0.0.1", embedded)
    flood.loop_start()
    for number in range(3000):
        flood.publish(SURFACE, str(number % 50), qos=0)
    until(lambda: "messages wait to be stored" in subscriber.state)
    before = time.monotonic()
    subscriber.stop()
    assert time.monotonic() - before < 20
    flood.disconnect()
    flood.loop_stop()


def test_no_acknowledged_reading_is_lost_over_three_cuts_of_the_network(
    mosquitto: SystemMosquitto, listen: Listen, store: Store
) -> None:
    cable = Cable(mosquitto.port)
    subscriber = listen(cable.port)
    publisher = Publisher(mosquitto.port, 300)
    for _ in range(3):
        time.sleep(0.4)
        cable.cut()
        until(lambda: not subscriber.state.startswith("listening"))
        until(lambda: subscriber.state.startswith("listening"))
    acknowledged = publisher.finish()
    until(lambda: acknowledged <= {round(value, 3) for value in values(store)})
    subscriber.stop()
    cable.close()
    assert len(acknowledged) > 100


@pytest.mark.parametrize("broker", ["mosquitto", "embedded"])
def test_no_acknowledged_reading_is_lost_over_kills_of_the_app(
    broker: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    broker_process = request.getfixturevalue(broker)
    port = broker_process if isinstance(broker_process, int) else broker_process.port
    running = app(tmp_path, port)
    publisher = Publisher(port, 300)
    for _ in range(cases(2)):
        time.sleep(0.6)
        os.kill(running.pid, signal.SIGKILL)
        running.communicate()
        running = app(tmp_path, port)
    acknowledged = publisher.finish()
    until(lambda: acknowledged <= stored(tmp_path), 60)
    running.kill()
    running.communicate()
    assert len(acknowledged) > 100
    assert acknowledged - stored(tmp_path) == set()
