"""The subscriber: a message is acknowledged only after its readings are committed.

The network thread puts messages into a bounded queue; one writer thread takes up to 200 of
them, or what comes within 100 ms, stores them in one transaction and then acknowledges them.
While the store refuses, nothing is acknowledged and the same batch is tried again; the broker
keeps what it has sent, and what is still to come waits there. The session is persistent and
the client's name fixed, so that a broker of its own sends again, after a crash of this
process, what was not acknowledged.
"""

from __future__ import annotations

import contextlib
import queue
import sqlite3
import ssl
import sys
import threading
from collections.abc import Callable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from time import monotonic
from typing import Any, Protocol

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode

from curewatch.config import FILE, Mapping, Settings, load_settings
from curewatch.errors import ConfigError, ReadingError, StoreError
from curewatch.reading import USUAL_PLACES, Reading
from sensors.arrival import Arrivals, Backlog
from sensors.payload import PREFIX, attempt
from sensors.session import SESSION, load_session, save_session

BATCH, BATCH_S, WAITING = 200, 0.1, 1000
PAUSE_S, STOP_S, KEEPALIVE_S = 0.002, 10.0, 30
RETRY_S, RECONNECT_S = (0.1, 5.0), (0.1, 5.0)
_LATE = "it may have waited at the broker while curewatch was away, and does not tell its time"
_RETAINED = "the broker kept this message, and when it was measured is not in it"


class ReadingStore(Protocol):
    """What the subscriber needs of a store."""

    def add_readings(self, readings: Sequence[Reading], /) -> int: ...

    def places(self) -> AbstractSet[str]: ...

    def refuse(self, at: datetime, source: str, sentence: str, /) -> None: ...


@dataclass(frozen=True, slots=True)
class _Message:
    topic: str
    payload: bytes
    retained: bool
    late: bool
    arrived: datetime
    mid: int
    qos: int
    connection: int


class Subscriber:
    """Hears a broker and stores what it says; `clock` tells the time of arrival (aware)."""

    def __init__(
        self,
        host: str,
        port: int,
        store: ReadingStore,
        settings: Settings,
        clock: Callable[[], datetime],
    ) -> None:
        self._address = f"{host}:{port}"
        self._store, self._settings = store, settings
        self._mappings, self._filters = settings.mappings, _filters(settings.mappings)
        self._places = settings.places
        self._written, self._unfollowed = self._file_mark(), ""
        self._queue: queue.Queue[_Message] = queue.Queue(WAITING)
        self._stopping, self._acks = threading.Event(), threading.Lock()
        self._connection, self._waiting = 0, 0
        self._arrivals, self._backlog = Arrivals(clock), Backlog()
        self._link, self._trouble = "not started", ""
        self._writer = threading.Thread(target=self._write, name="readings", daemon=True)
        self._session = load_session(settings.folder / SESSION)
        self._client = self._make_client(host, port)

    @property
    def state(self) -> str:
        """How the subscriber is, in words."""
        if self._unfollowed:
            return f"{self._link}; the new settings are not used: {self._unfollowed}"
        if not self._trouble or self._stopping.is_set():
            return self._link
        waiting = "1 message waits" if self._waiting == 1 else f"{self._waiting} messages wait"
        return f"{self._link}, but {waiting} to be stored: {self._trouble}"

    def start(self) -> Subscriber:
        """Connect in the background and go on connecting; returns at once."""
        self._link = f"connecting to {self._address}"
        self._writer.start()
        self._client.loop_start()
        return self

    def stop(self) -> None:
        """Store what has come, acknowledge it, and part from the broker."""
        self._stopping.set()
        if self._writer.is_alive():
            self._writer.join(STOP_S)
        self._client.disconnect()
        self._client.loop_stop()
        self._link = "stopped"

    def _make_client(self, host: str, port: int) -> paho.Client:
        client = paho.Client(
            CallbackAPIVersion.VERSION2,
            client_id=self._session["client"],
            clean_session=False,
            manual_ack=True,
        )
        mqtt = self._settings.mqtt
        if mqtt.user:
            client.username_pw_set(mqtt.user, mqtt.password)
        if mqtt.tls:
            client.tls_set(ca_certs=str(mqtt.ca_file) if mqtt.ca_file else None)
        client.on_connect, client.on_disconnect = self._on_connect, self._on_disconnect
        client.on_connect_fail, client.on_message = self._on_connect_fail, self._on_message
        client.on_subscribe = self._on_subscribe
        client.reconnect_delay_set(*RECONNECT_S)  # type: ignore[arg-type]  # takes fractions too
        client.connect_async(host, port, KEEPALIVE_S)
        return client

    def _on_connect(
        self, client: paho.Client, _: Any, flags: Any, reason: ReasonCode, props: Any
    ) -> None:
        if reason.is_failure:
            self._link = f"the broker at {self._address} refuses: {str(reason).lower()}"
            return
        if flags.session_present:
            self._backlog.met()
        self._subscribe()

    def _subscribe(self) -> None:
        for stale in set(self._session["filters"]) - set(self._filters):
            self._client.unsubscribe(stale)
        self._client.subscribe([(each, 1) for each in self._filters])
        self._session["filters"] = self._filters
        with contextlib.suppress(StoreError):
            save_session(self._settings.folder / SESSION, self._session)

    def _file_mark(self) -> tuple[int, int]:
        try:
            found = (self._settings.folder / FILE).stat()
        except OSError:
            return (0, 0)
        return (found.st_mtime_ns, found.st_size)

    def _follow_file(self) -> None:
        """Take the mappings of a changed curewatch.toml; a wrong one changes nothing."""
        mark = self._file_mark()
        if mark == self._written:
            return
        self._written, self._unfollowed = mark, ""
        try:
            found = load_settings(self._settings.folder)
        except ConfigError as error:
            self._unfollowed = str(error)
            return
        self._mappings, self._places = found.mappings, found.places
        self._filters = _filters(self._mappings)
        if self._client.is_connected():
            self._subscribe()

    def _on_subscribe(
        self, client: paho.Client, _: Any, mid: int, reasons: list[ReasonCode], props: Any
    ) -> None:
        denied = [
            each for each, reason in zip(self._filters, reasons, strict=False) if reason.is_failure
        ]
        self._link = f"listening to {self._address}"
        if denied:
            self._link += f", which does not let us hear {', '.join(denied)}"

    def _on_connect_fail(self, client: paho.Client, _: Any) -> None:
        error = sys.exc_info()[1]
        self._link = f"no broker answers at {self._address}; trying again"
        if isinstance(error, ssl.SSLError):
            self._link = f"the broker at {self._address} cannot be trusted: {error.reason}"

    def _on_disconnect(
        self, client: paho.Client, _: Any, flags: Any, reason: ReasonCode, props: Any
    ) -> None:
        with self._acks:
            self._connection += 1
        if self._link.startswith("listening"):
            self._backlog.parted()
        if not self._link.startswith("the broker"):
            self._link = f"the connection to {self._address} was lost; trying again"

    def _on_message(self, client: paho.Client, _: Any, message: paho.MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            topic = "a topic that is no text"
        self._put(
            _Message(
                topic,
                bytes(message.payload),
                message.retain,
                self._backlog.late(),
                self._arrivals.stamp(topic),
                message.mid,
                message.qos,
                self._connection,
            )
        )

    def _put(self, message: _Message) -> None:
        """Queue a message; while the queue is full the broker has to wait."""
        while not self._stopping.is_set():
            try:
                return self._queue.put(message, timeout=0.2)
            except queue.Full:
                continue

    def _write(self) -> None:
        while True:
            self._follow_file()
            batch = self._collect()
            if not batch and self._stopping.is_set():
                return
            if batch and not self._store_until_done(batch):
                return

    def _collect(self) -> list[_Message]:
        """Up to BATCH messages: what comes without a pause, within BATCH_S of the first."""
        batch: list[_Message] = []
        wait, until = 0.2, monotonic() + BATCH_S
        while len(batch) < BATCH and (not batch or monotonic() < until):
            try:
                batch.append(self._queue.get(timeout=wait))
            except queue.Empty:
                break
            wait = PAUSE_S
        return batch

    def _store_until_done(self, batch: list[_Message]) -> bool:
        """Store a batch, trying until the store takes it; False when stopped meanwhile."""
        delay, most = RETRY_S
        while True:
            try:
                self._store_once(batch)
            except (OSError, sqlite3.Error) as error:
                self._waiting = len(batch) + self._queue.qsize()
                self._trouble = str(error)
                if self._stopping.wait(delay):
                    return False
                delay = min(2 * delay, most)
            else:
                self._trouble = ""
                self._acknowledge(batch)
                return True

    def _store_once(self, batch: list[_Message]) -> None:
        readings: list[Reading] = []
        refused: list[tuple[_Message, str]] = []
        known = {*USUAL_PLACES, *self._places, *_named(self._mappings), *self._store.places()}
        for message in batch:
            good, bad = self._decode(message)
            readings += [each for each in good if each.place in known]
            bad += [unknown_place(each.place) for each in good if each.place not in known]
            refused += [(message, str(error)) for error in bad]
        if readings:
            self._store.add_readings(readings)
        for message, sentence in refused:
            self._store.refuse(message.arrived, message.topic[:200], sentence)

    def _decode(self, message: _Message) -> tuple[list[Reading], list[ReadingError]]:
        read = partial(attempt, message.topic, message.payload, mappings=self._mappings)
        good, bad = read(message.arrived)
        if message.retained or message.late:
            later, _ = read(message.arrived + timedelta(seconds=1))
            timeless = set(good) - set(later)
            if message.retained and timeless:
                good = [each for each in good if each not in timeless]
                bad.append(ReadingError(_RETAINED, fix="publish without retain, or with a time"))
            good = [replace(each, doubt=_LATE) if each in timeless else each for each in good]
        return good, bad

    def _acknowledge(self, batch: list[_Message]) -> None:
        """Acknowledge what came over the connection that still is; the rest comes again."""
        with self._acks:
            for message in batch:
                if message.qos and message.connection == self._connection:
                    self._client.ack(message.mid, message.qos)


def _named(mappings: Sequence[Mapping]) -> set[str]:
    return {each.place for each in mappings}


def unknown_place(place: str) -> ReadingError:
    """Why a reading of a place nobody named is refused."""
    return ReadingError(
        f"{place!r} is no place of yours",
        fix=f"add [places.{place}] to curewatch.toml, mix a step there, or publish to one of "
        f"{', '.join(USUAL_PLACES)}",
    )


def _filters(mappings: Sequence[Mapping]) -> list[str]:
    return sorted({f"{PREFIX}/+/+", *(each.topic for each in mappings)})
