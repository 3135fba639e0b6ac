"""The gatekeeper: sensors come in by their password, strangers not; nothing taken is lost."""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import socket
import sqlite3
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from itertools import count, product
from pathlib import Path

import paho.mqtt.client as paho
import pytest

from curewatch.errors import ConfigError
from curewatch.settings.settings import MqttSettings, Settings
from sensors.broker import process as brokers
from sensors.broker.mosquitto import Mosquitto
from sensors.broker.process import BrokerProcess, EmbeddedBroker
from sensors.broker.pulse import WAIT_S
from sensors.mqtt.discovery import Discovery
from sensors.mqtt.writer import Writer
from sensors.packets.version3 import DISCONNECT, PUBLISH, packet
from sensors.proxy.limits import ConnectionLimits
from sensors.proxy.peers import of_this_machine
from sensors.proxy.proxy import Gatekeeper, nobody
from tests.support.brokers import publish, until
from tests.support.floods import deaf_fills_nothing, garbage_leaves_nothing
from tests.support.proxies import (
    IN,
    KNOWN,
    LAN,
    MAPPED,
    PASSWORD,
    SURFACE,
    USER,
    RunningGatekeeper,
    before,
    client,
    heard,
    hello,
    pub,
    raw,
    run_gatekeeper,
    text,
    values,
    welcomed,
)

NOW = datetime.now(UTC)
NOT_ALLOWED, WRONG, LATER = b"\0\5", b"\0\4", b"\0\3"


@pytest.fixture(scope="module", params=[EmbeddedBroker, Mosquitto])
def broker(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[BrokerProcess]:
    """Each kind, one for all tests that leave it alive."""
    with request.param(port=0, folder=tmp_path_factory.mktemp("broker")) as broker:
        yield broker


@pytest.fixture
def gatekeeper(broker: BrokerProcess, tmp_path: Path) -> Iterator[RunningGatekeeper]:
    with before(broker, tmp_path, MAPPED) as gatekeeper:
        yield gatekeeper


@pytest.fixture(params=[EmbeddedBroker, Mosquitto])
def alone(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[RunningGatekeeper]:
    """A gatekeeper before a broker of its own, which may be killed."""
    with run_gatekeeper(tmp_path, MAPPED, kind=request.param) as gatekeeper:
        yield gatekeeper


@contextlib.contextmanager
def overhearing(gatekeeper: RunningGatekeeper) -> Iterator[queue.Queue[tuple[str, bytes]]]:
    """What the broker passes on, heard on this machine."""
    heard: queue.Queue[tuple[str, bytes]] = queue.Queue()
    ear = client(gatekeeper.port, "127.0.0.1")
    ear.on_message = lambda _c, _u, message: heard.put((message.topic, bytes(message.payload)))
    ready = queue.Queue[int]()
    ear.on_subscribe = lambda *_: ready.put(1)
    ear.subscribe("#", 1)
    ready.get(timeout=30)
    yield heard
    ear.disconnect()
    ear.loop_stop()


def test_on_this_machine_no_password_is_asked(gatekeeper: RunningGatekeeper) -> None:
    publish(gatekeeper.port, SURFACE, "-m", "14.2")
    until(lambda: values(gatekeeper) == [14.2])


def test_a_sensor_of_the_home_network_comes_in_with_its_password(
    gatekeeper: RunningGatekeeper,
) -> None:
    assert pub(gatekeeper.port, SURFACE, "-m", "14.2", *KNOWN).returncode == 0
    assert pub(gatekeeper.port, "garage/7/state", "-m", '{"t": 12}', *KNOWN).returncode == 0
    until(lambda: values(gatekeeper) == [12.0, 14.2])


@pytest.mark.parametrize(
    ("password", "codes"), [(PASSWORD, [IN] * 12), ("guess", [LATER] * 7 + [WRONG] * 5)]
)
def test_sign_ins_at_once_are_judged_like_ones_in_turn(
    gatekeeper: RunningGatekeeper, password: str, codes: list[bytes]
) -> None:
    def answer(number: int) -> bytes:
        return welcomed(gatekeeper.port, hello(f"sensor-{number}", password=password))[2:]

    with ThreadPoolExecutor(12) as together:
        assert sorted(together.map(answer, range(12))) == sorted(codes)


def test_without_it_none_does(gatekeeper: RunningGatekeeper) -> None:
    for words, sentence in (
        ((), "not authori"),
        (("-u", USER), "not authori"),
        (("-u", USER, "-P", "wrong"), "bad user name or password"),
        (("-u", "Garage", "-P", PASSWORD), "bad user name or password"),
    ):
        done = pub(gatekeeper.port, SURFACE, "-q", "1", "-m", "14.2", *words)
        assert done.returncode != 0, words
        assert sentence in done.stderr.lower(), words
    publish(gatekeeper.port, SURFACE, "-m", "1")
    until(lambda: values(gatekeeper) == [1.0])


def test_an_address_with_wrong_passwords_waits_even_for_the_right_one(
    gatekeeper: RunningGatekeeper,
) -> None:
    answers = [welcomed(gatekeeper.port, hello(password=f"guess {n}"))[2:] for n in range(8)]
    assert answers == [WRONG] * 5 + [LATER] * 3
    assert welcomed(gatekeeper.port, hello())[2:] == LATER
    assert welcomed(gatekeeper.port, hello(), "127.0.0.3")[2:] == IN
    until(lambda: welcomed(gatekeeper.port, hello())[2:] == IN)


BEYOND = {
    "other/thing",
    "curewatch/bench/3/clamp_time",
    "curewatch/bench/online",
    "curewatch/button/hush",
    "curewatch",
    "curewatch/panel",
    "curewatch//air_temperature",
    "$SYS/broker/clients",
    "Curewatch/panel/air_temperature",
    "/curewatch/panel/air_temperature",
}


def test_a_sensor_writes_in_its_own_tree_alone(gatekeeper: RunningGatekeeper) -> None:
    with overhearing(gatekeeper) as passed:
        with raw(gatekeeper.port, hello()) as sensor:
            assert sensor.recv(4)[2:] == IN
            for id, (topic, retain) in enumerate(product(sorted(BEYOND), (0, 1)), 1):
                sent = text(topic) + id.to_bytes(2, "big") + b"14.2"
                sensor.sendall(packet(PUBLISH, sent, 2 + retain))
                assert sensor.recv(4) == b"\x40\x02" + id.to_bytes(2, "big")
        publish(gatekeeper.port, "the/end", "-m", "1")
        assert passed.get(timeout=30)[0] == "the/end"
    assert values(gatekeeper) == []
    until(lambda: {refusal.source for refusal in gatekeeper.store.refusals()} == BEYOND)
    sentence = "a sensor from the home network may not write on this topic"
    assert all(sentence in refusal.sentence for refusal in gatekeeper.store.refusals())


def test_buttons_are_pressed_from_the_home_network_only_while_there_are_some(
    tmp_path: Path,
) -> None:
    settings = '[buttons.hush]\ndoes = "silence"\n'
    with run_gatekeeper(tmp_path, settings) as gatekeeper, overhearing(gatekeeper) as passed:
        pub(gatekeeper.port, "curewatch/button/hush", "-m", "1", *KNOWN)
        assert passed.get(timeout=30) == ("curewatch/button/hush", b"1")


def test_a_topic_may_be_written_as_soon_as_it_is_mapped(
    gatekeeper: RunningGatekeeper, tmp_path: Path
) -> None:
    sensor = client(gatekeeper.port)
    sensor.publish("attic/probe", "9.5", qos=1).wait_for_publish(30)
    assert values(gatekeeper) == []
    row = '\n[[mappings]]\ntopic = "attic/probe"\nplace = "air"\nquantity = "air_temperature"\n'
    (tmp_path / "curewatch.toml").write_text(MAPPED + row)
    until(lambda: sensor.publish("attic/probe", "9.5", qos=1) and 9.5 in values(gatekeeper))
    sensor.disconnect()
    sensor.loop_stop()


def test_a_sensor_that_is_not_let_in_is_found_by_listening_and_let_in_by_one_choice(
    gatekeeper: RunningGatekeeper, tmp_path: Path
) -> None:
    discovery = Discovery(MqttSettings(port=gatekeeper.port), tmp_path)
    gatekeeper.gate.overhear = discovery.overhear
    discovery.begin()
    sensor = client(gatekeeper.port)

    def sent() -> int:
        sensor.publish("attic/node", '{"temp": 9.5}', qos=1).wait_for_publish(30)
        return len(discovery.leaves)

    until(sent)
    (leaf,) = discovery.leaves
    assert (leaf.topic, leaf.pointer, leaf.outside) == ("attic/node", "/temp", True)
    discovery.keep(leaf.mapping("air"))
    until(lambda: sent() and 9.5 in values(gatekeeper))
    until(lambda: sent() and not discovery.leaves[0].outside)
    discovery.end()
    sensor.disconnect()
    sensor.loop_stop()


def test_a_will_is_held_to_the_same_tree(gatekeeper: RunningGatekeeper) -> None:
    for topic in ("other/thing", "curewatch/bench/online", "$SYS/x"):
        assert welcomed(gatekeeper.port, hello(will=(topic, "gone")))[2:] == NOT_ALLOWED, topic


def test_a_will_in_the_tree_is_said_when_its_sensor_is_lost(gatekeeper: RunningGatekeeper) -> None:
    with overhearing(gatekeeper) as passed:
        sensor = raw(gatekeeper.port, hello(will=("curewatch/panel/state", "gone")))
        assert sensor.recv(4)[2:] == IN
        sensor.close()
        assert passed.get(timeout=30) == ("curewatch/panel/state", b"gone")
    publish(gatekeeper.port, "curewatch/panel/state", "-r", "-n")


def test_a_sensor_that_parts_in_order_is_not_said_to_be_lost(gatekeeper: RunningGatekeeper) -> None:
    with overhearing(gatekeeper) as passed:
        for number in range(20):
            will = ("curewatch/panel/parted", "gone")
            with contextlib.closing(
                raw(gatekeeper.port, hello(f"cell-{number}", will=will))
            ) as sensor:
                assert sensor.recv(4)[2:] == IN
                sensor.sendall(packet(DISCONNECT, b""))
                assert sensor.recv(4) == b""
        publish(gatekeeper.port, "curewatch/panel/last", "-m", "1")
        passed_on = [passed.get(timeout=30)]
        while passed_on[-1][0] != "curewatch/panel/last":
            passed_on.append(passed.get(timeout=30))
    assert "curewatch/panel/parted" not in {topic for topic, _ in passed_on}


def subscribed(sensor: paho.Client, topics: list[tuple[str, int]]) -> list[bool]:
    answers: queue.Queue[list[bool]] = queue.Queue()
    sensor.on_subscribe = lambda _c, _u, _m, codes, _p: answers.put(
        [not code.is_failure for code in codes]
    )
    sensor.subscribe(topics)
    return answers.get(timeout=30)


def test_a_sensor_hears_no_more_than_its_tree(gatekeeper: RunningGatekeeper) -> None:
    sensor = client(gatekeeper.port)
    got: queue.Queue[str] = queue.Queue()
    sensor.on_message = lambda _c, _u, message: got.put(message.topic)
    for everything in ("#", "+/#", "$SYS/#", "other/thing", "+/panel/+", "$share/a/#"):
        assert subscribed(sensor, [(everything, 0)]) == [False]
    filters = [("#", 1), ("curewatch/bench/#", 1), ("other", 0), ("garage/+/state", 0)]
    assert subscribed(sensor, filters) == [False, True, False, True]
    publish(gatekeeper.port, "other", "-m", "secret")
    publish(gatekeeper.port, "curewatch/bench/online", "-m", "true")
    assert got.get(timeout=30) == "curewatch/bench/online"
    sensor.disconnect()
    sensor.loop_stop()


def test_nobody_takes_the_place_of_another_by_its_name(gatekeeper: RunningGatekeeper) -> None:
    ours = client(gatekeeper.port, "127.0.0.1", client_id="curewatch-buttons-1")
    until(ours.is_connected)
    assert welcomed(gatekeeper.port, hello("curewatch-buttons-1"))[2:] == IN
    time.sleep(0.3)
    assert ours.is_connected()
    ours.disconnect()
    ours.loop_stop()


def test_the_version_before_is_spoken_too(gatekeeper: RunningGatekeeper) -> None:
    assert pub(gatekeeper.port, SURFACE, "-V", "mqttv31", "-m", "14.2", *KNOWN).returncode == 0
    until(lambda: values(gatekeeper) == [14.2])


def test_another_version_is_refused(gatekeeper: RunningGatekeeper) -> None:
    assert welcomed(gatekeeper.port, hello(level=6)) == b"\x20\x02\x00\x01"


BAD = {
    "nothing": b"",
    "zeros": b"\0" * 200,
    "a web page": b"GET / HTTP/1.1\r\nHost: x\r\n\r\n",
    "a length of five bytes": b"\x10\xff\xff\xff\xff\x7f" + b"x" * 100,
    "a hello of 200 MB": b"\x10\xff\xff\xff\x5f" + b"x" * 1000,
    "a hello of another protocol": packet(1, text("HTTP") + b"\4\2\0\0" + text("a")),
    "a hello that ends too soon": hello()[:1] + b"\x05" + hello()[2:7],
    "a hello with a bad text": packet(1, text("MQTT") + b"\4\2\0\0\0\2\xff\xfe"),
    "a reading before any hello": packet(PUBLISH, text(SURFACE) + b"14.2", 0),
}


def test_what_is_no_hello_ends_the_connection(gatekeeper: RunningGatekeeper) -> None:
    for what, sent in BAD.items():
        with raw(gatekeeper.port, sent) as connection:
            connection.shutdown(socket.SHUT_WR)
            assert heard(connection) == b"", what
    assert values(gatekeeper) == []


AFTER = {
    "a second hello": hello(),
    "a packet past the limit": packet(PUBLISH, text(SURFACE) + b"1" * 200_000, 0),
    "a length of five bytes": b"\x30\xff\xff\xff\xff\x7f",
    "a quality of 3": packet(PUBLISH, text(SURFACE) + b"\0\1" + b"1", 6),
    "an identifier of 0": packet(PUBLISH, text(SURFACE) + b"\0\0" + b"1", 2),
    "a topic with a wildcard": packet(PUBLISH, text("curewatch/+/air_temperature") + b"1", 0),
    "a topic of nothing": packet(PUBLISH, text("") + b"1", 0),
    "a topic past its end": packet(PUBLISH, b"\xff\xff1", 0),
    "a subscription to nothing": packet(8, b"\0\1"),
    "flags that do not fit": packet(8, b"\0\1" + text("curewatch/#") + b"\0", 0),
    "what only brokers say": packet(2, b"\0\0"),
}


def test_what_is_no_mqtt_costs_a_sensor_its_connection(gatekeeper: RunningGatekeeper) -> None:
    for what, sent in AFTER.items():
        with raw(gatekeeper.port, hello()) as connection:
            assert connection.recv(4)[2:] == IN
            with contextlib.suppress(OSError):
                connection.sendall(sent)
            assert heard(connection) == b"", what
    publish(gatekeeper.port, SURFACE, "-m", "1")
    until(lambda: values(gatekeeper) == [1.0])


def test_the_quality_of_two_goes_through_its_four_steps(gatekeeper: RunningGatekeeper) -> None:
    sensor = client(gatekeeper.port)
    for topic in (SURFACE, "other/thing"):
        sensor.publish(topic, "14.2", qos=2).wait_for_publish(30)
    until(lambda: values(gatekeeper) == [14.2])
    sensor.disconnect()
    sensor.loop_stop()


def test_a_sensor_without_a_keep_alive_is_not_cut_off(gatekeeper: RunningGatekeeper) -> None:
    connection = raw(gatekeeper.port, hello(keepalive_s=0))
    assert connection.recv(4)[2:] == IN
    time.sleep(0.5)
    connection.sendall(packet(PUBLISH, text(SURFACE) + b"14.2", 0))
    until(lambda: values(gatekeeper) == [14.2])
    connection.close()


def test_a_silent_sensor_is_parted_from_after_its_keep_alive(gatekeeper: RunningGatekeeper) -> None:
    with raw(gatekeeper.port, hello(keepalive_s=1), wait_s=30) as connection:
        assert connection.recv(4)[2:] == IN
        began = time.monotonic()
        assert connection.recv(1) == b""
        assert time.monotonic() - began >= 1


QUICK = ConnectionLimits(clients=30, per_address=10, connect_s=1.0, packet_s=1.0)


def test_who_says_nothing_or_drips_is_parted_from(tmp_path: Path) -> None:
    with run_gatekeeper(tmp_path, limits=QUICK) as gatekeeper:
        with raw(gatekeeper.port) as mute:
            assert mute.recv(1) == b""
        with raw(gatekeeper.port, hello()) as dripping:
            assert dripping.recv(4)[2:] == IN
            taken = 0
            with contextlib.suppress(OSError):
                for byte in packet(PUBLISH, text(SURFACE) + b"1" * 1000, 0):
                    dripping.sendall(bytes([byte]))
                    taken += 1
                    time.sleep(0.02)
            assert taken < 200


def test_half_open_connections_are_bounded_and_keep_this_machine_out_of_it(
    tmp_path: Path,
) -> None:
    with run_gatekeeper(tmp_path, limits=QUICK) as gatekeeper, contextlib.ExitStack() as ends:
        flood = [ends.enter_context(raw(gatekeeper.port)) for _ in range(100)]
        time.sleep(0.3)
        assert len(gatekeeper.gate._connections) <= QUICK.per_address
        publish(gatekeeper.port, SURFACE, "-m", "14.2")
        assert welcomed(gatekeeper.port, hello(), "127.0.0.9")[2:] == IN
        for connection in flood:
            connection.close()
        until(lambda: not gatekeeper.gate._connections)
        assert welcomed(gatekeeper.port, hello())[2:] == IN


def test_many_addresses_together_are_bounded_too(tmp_path: Path) -> None:
    with run_gatekeeper(tmp_path, limits=QUICK) as gatekeeper, contextlib.ExitStack() as ends:
        for n in range(60):
            ends.enter_context(raw(gatekeeper.port, b"", f"127.0.1.{n + 1}"))
        time.sleep(0.3)
        assert len(gatekeeper.gate._connections) <= QUICK.clients
        publish(gatekeeper.port, SURFACE, "-m", "14.2")


def test_connections_of_garbage_leave_nothing_behind(gatekeeper: RunningGatekeeper) -> None:
    garbage_leaves_nothing(gatekeeper, 100, 400)


def test_who_sends_without_end_and_never_reads_fills_no_memory(
    gatekeeper: RunningGatekeeper,
) -> None:
    deaf_fills_nothing(gatekeeper, 0.5)


def test_many_topics_are_not_remembered_without_end(gatekeeper: RunningGatekeeper) -> None:
    sensor = client(gatekeeper.port, "127.0.0.1")
    for n in range(2500):
        sensor.publish(f"{n}/thing", "1", qos=0)
    sensor.publish(SURFACE, "14.2", qos=1).wait_for_publish(30)
    assert len(gatekeeper.gate._routes) <= 2000
    sensor.disconnect()
    sensor.loop_stop()


def test_what_is_refused_is_counted_each_time(gatekeeper: RunningGatekeeper) -> None:
    sensor = client(gatekeeper.port)
    last = [sensor.publish("other/thing", "1", qos=1) for _ in range(200)][-1]
    last.wait_for_publish(30)
    until(lambda: [refusal.count for refusal in gatekeeper.store.refusals()] == [200])
    sensor.disconnect()
    sensor.loop_stop()


def test_it_is_acknowledged_only_once_it_is_stored(gatekeeper: RunningGatekeeper) -> None:
    locked = sqlite3.connect(gatekeeper.store.path, isolation_level=None)
    locked.execute("BEGIN IMMEDIATE")
    sensor = client(gatekeeper.port)
    sent = sensor.publish(SURFACE, "14.2", qos=1)
    with contextlib.suppress(RuntimeError, ValueError):
        sent.wait_for_publish(0.5)
    assert not sent.is_published()
    locked.execute("ROLLBACK")
    locked.close()
    sent.wait_for_publish(30)
    assert sent.is_published()
    assert values(gatekeeper) == [14.2]
    sensor.disconnect()
    sensor.loop_stop()


def test_what_waited_in_a_sensor_is_kept_but_only_its_last_is_believed(
    gatekeeper: RunningGatekeeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sensors.proxy.connection.FRESH_S", 60.0)
    monkeypatch.setattr("sensors.mqtt.writer.PAUSE_S", 0.5)
    monkeypatch.setattr("sensors.mqtt.writer.BATCH_S", 9.0)
    connection = raw(gatekeeper.port, hello(), wait_s=10)
    assert connection.recv(4)[2:] == IN
    connection.sendall(
        b"".join(packet(PUBLISH, text(SURFACE) + f"{n}".encode(), 0) for n in range(10, 15))
        + packet(PUBLISH, text("curewatch/air/air_temperature") + b"20", 0)
    )
    until(lambda: len(values(gatekeeper)) == 6)
    believed = gatekeeper.store.readings(NOW - timedelta(days=1), NOW + timedelta(days=9999))
    assert sorted(reading.value for reading in believed) == [14.0, 20.0]
    monkeypatch.undo()
    monkeypatch.setattr("sensors.proxy.connection.FRESH_S", 0.0)
    connection.sendall(b"".join(packet(PUBLISH, text(SURFACE) + b"14.1", 0) for _ in range(3)))
    until(lambda: len(values(gatekeeper)) == 9)
    connection.close()
    believed = gatekeeper.store.readings(NOW - timedelta(days=1), NOW + timedelta(days=9999))
    assert len(believed) == 5


def test_two_bursts_with_a_restart_between_are_both_kept_whole(
    broker: BrokerProcess, tmp_path: Path
) -> None:
    """Both faster than the clock, which stands still here."""
    for run in (1, 2):
        with before(broker, tmp_path, clock=lambda: NOW) as gatekeeper:
            sensor = client(gatekeeper.port, "127.0.0.1", window=500)
            sent = [sensor.publish(SURFACE, str(n / 100), qos=1) for n in range(400)]
            for mqttmessage_info in sent:
                mqttmessage_info.wait_for_publish(30)
            sensor.disconnect()
            sensor.loop_stop()
            assert len(values(gatekeeper)) == run * 400


def test_a_killed_broker_is_waited_for(alone: RunningGatekeeper) -> None:
    first = alone.broker.pid
    assert first is not None
    os.kill(first, signal.SIGKILL)
    until(lambda: alone.broker.pid != first)
    assert pub(alone.port, SURFACE, "-m", "14.2", *KNOWN).returncode == 0
    until(lambda: values(alone) == [14.2])


def test_a_broker_that_hangs_is_said_and_replaced_one_held_up_for_a_moment_is_not(
    alone: RunningGatekeeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert brokers._HUNG_S + 2 * WAIT_S < 10
    monkeypatch.setattr(brokers, "_SILENT_S", 0.5)
    first = alone.broker.pid
    assert first is not None
    until(lambda: alone.gate.state.startswith("listening"))
    os.kill(first, signal.SIGSTOP)
    until(lambda: "the broker does not answer" in alone.gate.state)
    os.kill(first, signal.SIGCONT)
    until(lambda: alone.gate.state.startswith("listening"))
    assert alone.broker.pid == first
    monkeypatch.setattr(brokers, "_HUNG_S", 0.5)
    os.kill(first, signal.SIGSTOP)
    until(lambda: alone.broker.pid not in (None, first))
    monkeypatch.undo()
    until(lambda: alone.gate.state.startswith("listening"))
    publish(alone.port, SURFACE, "-m", "14.2")
    until(lambda: values(alone) == [14.2])


def test_it_says_how_many_are_connected(gatekeeper: RunningGatekeeper) -> None:
    assert gatekeeper.gate.state == f"listening at 0.0.0.0:{gatekeeper.port}, 0 clients connected"
    with raw(gatekeeper.port, hello()) as connection:
        assert connection.recv(4)[2:] == IN
        assert gatekeeper.gate.state.endswith("1 client connected")
    until(lambda: gatekeeper.gate.connected == 0)


def test_renewed_secrets_part_from_the_home_network_alone(
    broker: BrokerProcess, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sensors.proxy.proxy.RENEWED_EVERY_S", 0.1)
    with before(broker, tmp_path) as gatekeeper:
        ours = client(gatekeeper.port, "127.0.0.1")
        with raw(gatekeeper.port, hello()) as stranger:
            assert stranger.recv(4)[2:] == IN
            marks = count()
            gatekeeper.gate._mark = lambda: f"renewed {next(marks)}"
            assert stranger.recv(4) == b""
        assert ours.is_connected()
        ours.disconnect()
        ours.loop_stop()


ODD = '[[mappings]]\ntopic = "\u00fc/mapped"\nplace = "air"\nquantity = "air_temperature"\n'


def test_topics_of_any_letter_are_taken_and_the_broker_bears_it(tmp_path: Path) -> None:
    with run_gatekeeper(tmp_path, ODD) as gatekeeper, overhearing(gatekeeper) as passed:
        pid = gatekeeper.broker.pid
        heard: list[str] = []
        gatekeeper.gate.overhear = lambda topic, _: heard.append(topic)
        for host in ("127.0.0.1", LAN):
            sensor = client(gatekeeper.port, host)
            assert subscribed(sensor, [("\u00fc/#", 0), ("curewatch/#", 0)]) == [False, True]
            for topic in ("\u00fc/mapped", "\u00fc/other", "\U0001f600"):
                for qos in (0, 1, 2):
                    sensor.publish(topic, f"{qos}", qos=qos).wait_for_publish(30)
            sensor.disconnect()
            sensor.loop_stop()
        assert welcomed(gatekeeper.port, hello(will=("\u00fc", "gone")))[2:] == NOT_ALLOWED
        publish(gatekeeper.port, "k\u00fcche/temp", "-m", "1")
        assert passed.get(timeout=30) == ("k\u00fcche/temp", b"1")
        until(lambda: values(gatekeeper) == [0.0, 0.0, 1.0, 1.0, 2.0, 2.0])
        assert gatekeeper.broker.pid == pid
        assert len(heard) == 18
        odd = {"\u00fc/other", "\U0001f600"}
        until(lambda: {refusal.source for refusal in gatekeeper.store.refusals()} == odd)


def test_without_a_door_nobody_comes_in_from_the_home_network(
    gatekeeper: RunningGatekeeper,
) -> None:
    gatekeeper.gate._passwords._user_is = nobody
    assert welcomed(gatekeeper.port, hello())[2:] == WRONG


@pytest.mark.parametrize(
    ("address", "ours"),
    [
        ("127.0.0.1", True),
        ("127.9.9.9", True),
        ("::1", True),
        ("::ffff:127.0.0.1", True),
        ("192.0.2.7", False),
        ("::ffff:192.0.2.7", False),
        ("fe80::1%eth0", False),
        ("0.0.0.0", False),
    ],
)
def test_whose_address_it_is(address: str, ours: bool) -> None:
    assert of_this_machine(address) is ours


def test_a_taken_port_is_one_sentence(gatekeeper: RunningGatekeeper, tmp_path: Path) -> None:
    writer = Writer(gatekeeper.store, Settings(folder=tmp_path))
    other = Gatekeeper(
        "0.0.0.0", gatekeeper.port, gatekeeper.broker, writer, gatekeeper.gate._clock
    )
    with pytest.raises(ConfigError, match=r"cannot listen on 0\.0\.0\.0 port \d+ \(address"):
        other.start()
    other.stop()
