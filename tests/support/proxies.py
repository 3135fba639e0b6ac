"""A gatekeeper before a real broker, and clients from the home network to try it with.

The home network is played by another address of the loopback network: the gatekeeper trusts
127.0.0.1 alone here, and 127.0.0.2 is a stranger.
"""

from __future__ import annotations

import contextlib
import socket
import sqlite3
import struct
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from curewatch.settings.settings import parse_settings
from curewatch.store.store import Store
from sensors.broker.process import BrokerProcess, EmbeddedBroker
from sensors.mqtt.writer import Writer
from sensors.packets.version3 import CONNECT, packet
from sensors.proxy.limits import ConnectionLimits
from sensors.proxy.proxy import Gatekeeper
from tests.support.brokers import tool, until

LAN, USER, PASSWORD = "127.0.0.2", "garage", "open sesame"
IN = b"\0\0"  # of a CONNACK that lets in
SURFACE = "curewatch/panel/surface_temperature"
MAPPED = """
[[mappings]]
topic = "garage/+/state"
pointer = "/t"
place = "panel"
quantity = "surface_temperature"
"""


@dataclass
class RunningGatekeeper:
    """A gatekeeper with what is behind it."""

    gate: Gatekeeper
    broker: BrokerProcess
    store: Store

    @property
    def port(self) -> int:
        return self.gate.port


def values(gatekeeper: RunningGatekeeper) -> list[float]:
    """The stored values, in order of size."""
    with contextlib.closing(sqlite3.connect(gatekeeper.store.path)) as connection:
        return sorted(row[0] for row in connection.execute("SELECT value FROM reading"))


def user_is(user: str, password: str) -> bool:
    return (user, password) == (USER, PASSWORD)


@contextlib.contextmanager
def run_gatekeeper(
    folder: Path,
    text: str = "",
    limits: ConnectionLimits | None = None,
    kind: type[BrokerProcess] = EmbeddedBroker,
) -> Iterator[RunningGatekeeper]:
    """A gatekeeper that is listening, before a broker of its own."""
    with kind(port=0, folder=folder) as broker, before(broker, folder, text, limits) as gatekeeper:
        yield gatekeeper


@contextlib.contextmanager
def before(
    broker: BrokerProcess,
    folder: Path,
    text: str = "",
    limits: ConnectionLimits | None = None,
    clock: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> Iterator[RunningGatekeeper]:
    """A gatekeeper that is listening, before a broker that runs."""
    store = Store(folder / "curewatch.db")
    gate = Gatekeeper(
        "0.0.0.0",
        0,
        broker,
        Writer(store, parse_settings(text, folder)),
        clock,
        user_is,
        limits=limits or ConnectionLimits(),
        trusts=lambda address: address == "127.0.0.1",
    )
    gate.start()
    try:
        yield RunningGatekeeper(gate, broker, store)
    finally:
        gate.stop()
        store.close()


def pub(port: int, topic: str, *words: str, host: str = LAN) -> subprocess.CompletedProcess[str]:
    """Publish with mosquitto_pub from the home network; its exit code and what it said."""
    command = [tool("mosquitto_pub"), "-h", host, "-A", host, "-p", str(port), "-t", topic]
    return subprocess.run([*command, *words], capture_output=True, text=True, timeout=30)


KNOWN = ("-u", USER, "-P", PASSWORD, "-q", "1")


def client(port: int, host: str = LAN, window: int = 20, **words: object) -> paho.Client:
    """A connected client of paho from an address, signed in."""
    made = paho.Client(CallbackAPIVersion.VERSION2, **words)  # type: ignore[arg-type]
    made.username_pw_set(USER, PASSWORD)
    made.max_inflight_messages_set(window)
    made.connect(host, port, bind_address=host)
    made.loop_start()
    until(made.is_connected)
    return made


def text(words: str) -> bytes:
    raw = words.encode()
    return struct.pack(">H", len(raw)) + raw


def hello(
    name: str = "raw",
    user: str | None = USER,
    password: str = PASSWORD,
    will: tuple[str, str] | None = None,
    keepalive_s: int = 60,
    level: int = 4,
    clean: bool = True,
) -> bytes:
    """A CONNECT. [s]"""
    flags = 2 * clean | (0xC0 if user is not None else 0) | (0x2C if will else 0)
    body = text("MQTT") + bytes([level, flags]) + struct.pack(">H", keepalive_s)
    body += (b"\0" if level == 5 else b"") + text(name)
    for each in will or ():
        body += text(each)
    if user is not None:
        body += text(user) + text(password)
    return packet(CONNECT, body)


def raw(port: int, sent: bytes = b"", host: str = LAN, wait_s: float = 30.0) -> socket.socket:
    """A bare socket from an address, with something sent. [s]"""
    connection = socket.create_connection((host, port), wait_s, source_address=(host, 0))
    connection.sendall(sent)
    return connection


def heard(connection: socket.socket) -> bytes:
    """What comes until the other side ends, or nothing comes any more."""
    got = b""
    with contextlib.suppress(OSError):
        while data := connection.recv(65536):
            got += data
    return got


def welcomed(port: int, sent: bytes, host: str = LAN) -> bytes:
    """The four bytes that answer a CONNECT, or what there was of them."""
    with raw(port, sent, host) as connection, contextlib.suppress(OSError):
        return connection.recv(64)
    return b""
