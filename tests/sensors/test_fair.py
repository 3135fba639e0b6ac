"""One who sends much delays the others little: refusals cost no transaction, clients take turns."""

from __future__ import annotations

import json
import socket
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from curewatch.errors import StoreError
from curewatch.quality import tally
from curewatch.quality.tally import MORE, OTHERS, Tally
from curewatch.settings.settings import parse_settings
from curewatch.store.store import Store
from curewatch.store.turned_away import Stranger
from sensors.broker.mosquitto import Mosquitto
from sensors.broker.process import EmbeddedBroker
from sensors.mqtt.fair_queue import FairQueue
from sensors.mqtt.writer import BATCH_BYTES, WAITING, Message, Writer
from sensors.packets import version3
from sensors.payloads.decode import MOST_RECORDS, attempt
from sensors.proxy import quota
from sensors.proxy.connection import ClientConnection
from sensors.proxy.proxy import Gatekeeper
from sensors.proxy.quota import PACKET_BYTES, PACKETS, WITHIN_S, Quota
from tests.support.brokers import until
from tests.support.proxies import SURFACE, hello, raw, run_gatekeeper

NOW = datetime(2026, 11, 1, 18, tzinfo=UTC)
PING, PINGED = (version3.packet(kind, b"") for kind in (version3.PINGREQ, version3.PINGRESP))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with closing(Store(tmp_path / "curewatch.db")) as store:
        yield store


def transactions(store: Store) -> int:
    return store._own_changes


def message(payload: bytes, topic: str = SURFACE, sender: object = None) -> Message:
    return Message(topic, payload, NOW, lambda: None, sender=sender)


def pack(records: int) -> bytes:
    """Records that are no temperature, each with a sentence of its own."""
    return json.dumps([{"n": "a", "u": "Cel", "v": 9000 + n} for n in range(records)]).encode()


def test_what_is_refused_costs_no_transaction_of_its_own(tmp_path: Path, store: Store) -> None:
    writer = Writer(store, parse_settings("", tmp_path))
    bad = [
        *(message(b"odd") for _ in range(50)),
        *(message(b"14", f"curewatch/nowhere{n}/air_temperature") for n in range(50)),
        *(message(b"14", f"elsewhere/{n}") for n in range(50)),
        message(b'[{"n":"a","u":"Cel","v":14,"t":9e8}]'),
        message(pack(1500)),
    ]
    before = transactions(store)
    writer._store_once(bad)
    assert transactions(store) == before
    assert store.refusals() == []
    writer.tally.write()
    assert transactions(store) == before + 1
    assert sum(refusal.count for refusal in store.refusals()) == 151 + 1 + MOST_RECORDS
    writer.tally.write()
    assert transactions(store) == before + 1


def test_readings_that_cannot_be_checked_cost_none_either(
    tmp_path: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise ZeroDivisionError("division by zero")

    writer = Writer(store, parse_settings("", tmp_path))
    monkeypatch.setattr("curewatch.quality.intake.Intake._checked", fails)
    before = transactions(store)
    records = [{"n": "a", "u": "Cel", "v": 14, "t": -n} for n in range(50)]
    writer._store_once([message(json.dumps(records).encode())])
    assert transactions(store) == before + 1
    assert [refusal.count for refusal in store.refusals()] == [50]


def test_a_long_pack_is_taken_in_part_and_the_rest_is_one_refusal() -> None:
    records = [{"n": "a", "u": "Cel", "v": 14, "t": -n} for n in range(1200)]
    readings, refused = attempt(SURFACE, json.dumps(records).encode(), NOW)
    assert [reading.at for reading in readings] == [
        NOW - timedelta(seconds=n) for n in range(MOST_RECORDS)
    ]
    assert [str(error) for error in refused] == [
        "a SenML pack of 1,200 records came; only the first 100 of them were taken in; "
        "set the sensor to send at most 100 records in one message."
    ]
    assert attempt(SURFACE, json.dumps(records[:MOST_RECORDS]).encode(), NOW)[1] == []


def test_what_is_counted_goes_down_once_a_second_at_most(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tally, "EVERY_S", 3600.0)
    ours, before = Tally(store), transactions(store)
    ours.start()
    ours.refuse(NOW, "a", "no number.")
    until(store.refusals)
    for _ in range(1000):
        ours.refuse(NOW, "a", "no number.")
        ours.turn_away(NOW, Stranger("no_password", "192.0.2.1"))
    assert transactions(store) == before + 1
    ours.stop()
    assert transactions(store) == before + 2
    assert [refusal.count for refusal in store.refusals()] == [1001]
    assert [refused.count for refused in store.turned_away()] == [1000]


def test_what_cannot_be_written_is_counted_on(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: object) -> None:
        raise StoreError("nothing could be stored: the disk is full")

    tally = Tally(store)
    tally.refuse(NOW, "a", "no number.")
    with monkeypatch.context() as patched:
        patched.setattr(store, "add_turned_away", full)
        tally.write()
    assert store.refusals() == []
    tally.refuse(NOW, "a", "no number.")
    tally.write()
    assert [refusal.count for refusal in store.refusals()] == [2]


def test_faults_without_end_are_few_rows_and_none_is_uncounted(store: Store) -> None:
    tally = Tally(store)
    for n in range(1000):
        tally.refuse(NOW, "garage/a", f"{n} is not a number.")
    for n in range(1000):
        tally.refuse(NOW, f"garage/{n}", "no number.")
    tally.write()
    counts = {(refusal.source, refusal.sentence): refusal.count for refusal in store.refusals()}
    assert len(counts) <= 201
    assert counts["garage/a", MORE] == 900
    assert counts[OTHERS, MORE] > 800
    assert sum(counts.values()) == 2000


def test_senders_take_turns_and_each_keeps_its_order() -> None:
    queue = FairQueue[str](most=100, most_bytes=1000)
    assert all(queue.put("flood", f"flood {n}", 1) for n in range(100))
    assert not queue.put("flood", "flood 100", 1)
    for n in range(3):
        assert queue.put("sensor", f"sensor {n}", 1)
    taken = [queue.get(0) for _ in range(103)]
    assert taken[:6] == ["flood 0", "sensor 0", "flood 1", "sensor 1", "flood 2", "sensor 2"]
    assert taken[6:] == [f"flood {n}" for n in range(3, 100)]
    assert (queue.get(0), len(queue)) == (None, 0)


def test_a_sender_holds_so_many_bytes_or_a_single_message() -> None:
    queue = FairQueue[int](most=100, most_bytes=1000)
    assert queue.put("flood", 1, 600)
    assert not queue.put("flood", 2, 600)
    assert queue.put("flood", 2, 400)
    assert queue.put("sensor", 3, 5000)
    assert [queue.get(0) for _ in range(3)] == [1, 3, 2]


def test_a_sensors_reading_is_in_the_next_batch_whatever_others_send(
    tmp_path: Path, store: Store
) -> None:
    writer = Writer(store, parse_settings("", tmp_path))
    for sender in range(5):
        for _ in range(WAITING):
            writer.offer(message(pack(20), sender=sender))
    assert writer.offer(message(b"14.2", sender="sensor"))
    batch = writer._collect()
    assert b"14.2" in [message.payload for message in batch[:6]]
    assert sum(len(message.payload) for message in batch) <= BATCH_BYTES + len(pack(20))


def test_a_client_has_its_share_and_then_the_others() -> None:
    own = Quota()
    assert [own.used_up(2, 5.0) for _ in range(PACKETS)] == [False] * PACKETS
    assert own.used_up(2, 5.0)
    assert [own.used_up(2, 5.1) for _ in range(PACKETS - 1)] == [False] * (PACKETS - 1)
    assert own.used_up(2, 5.2)
    for _ in range(PACKETS):
        own.used_up(2, 5.3)
    assert not own.used_up(2, 5.3 + 2 * WITHIN_S)


def test_a_large_packet_counts_as_several() -> None:
    own = Quota()
    assert not own.used_up(PACKETS * PACKET_BYTES, 5.0)
    assert own.used_up(2, 5.0)


@pytest.mark.parametrize("kind", [EmbeddedBroker, Mosquitto])
def test_between_two_turns_of_the_others_only_a_share_is_passed_on(
    tmp_path: Path, kind: type[EmbeddedBroker | Mosquitto], monkeypatch: pytest.MonkeyPatch
) -> None:
    steps, turn, take = list[str](), Gatekeeper.turn, ClientConnection._dispatch

    async def turned(gate: Gatekeeper) -> None:
        steps.append("turn")
        await turn(gate)

    async def taken(connection: ClientConnection, *args: object) -> None:
        steps.append("packet")
        await take(connection, *args)  # type: ignore[arg-type]

    monkeypatch.setattr(quota, "WITHIN_S", 3600.0)
    monkeypatch.setattr(Gatekeeper, "turn", turned)
    monkeypatch.setattr(ClientConnection, "_dispatch", taken)
    with (
        run_gatekeeper(tmp_path, kind=kind) as gatekeeper,
        raw(gatekeeper.port, hello(), wait_s=30.0) as client,
    ):
        assert client.recv(4) == version3.connack(0)
        client.sendall(PING * 1000)
        subscribed = version3.make_subscribe(7, [("curewatch/#", 0)])
        client.sendall(subscribed)
        assert answers(client, 1000 * 2 + 5) == (PINGED * 1000 + bytes.fromhex("9003000700"))
    runs = "".join("T" if step == "turn" else "p" for step in steps).split("T")
    assert max(map(len, runs)) == PACKETS
    assert sum(map(len, runs)) >= 1001


def answers(connection: socket.socket, size: int) -> bytes:
    """So many bytes of what is answered."""
    got = b""
    while len(got) < size and (data := connection.recv(size - len(got))):
        got += data
    return got
