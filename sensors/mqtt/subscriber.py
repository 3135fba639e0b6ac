"""The subscriber at a broker: what it hears goes to the writer, which acknowledges once stored.

The session is persistent and the client's name fixed, so that a broker of its own sends again,
after a crash of this process, what was not acknowledged. While the writer's queue is full, the
broker keeps what is still to come.
"""

from __future__ import annotations

import contextlib
import logging
import sys
import threading
import time
from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.reasoncodes import ReasonCode

from curewatch.errors import StoreError
from curewatch.quality.tally import Tally
from curewatch.settings.settings import Settings
from curewatch.store.store import Store
from sensors.mqtt.arrival import Arrivals, Backlog
from sensors.mqtt.client import ours
from sensors.mqtt.session import SESSION, load_session, save_session
from sensors.mqtt.tls import distrust, encrypt, of_encryption
from sensors.mqtt.writer import Message, Writer

_LOG = logging.getLogger(__name__)
KEEPALIVE_S, RECONNECT_S, WAIT_S = 30, (0.1, 5.0), 0.02


class Subscriber:
    """Hears a broker and stores what it says; `clock` tells the time of arrival (aware)."""

    def __init__(
        self,
        host: str,
        port: int,
        store: Store,
        settings: Settings,
        clock: Callable[[], datetime],
    ) -> None:
        self._address, self._settings = f"{host}:{port}", settings
        self._writer = Writer(store, settings)
        self._writer.on_change = self._on_change
        self._filters = self._writer.filters
        self._acks, self._connection = threading.Lock(), 0
        self._arrivals = Arrivals(clock, self._writer.last_heard())
        self._backlog = Backlog()
        self._link, self._logged = "not started", ""
        self._listening = self._turned_away = False
        self._session = load_session(settings.folder / SESSION)
        self._client = self._make_client(host, port)

    @property
    def state(self) -> str:
        """How the subscriber is, in words."""
        return self._writer.state(self._link)

    @property
    def tally(self) -> Tally:
        """Where is counted what is turned away."""
        return self._writer.tally

    def start(self) -> Subscriber:
        """Connect in the background and go on connecting; returns at once."""
        self._link = f"connecting to {self._address}"
        self._writer.start()
        self._client.loop_start()
        return self

    def stop(self) -> None:
        """Store what has come, acknowledge it, and part from the broker."""
        self._writer.stop()
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
        encrypt(client, mqtt)
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
            self._turned_away = True
            return
        self._turned_away = False
        if flags.session_present:
            self._backlog.met()
        self._subscribe()

    def _on_change(self) -> None:
        self._filters = self._writer.filters
        if self._client.is_connected():
            self._subscribe()

    def _subscribe(self) -> None:
        for stale in set(self._session["filters"]) - set(self._filters):
            self._client.unsubscribe(stale)
        self._client.subscribe([(text, 1) for text in self._filters])
        self._session["filters"] = self._filters
        with contextlib.suppress(StoreError):
            save_session(self._settings.folder / SESSION, self._session)

    def _on_subscribe(
        self, client: paho.Client, _: Any, mid: int, reasons: list[ReasonCode], props: Any
    ) -> None:
        denied = [
            text for text, reason in zip(self._filters, reasons, strict=False) if reason.is_failure
        ]
        self._listening = True
        self._link = f"listening to {self._address}"
        if denied:
            self._link += f", which does not let curewatch hear {', '.join(denied)}"

    def _on_connect_fail(self, client: paho.Client, _: Any) -> None:
        error = sys.exc_info()[1]
        self._link = f"no broker answers at {self._address}; trying again"
        self._turned_away = False
        if isinstance(error, OSError) and of_encryption(error, self._settings.mqtt):
            why = distrust(error, self._settings.mqtt)
            self._link = f"the broker at {self._address} is not trusted: {why}"
            self._turned_away = True
        if self._link != self._logged:
            self._logged = self._link
            _LOG.warning("%s", self._link)

    def _on_disconnect(
        self, client: paho.Client, _: Any, flags: Any, reason: ReasonCode, props: Any
    ) -> None:
        with self._acks:
            self._connection += 1
        if self._listening:
            self._backlog.parted()
        self._listening = False
        if not self._turned_away:
            self._link = f"the connection to {self._address} was lost; trying again"

    def _on_message(self, client: paho.Client, _: Any, message: paho.MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            topic = "a topic that is not text"
        if ours(topic, self._writer.buttons):
            client.ack(message.mid, message.qos)
            return
        while self._arrivals.full(topic) and not self._writer.stopping:
            time.sleep(WAIT_S)
        self._writer.put(
            Message(
                topic,
                bytes(message.payload),
                self._arrivals.stamp(topic),
                partial(self._acknowledge, message.mid, message.qos, self._connection),
                message.retain,
                self._backlog.late(),
            )
        )

    def _acknowledge(self, mid: int, qos: int, connection: int) -> None:
        """Acknowledge what came over the connection that still is; the rest comes again."""
        with self._acks:
            if qos and connection == self._connection:
                self._client.ack(mid, qos)
