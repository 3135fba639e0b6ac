"""MQTT 5 through the gatekeeper: clients of others speak it, and nothing acknowledged is lost."""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt import properties
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from curewatch.store.turned_away import Stranger
from sensors.packets import version3
from sensors.packets.version3 import packet
from tests.support.brokers import until
from tests.support.proxies import (
    KNOWN,
    LAN,
    PASSWORD,
    SURFACE,
    USER,
    RunningGatekeeper,
    heard,
    hello,
    pub,
    raw,
    run_gatekeeper,
    text,
    welcomed,
)

STATE = "curewatch/panel/state"
Box = queue.Queue[Any]


@pytest.fixture
def gatekeeper(tmp_path: Path) -> Iterator[RunningGatekeeper]:
    with run_gatekeeper(tmp_path) as gatekeeper:
        yield gatekeeper


def values(gatekeeper: RunningGatekeeper) -> list[float]:
    with contextlib.closing(sqlite3.connect(gatekeeper.store.path)) as connection:
        return sorted(row[0] for row in connection.execute("SELECT value FROM reading"))


def of(kind: int, **data: object) -> Any:
    """Properties of a packet."""
    made: Any = properties.Properties(kind)  # type: ignore[no-untyped-call]
    for name, value in data.items():
        setattr(made, name, value)
    return made


@contextlib.contextmanager
def client(
    gatekeeper: RunningGatekeeper,
    name: str = "",
    host: str = LAN,
    password: str = PASSWORD,
    anew: bool = True,
    will: str = "",
    **data: object,
) -> Iterator[tuple[paho.Client, Box]]:
    """A client of version 5 that has been answered, and what it was told: first the answer."""
    made, box = paho.Client(CallbackAPIVersion.VERSION2, name, protocol=paho.MQTTv5), Box()
    made.username_pw_set(USER, password)
    if will:
        made.will_set(STATE, will, 1)
    made.on_connect = lambda _c, _u, flags, code, properties: box.put((flags, code, properties))
    made.on_message = lambda _c, _u, message: box.put(
        (message.topic, message.payload, message.retain)
    )
    made.on_subscribe = lambda _c, _u, _m, codes, _p: box.put([code.value for code in codes])
    made.on_unsubscribe = lambda _c, _u, _m, codes, _p: box.put([code.value for code in codes])
    made.on_publish = lambda _c, _u, _m, code, _p: box.put(code.value)
    made.connect(
        host,
        gatekeeper.port,
        bind_address=host,
        clean_start=anew,
        properties=of(PacketTypes.CONNECT, **data),
    )
    made.loop_start()
    try:
        yield made, box
    finally:
        made.disconnect()
        made.loop_stop()


def next_answer(box: Box) -> Any:
    return box.get(timeout=30)


@pytest.mark.parametrize("qos", [0, 1, 2])
def test_a_reading_comes_in_at_each_quality(gatekeeper: RunningGatekeeper, qos: int) -> None:
    with client(gatekeeper) as (sensor, box):
        assert next_answer(box)[1] == ReasonCode(PacketTypes.CONNACK, "Success")
        sensor.publish(SURFACE, "14.2", qos, properties=of(PacketTypes.PUBLISH, ContentType="text"))
        assert next_answer(box) == 0
        until(lambda: values(gatekeeper) == [14.2])


@pytest.mark.parametrize("qos", ["0", "1", "2"])
def test_debians_publisher_speaks_it(gatekeeper: RunningGatekeeper, qos: str) -> None:
    words = ("-V", "5", "-D", "publish", "user-property", "a", "b", *KNOWN, "-q", qos)
    done = pub(gatekeeper.port, SURFACE, "-m", "14.2", *words)
    assert done.returncode == 0, done.stderr
    until(lambda: values(gatekeeper) == [14.2])


def test_the_welcome_tells_our_limits_and_the_name_it_gets(gatekeeper: RunningGatekeeper) -> None:
    with client(gatekeeper) as (_, box):
        properties = next_answer(box)[2]
        assert properties.MaximumPacketSize == 131_072
        assert properties.AssignedClientIdentifier.startswith("guest-")
        assert properties.SharedSubscriptionAvailable == 0


@pytest.mark.parametrize(
    ("words", "reason", "why"),
    [
        ({"password": "open sesam"}, 0x86, "wrong_password"),
        ({"user": None}, 0x87, "no_password"),
        ({"will": ("other/thing", "x")}, 0x87, "will_topic"),
    ],
)
def test_who_is_not_let_in_is_told_why_and_leaves_a_trace(
    gatekeeper: RunningGatekeeper, words: dict[str, Any], reason: int, why: str
) -> None:
    will = words.pop("will", None)
    sent = hello(level=5, **words)
    if will:
        body = text("MQTT") + b"\5\xc6\0\x3c\0" + text("raw") + b"\0"
        for field in (*will, USER, PASSWORD):
            body += text(field)
        sent = packet(version3.CONNECT, body)
    assert welcomed(gatekeeper.port, sent) == bytes([0x20, 3, 0, reason, 0])
    until(gatekeeper.store.turned_away)
    assert [refused.who.why for refused in gatekeeper.store.turned_away()] == [why]


def test_a_sign_in_of_its_own_is_refused(gatekeeper: RunningGatekeeper) -> None:
    asks = bytes.fromhex("06 15 00 03") + b"abc"
    sent = packet(version3.CONNECT, text("MQTT") + b"\5\2\0\x3c" + asks + text("raw"))
    assert welcomed(gatekeeper.port, sent) == bytes.fromhex("20 03 00 8c 00")
    until(gatekeeper.store.turned_away)
    assert gatekeeper.store.turned_away()[0].who == Stranger("own_method", LAN, "raw")


def test_a_subscription_is_answered_filter_by_filter(gatekeeper: RunningGatekeeper) -> None:
    with client(gatekeeper) as (sensor, box):
        next_answer(box)
        sensor.subscribe(
            [
                ("curewatch/#", SubscribeOptions(qos=1)),
                ("#", SubscribeOptions(qos=0)),
                ("curewatch/bench/#", SubscribeOptions(qos=1, noLocal=True)),
            ]
        )
        assert next_answer(box) == [1, 0x87, 0x83]
        sensor.publish(STATE, "on", 1)
        assert {next_answer(box), next_answer(box)} == {0, (STATE, b"on", False)}
        sensor.unsubscribe(["curewatch/#"])
        if (answer := next_answer(box)) != [0]:
            pytest.fail(f"unsubscribed with {answer}")


def test_a_retained_message_is_kept_for_who_comes_later(gatekeeper: RunningGatekeeper) -> None:
    with client(gatekeeper) as (sensor, box):
        next_answer(box)
        sensor.publish(STATE, "on", 1, retain=True)
        assert next_answer(box) == 0
    with client(gatekeeper) as (later, box):
        next_answer(box)
        later.subscribe(STATE, 1)
        assert {str(next_answer(box)), str(next_answer(box))} == {"[1]", str((STATE, b"on", True))}


def test_a_message_where_it_may_not_write_is_answered_with_not_authorized(
    gatekeeper: RunningGatekeeper,
) -> None:
    with client(gatekeeper) as (sensor, box):
        next_answer(box)
        sensor.publish("other/thing", "1", 1)
        assert next_answer(box) == 0x87
    until(lambda: [refusal.source for refusal in gatekeeper.store.refusals()] == ["other/thing"])


@pytest.mark.parametrize("released", [True, False])
def test_one_refused_at_quality_two_leaves_its_number_free(
    gatekeeper: RunningGatekeeper, released: bool
) -> None:
    refused = packet(version3.PUBLISH, text("other/thing") + b"\0\1\0" + b"1", 4)
    good = packet(version3.PUBLISH, text(SURFACE) + b"\0\1\0" + b"14.2", 4)
    rel, comp = version3.answer(version3.PUBREL, 1), version3.answer(version3.PUBCOMP, 1)
    with raw(gatekeeper.port, hello(level=5)) as connection:
        connection.recv(64)
        connection.sendall(refused)
        assert connection.recv(64) == bytes.fromhex("50 03 00 01 87")
        if released:
            connection.sendall(rel)
            assert connection.recv(64) == comp
        connection.sendall(good)
        assert connection.recv(64) == version3.answer(version3.PUBREC, 1)
        connection.sendall(rel)
        assert connection.recv(64) == comp
    until(lambda: values(gatekeeper) == [14.2])


@pytest.mark.parametrize(("reason", "sent"), [(0, False), (4, True)])
def test_the_will_is_said_unless_it_parts_in_order(
    gatekeeper: RunningGatekeeper, reason: int, sent: bool
) -> None:
    with client(gatekeeper, host="127.0.0.1") as (ear, box):
        next_answer(box)
        ear.subscribe("#", 1)
        next_answer(box)
        with client(gatekeeper, will="gone") as (sensor, own):
            next_answer(own)
            sensor.disconnect(ReasonCode(PacketTypes.DISCONNECT, identifier=reason))
        time.sleep(0.5)
        ear.publish("the/end", "1", 0)
        got = [next_answer(box), next_answer(box)]
        assert ((STATE, b"gone", False) in got) is sent


def test_what_comes_while_it_is_away_waits_as_long_as_its_session(
    gatekeeper: RunningGatekeeper,
) -> None:
    def asleep(seconds: float, expiry_s: int) -> tuple[bool, list[Any]]:
        with client(gatekeeper, "cell", SessionExpiryInterval=expiry_s) as (sensor, box):
            next_answer(box)
            sensor.subscribe(STATE, 1)
            assert next_answer(box) == [1]
        with client(gatekeeper, "other") as (other, box):
            next_answer(box)
            other.publish(STATE, "on", 1)
            assert next_answer(box) == 0
        time.sleep(seconds)
        with client(gatekeeper, "cell", anew=False, SessionExpiryInterval=expiry_s) as (_, box):
            flags = next_answer(box)[0]
            with contextlib.suppress(queue.Empty):
                return flags.session_present, [box.get(timeout=1)]
            return flags.session_present, []

    assert asleep(0.0, 3600) == (True, [(STATE, b"on", False)])
    assert asleep(1.2, 1) == (False, [])


def test_one_that_begins_anew_finds_nothing_of_before(gatekeeper: RunningGatekeeper) -> None:
    with client(gatekeeper, "cell", SessionExpiryInterval=3600) as (sensor, box):
        next_answer(box)
        sensor.subscribe(STATE, 1)
        next_answer(box)
    with client(gatekeeper, "cell", SessionExpiryInterval=3600) as (_, box):
        assert not next_answer(box)[0].session_present


@pytest.mark.parametrize(
    ("sent", "reason"),
    [
        (packet(version3.PUBLISH, text(SURFACE) + b"\x03\x23\x00\x01" + b"1", 0), 0x94),
        (packet(version3.PUBLISH, text(SURFACE) + b"\0" + b"1" * 200_000, 0), 0x95),
        (packet(version3.AUTH, b""), 0x82),
        (packet(version3.SUBSCRIBE, b"\0\1\0" + text("$share/a/curewatch/#") + b"\0"), 0x9E),
        (packet(version3.PUBLISH, b"\xff\xff1", 0), 0x81),
        (packet(version3.CONNACK, b"\0\0\0"), 0x82),
    ],
)
def test_what_is_not_taken_ends_with_its_reason(
    gatekeeper: RunningGatekeeper, sent: bytes, reason: int
) -> None:
    with raw(gatekeeper.port, hello(level=5)) as connection:
        welcome = connection.recv(64)
        assert welcome[0] == 0x20
        assert welcome[3] == 0
        with contextlib.suppress(OSError):
            connection.sendall(sent)
        assert heard(connection) == bytes([0xE0, 1, reason])


def test_it_is_acknowledged_only_once_it_is_stored(gatekeeper: RunningGatekeeper) -> None:
    with client(gatekeeper) as (sensor, box):
        next_answer(box)
        locked = sqlite3.connect(gatekeeper.store.path, isolation_level=None)
        locked.execute("BEGIN IMMEDIATE")
        sensor.publish(SURFACE, "14.2", 1)
        with pytest.raises(queue.Empty):
            box.get(timeout=1.5)
        locked.execute("ROLLBACK")
        locked.close()
        assert next_answer(box) == 0
        assert values(gatekeeper) == [14.2]


def test_a_killed_broker_costs_nothing_that_was_acknowledged(gatekeeper: RunningGatekeeper) -> None:
    acknowledged: set[float] = set()
    numbers = iter(range(100, 2600))
    with client(gatekeeper, "cell") as (sensor, box):
        next_answer(box)
        sent: dict[int, float] = {}
        sensor.on_publish = lambda _c, _u, id, code, _p: box.put((id, code.value))
        for _ in range(5):
            for number in (next(numbers) for _ in range(100)):
                value = number / 100
                sent[sensor.publish(SURFACE, str(value), 1).mid] = value
            time.sleep(0.05)
            until(lambda: gatekeeper.broker.pid is not None)
            os.kill(gatekeeper.broker.pid or 0, signal.SIGKILL)
            time.sleep(0.2)
            until(sensor.is_connected, 60)
        while len(acknowledged) < 500:
            answer = next_answer(box)
            if isinstance(answer, tuple) and len(answer) == 2 and answer[1] == 0:
                acknowledged.add(sent[answer[0]])
    assert acknowledged <= set(values(gatekeeper))
