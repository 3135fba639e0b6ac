"""What the broker holds is bounded: retained messages, and messages for who has gone."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from sensors.broker.mosquitto import Mosquitto
from sensors.broker.process import EmbeddedBroker
from sensors.packets.retained import BESIDE_BYTES, MOST_BYTES, MOST_MESSAGES, Retained
from sensors.packets.version3 import PINGREQ, PUBLISH, SUBSCRIBE, packet
from tests.support.brokers import publish, until
from tests.support.proxies import LAN, SURFACE, RunningGatekeeper, hello, raw, run_gatekeeper, text

LOCAL, RETAIN, CYCLES, MOST_MB = "127.0.0.1", 1, 1500, 8.0


@pytest.fixture(params=[EmbeddedBroker, Mosquitto])
def gatekeeper(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[RunningGatekeeper]:
    with run_gatekeeper(tmp_path, kind=request.param) as gatekeeper:
        yield gatekeeper


def retain(port: int, messages: list[tuple[str, bytes]], host: str = LOCAL) -> None:
    """Publish each of these to be retained, and wait until the broker has them."""
    with raw(port, hello(user=None if host == LOCAL else "garage"), host, 30) as connection:
        assert connection.recv(4)[3] == 0
        for topic, payload in messages:
            connection.sendall(packet(PUBLISH, text(topic) + payload, RETAIN))
        connection.sendall(packet(PINGREQ, b""))
        assert connection.recv(2) == b"\xd0\0"


def kept(port: int) -> int:
    """How many retained messages a newcomer hears at once."""
    with raw(port, hello(user=None), LOCAL, 2) as connection:
        connection.recv(4)
        connection.sendall(packet(SUBSCRIBE, b"\0\1" + text("#") + b"\0", 2))
        got = b""
        with contextlib.suppress(OSError):
            while data := connection.recv(1 << 20):
                got += data
    return got.count(b"a/")


def refused(gatekeeper: RunningGatekeeper) -> list[str]:
    with contextlib.closing(sqlite3.connect(gatekeeper.store.path)) as connection:
        return [str(row) for row in connection.execute("SELECT * FROM refused")]


def memory_mb(gatekeeper: RunningGatekeeper) -> float:
    assert gatekeeper.broker.pid is not None
    return float(psutil.Process(gatekeeper.broker.pid).memory_full_info().uss) / 1e6


def test_retained_messages_are_bounded_by_count_and_the_rest_is_said(
    gatekeeper: RunningGatekeeper,
) -> None:
    retain(gatekeeper.port, [(f"a/{number}", b"1") for number in range(MOST_MESSAGES + 20)])
    assert kept(gatekeeper.port) == MOST_MESSAGES
    until(lambda: any("not retained" in refusal for refusal in refused(gatekeeper)))
    retain(gatekeeper.port, [("a/0", b""), ("a/new", b"1")])
    assert kept(gatekeeper.port) == MOST_MESSAGES


def test_retained_messages_are_bounded_by_bytes(gatekeeper: RunningGatekeeper) -> None:
    before = memory_mb(gatekeeper)
    retain(gatekeeper.port, [(f"a/{number}", b"x" * 120_000) for number in range(400)])
    assert memory_mb(gatekeeper) - before < 3 * MOST_BYTES / 1e6


def test_one_too_many_is_passed_on_and_a_reading_in_it_stored(
    gatekeeper: RunningGatekeeper,
) -> None:
    retain(gatekeeper.port, [(f"a/{number}", b"1") for number in range(MOST_MESSAGES)])
    publish(gatekeeper.port, SURFACE, "-r", "-m", "14.2")
    until(lambda: [reading.value for reading in gatekeeper.store.latest()] == [14.2])
    assert kept(gatekeeper.port) == MOST_MESSAGES


def test_the_home_network_cannot_take_the_room_of_this_machine(
    gatekeeper: RunningGatekeeper,
) -> None:
    tree = [(f"curewatch/a/{number}", b"1") for number in range(MOST_MESSAGES + 5)]
    retain(gatekeeper.port, tree, LAN)
    retain(gatekeeper.port, [("a/own", b"1")])
    assert kept(gatekeeper.port) == MOST_MESSAGES + 1


def test_a_retained_will_is_held_to_the_same_bound(gatekeeper: RunningGatekeeper) -> None:
    retain(gatekeeper.port, [(f"a/{number}", b"1") for number in range(MOST_MESSAGES)])
    with raw(gatekeeper.port, hello(user=None, will=("a/will", "gone")), LOCAL) as lost:
        assert lost.recv(4)[3] == 0
    until(lambda: gatekeeper.gate.connected == 0)
    assert kept(gatekeeper.port) == MOST_MESSAGES


def test_a_broker_that_started_again_has_all_its_room(gatekeeper: RunningGatekeeper) -> None:
    retain(gatekeeper.port, [(f"a/{number}", b"1") for number in range(MOST_MESSAGES)])
    first = gatekeeper.broker.pid
    assert first is not None
    psutil.Process(first).kill()
    until(lambda: gatekeeper.broker.pid not in (None, first))
    retain(gatekeeper.port, [("a/new", b"1")])
    assert kept(gatekeeper.port) == 1


def test_the_sizes_of_topics_are_counted_once_each() -> None:
    table = Retained(most_messages=2, most_bytes=2 * BESIDE_BYTES + 20)
    assert all(table.takes(*pair) for pair in (("a", 5), ("a", 9), ("b", 9)))
    assert not table.takes("b", 10)
    assert not table.takes("c", 1)
    assert all(table.takes(*pair) for pair in (("a", 0), ("c", 9)))
    table.clear()
    assert table.takes("d", 19)


def test_sensors_that_publish_and_part_leave_nothing_for_a_subscriber_that_is_gone(
    gatekeeper: RunningGatekeeper,
) -> None:
    with raw(gatekeeper.port, hello("gone", user=None, clean=False), LOCAL) as ear:
        ear.recv(4)
        ear.sendall(packet(SUBSCRIBE, b"\0\1" + text("#") + b"\1", 2))
        ear.recv(5)
    before = memory_mb(gatekeeper)
    for number in range(CYCLES):
        with raw(gatekeeper.port, hello(f"s{number % 10}", user=None), LOCAL) as sensor:
            sensor.recv(4)
            sensor.sendall(packet(PUBLISH, text("a/b") + b"\0\1" + b"x" * 400, 2))
            assert sensor.recv(4)[:1] == b"\x40"
    assert memory_mb(gatekeeper) - before < MOST_MB
