"""What a broker must do for curewatch, tried on the embedded one and on mosquitto alike."""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from sensors.broker.process import EmbeddedBroker
from sensors.packets.version3 import PUBLISH, packet
from tests.support.brokers import SystemMosquitto, free_port, listens, publish, until
from tests.support.proxies import heard, hello, raw, text

LOCAL = "127.0.0.1"


@dataclass
class Tried:
    """A broker, and how its process is killed and comes back."""

    port: int
    kill: Callable[[], None]
    forgets: bool


@pytest.fixture(params=["embedded", "mosquitto"])
def broker(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Tried]:
    if request.param == "mosquitto":
        outside = SystemMosquitto(tmp_path_factory.mktemp("mosquitto"))

        def again() -> None:
            time.sleep(1.2)
            outside.kill()
            outside.start()

        yield Tried(outside.port, again, False)
        outside.stop()
        return
    with EmbeddedBroker(port=free_port()) as own:

        def killed() -> None:
            assert own.pid is not None
            os.kill(own.pid, signal.SIGKILL)
            until(lambda: own.pid is not None and listens(own.port))

        yield Tried(own.port, killed, True)


Box = queue.Queue[tuple[str, bytes]]


def client(port: int, name: str, *, clean: bool = False, acknowledge: bool = True) -> paho.Client:
    """A connected client; without `acknowledge` it never says that a message is stored."""
    made = paho.Client(
        CallbackAPIVersion.VERSION2, client_id=name, clean_session=clean, manual_ack=not acknowledge
    )
    made.connect(LOCAL, port)
    made.loop_start()
    until(made.is_connected)
    return made


def hearing(port: int, name: str, **words: bool) -> tuple[paho.Client, Box]:
    """A client that hears everything."""
    made, box, ready = client(port, name, **words), Box(), queue.Queue[int]()
    made.on_message = lambda _c, _u, message: box.put((message.topic, bytes(message.payload)))
    made.on_subscribe = lambda *_: ready.put(1)
    made.subscribe("#", 1)
    ready.get(timeout=30)
    return made, box


def part(made: paho.Client) -> None:
    made.disconnect()
    made.loop_stop()


def test_a_silent_client_is_parted_from_after_one_and_a_half_keep_alives(broker: Tried) -> None:
    with raw(broker.port, hello(user=None, keepalive_s=1), LOCAL, 30) as silent:
        assert silent.recv(4)[3] == 0
        began = time.monotonic()
        assert heard(silent) == b""
        assert time.monotonic() - began >= 1.0


def test_the_will_of_a_lost_client_is_said_and_that_of_one_that_parts_is_not(
    broker: Tried,
) -> None:
    ear, box = hearing(broker.port, "ear")
    for lost in (False, True):
        connection = raw(broker.port, hello(user=None, will=("a/will", "gone")), LOCAL)
        assert connection.recv(4)[3] == 0
        if not lost:
            connection.sendall(b"\xe0\x00")
            time.sleep(0.3)
            assert box.empty()
        connection.close()
    assert box.get(timeout=30) == ("a/will", b"gone")
    part(ear)


def test_what_was_not_acknowledged_comes_again_to_a_session_that_returns(broker: Tried) -> None:
    deaf, box = hearing(broker.port, "ours", acknowledge=False)
    publish(broker.port, "a/b", "-m", "1")
    assert box.get(timeout=30) == ("a/b", b"1")
    part(deaf)
    publish(broker.port, "a/b", "-m", "2")
    back = paho.Client(CallbackAPIVersion.VERSION2, client_id="ours", clean_session=False)
    back.on_message = lambda _c, _u, message: box.put((message.topic, bytes(message.payload)))
    back.connect(LOCAL, broker.port)
    back.loop_start()
    assert {box.get(timeout=30)[1] for _ in range(2)} == {b"1", b"2"}
    part(back)


def test_what_a_killed_broker_held_is_kept_by_mosquitto_and_forgotten_by_the_embedded_one(
    broker: Tried,
) -> None:
    ear, box = hearing(broker.port, "ours")
    part(ear)
    publish(broker.port, "a/b", "-m", "1")
    broker.kill()
    back = paho.Client(CallbackAPIVersion.VERSION2, client_id="ours", clean_session=False)
    back.on_message = lambda _c, _u, message: box.put((message.topic, bytes(message.payload)))
    back.connect(LOCAL, broker.port)
    back.loop_start()
    got = None
    with contextlib.suppress(queue.Empty):
        got = box.get(timeout=1.5 if broker.forgets else 30)
    assert got == (None if broker.forgets else ("a/b", b"1"))
    part(back)


def test_retained_messages_are_kept_for_who_comes_later(broker: Tried) -> None:
    publish(broker.port, "a/kept", "-r", "-m", "1")
    ear, box = hearing(broker.port, "late", clean=True)
    assert box.get(timeout=30) == ("a/kept", b"1")
    part(ear)


def test_a_packet_of_four_megabytes_is_the_most(broker: Tried) -> None:
    large = packet(PUBLISH, text("a/b") + b"1" * 5_000_000, 0)
    with raw(broker.port, hello(user=None), LOCAL) as connection:
        assert connection.recv(4)[3] == 0
        with contextlib.suppress(OSError):
            connection.sendall(large)
        assert heard(connection) == b""
    publish(broker.port, "a/b", "-m", "1")


def test_bytes_of_no_sense_do_not_stop_it(broker: Tried) -> None:
    for _ in range(200):
        with contextlib.suppress(OSError), raw(broker.port, os.urandom(300), LOCAL):
            pass
    ear, box = hearing(broker.port, "ear")
    publish(broker.port, "a/b", "-m", "1")
    assert box.get(timeout=30) == ("a/b", b"1")
    part(ear)
