"""How long a sensor waits for its acknowledgement while another floods: ./tests/bench/run fair.

A sensor sends a reading at QoS 1 every 50 ms to `curewatch up`, before each of its two brokers,
and waits for its acknowledgement, which comes once the reading is stored. Meanwhile another client
sends as fast as it can. The baseline is the same sensor without the other.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import socket
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from itertools import cycle
from pathlib import Path

from sensors.packets import version3
from tests.support.campaign import TOPIC, Whole
from tests.support.proxies import hello, text

EVERY_S, SETTLE_S, PATIENCE_S = 0.05, 1.0, 90.0
KINDS = ("embedded", "mosquitto")
PACK = json.dumps([{"n": f"{n:x}", "u": "Cel", "v": 2000 + n} for n in range(1500)]).encode()[:-1]
PACK += b"," + b",".join([b'{"n":"a","u":"Cel","v":9e3}'] * ((65_530 - len(PACK)) // 28)) + b"]"


def publish(topic: str, payload: bytes, id: int = 0) -> bytes:
    """A PUBLISH, at QoS 1 where it has an identifier."""
    number = id.to_bytes(2, "big") if id else b""
    return version3.packet(version3.PUBLISH, text(topic) + number + payload, 2 * bool(id))


def many(make: Callable[[int], bytes]) -> list[bytes]:
    """A thousand packets, with identifiers from 1."""
    return [make(n) for n in range(1, 1001)]


FLOODS: dict[str, list[bytes]] = {
    "two packs of 64 kB, refused": [publish(TOPIC, PACK, n) for n in (1, 2)],
    "packs of 64 kB without end": [publish(TOPIC, PACK, 1)],
    "PINGREQ": [version3.packet(version3.PINGREQ, b"") * 1000],
    "SUBSCRIBE": many(lambda n: version3.make_subscribe(n, [(f"curewatch/x{n}/+", 0)])),
    "PUBLISH at QoS 0, elsewhere": [publish("elsewhere/thing", b"1") * 1000],
    "readings at QoS 0": [publish("curewatch/air/air_temperature", b"14.5") * 1000],
    "readings at QoS 1": many(lambda n: publish("curewatch/air/air_temperature", b"14.5", n)),
    "readings refused, each another": many(
        lambda n: publish(f"curewatch/nowhere{n}/air_temperature", b"14.5", n)
    ),
}
ONCE = "two packs of 64 kB, refused"


def connected(port: int, name: str) -> socket.socket:
    """A client of this machine that is let in."""
    connection = socket.create_connection(("127.0.0.1", port), 10.0)
    connection.sendall(hello(name, user=None))
    assert connection.recv(4) == version3.connack(0)
    return connection


def flood(port: int, kind: str, number: int) -> None:
    """Send without end, and take what is answered."""
    connection = connected(port, f"flood-{number}")
    connection.settimeout(None)
    threading.Thread(target=swallow, args=(connection,), daemon=True).start()
    sent = FLOODS[kind]
    with suppress(OSError):
        for raw in iter(sent) if kind == ONCE else cycle(sent):
            connection.sendall(raw)
        time.sleep(PATIENCE_S)


def swallow(connection: socket.socket) -> None:
    """Take what is answered."""
    with suppress(OSError):
        while connection.recv(65_536):
            pass


@contextmanager
def flooded(port: int, kind: str, clients: int) -> Iterator[None]:
    """While these clients flood."""
    context = multiprocessing.get_context("spawn")
    running = [
        context.Process(target=flood, args=(port, kind, n), daemon=True) for n in range(clients)
    ]
    for spawn_process in running:
        spawn_process.start()
    try:
        yield
    finally:
        for spawn_process in running:
            spawn_process.kill()
            spawn_process.join()


def waits(port: int, for_s: float) -> list[float]:
    """How long each acknowledgement takes [s]; one that does not come in time is PATIENCE_S."""
    connection, took = connected(port, "honest"), list[float]()
    connection.settimeout(PATIENCE_S)
    until, id = time.monotonic() + for_s, 0
    with connection:
        while time.monotonic() < until:
            id = id % 60_000 + 1
            began = time.monotonic()
            connection.sendall(publish(TOPIC, b"%.2f" % (10 + id % 50 / 10), id))
            answered = b""
            with suppress(OSError):
                while len(answered) < 4 and (data := connection.recv(4 - len(answered))):
                    answered += data
            if answered != version3.answer(version3.PUBACK, id):
                return [*took, PATIENCE_S]
            took.append(time.monotonic() - began)
            time.sleep(EVERY_S)
    return took


def row(broker: str, what: str, took: list[float]) -> str:
    """A line of the table."""
    ranked = sorted(took)
    p99 = ranked[min(len(ranked) - 1, round(0.99 * len(ranked)))]
    figures = " | ".join(
        f"{1000 * value:,.0f}" for value in (statistics.median(took), p99, ranked[-1])
    )
    return f"| {broker} | {what} | {len(took)} | {figures} |"


def campaign(broker: str, kinds: list[str], for_s: float, clients: int) -> None:
    """Print the lines of one broker; each flood meets a broker that has just started."""
    for kind in (None, *kinds):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            (folder / "curewatch.toml").write_text(f'[mqtt]\nbroker = "{broker}"\n')
            held = Whole(folder)
            try:
                if kind is None:
                    took = waits(held.port, for_s)
                else:
                    with flooded(held.port, kind, clients):
                        time.sleep(0 if kind == ONCE else SETTLE_S)
                        took = waits(held.port, for_s)
            finally:
                held.stop()
        print(row(broker, kind or "baseline: nobody else", took), flush=True)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--clients", type=int, default=1, help="how many flood at once (1)")
    parser.add_argument("--only", choices=FLOODS, action="append")
    parser.add_argument("--broker", choices=KINDS, action="append")
    options = parser.parse_args()
    print("| broker | the other client sends | readings | p50, ms | p99, ms | longest, ms |")
    print("|---|---|---|---|---|---|", flush=True)
    for broker in options.broker or KINDS:
        campaign(broker, options.only or list(FLOODS), options.seconds, options.clients)


if __name__ == "__main__":
    main()
