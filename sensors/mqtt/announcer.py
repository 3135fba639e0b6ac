"""Publishes the bench for lamps and buzzers: retained JSON, sent again only when it changed.

`curewatch/bench/online` is true while curewatch is connected; the broker makes it false by the
last will. Everything is published anew after each connection, so that a broker which forgot has it
again; what an earlier run left there of steps that are gone is cleared.
"""

from __future__ import annotations

import contextlib
import json
import logging
import re
import threading
from collections.abc import Callable, Mapping
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.reasoncodes import ReasonCode

from curewatch.backoff import delay_s
from curewatch.exchange.announcements import Message, alike, for_json
from curewatch.settings.settings import MqttSettings
from sensors.mqtt.client import KEEPALIVE_S, make_client, topic_of

PREFIX = "curewatch/bench"
EVERY_S, CONNECT_S, STOP_S, AGAIN_S = 5.0, 5.0, 5.0, (0.2, 5.0)
_log = logging.getLogger(__name__)
_OF_A_STEP = re.compile(rf"{PREFIX}/\d+/[a-z_]+")


class Announcer:
    """Publishes what `bench` says, topic by topic, while it runs: every few seconds, and at once
    when woken."""

    def __init__(
        self,
        mqtt: MqttSettings,
        bench: Callable[[], Mapping[str, Message]],
        wake: threading.Event | None = None,
    ) -> None:
        self._mqtt, self._bench, self._wake = mqtt, bench, wake or threading.Event()
        self._published: dict[str, Message] = {}
        self._stopping, self._disconnected = threading.Event(), threading.Event()
        self._connected = threading.Event()
        self._thread = threading.Thread(target=self._run, name="announcer", daemon=True)

    def start(self) -> Announcer:
        """Connect in the background and go on connecting; returns at once."""
        self._thread.start()
        return self

    def stop(self) -> None:
        """Say that curewatch is not there any more, and part from the broker."""
        self._stopping.set()
        self._wake.set()
        self._thread.join(STOP_S)

    def _run(self) -> None:
        failures = 0
        while not self._stopping.is_set():
            failures += 1
            with contextlib.suppress(OSError):
                failures = 1 if self._serve_connection() else failures
            self._stopping.wait(delay_s(failures, *AGAIN_S))

    def _client(self) -> paho.Client:
        client = make_client(self._mqtt, "bench", again=False)
        client.will_set(f"{PREFIX}/online", "false", qos=1, retain=True)
        client.on_connect, client.on_message = self._on_connect, self._on_message
        client.on_disconnect = self._on_disconnect
        return client

    def _serve_connection(self) -> bool:
        """One connection from its beginning to its end; whether it came about."""
        client = self._client()
        self._connected.clear()
        self._disconnected.clear()
        self._published.clear()
        client.connect(self._mqtt.host, self._mqtt.port, KEEPALIVE_S)
        client.loop_start()
        try:
            if not self._connected.wait(CONNECT_S):
                return False
            self._follow(client)
            self._part(client)
        finally:
            client.disconnect()
            client.loop_stop()
        return True

    def _follow(self, client: paho.Client) -> None:
        self._publish(client, "online", True)
        self._publish_changes(client)
        client.subscribe(f"{PREFIX}/+/+", 1)
        while not self._disconnected.is_set() and not self._stopping.is_set():
            if self._wake.wait(EVERY_S):
                self._wake.clear()
            self._publish_changes(client)

    def _part(self, client: paho.Client) -> None:
        if self._stopping.is_set() and client.is_connected():
            with contextlib.suppress(RuntimeError, ValueError):
                self._publish(client, "online", False).wait_for_publish(STOP_S / 2)

    def _publish_changes(self, client: paho.Client) -> None:
        """Publish what changed, and clear what left the bench."""
        try:
            now = self._bench()
        except Exception as error:
            _log.error("the bench could not be published: %s", error)
            return
        for topic in set(self._published) - set(now):
            client.publish(f"{PREFIX}/{topic}", b"", qos=1, retain=True)
            del self._published[topic]
        for topic, message in now.items():
            if not alike(self._published.get(topic), message):
                self._published[topic] = message
                self._publish(client, topic, for_json(message))

    @staticmethod
    def _publish(client: paho.Client, topic: str, value: Any) -> paho.MQTTMessageInfo:
        text = json.dumps(value, ensure_ascii=False, allow_nan=False)
        return client.publish(f"{PREFIX}/{topic}", text, qos=1, retain=True)

    def _on_connect(
        self, client: paho.Client, _: Any, flags: Any, reason: ReasonCode, props: Any
    ) -> None:
        if not reason.is_failure:
            self._connected.set()

    def _on_disconnect(self, *_: Any) -> None:
        self._disconnected.set()
        self._wake.set()

    def _on_message(self, client: paho.Client, _: Any, message: paho.MQTTMessage) -> None:
        """Clear what the broker kept of a step that is on the bench no more."""
        topic = topic_of(message)
        stale = topic.removeprefix(f"{PREFIX}/") not in self._published
        if message.retain and message.payload and stale and _OF_A_STEP.fullmatch(topic):
            client.publish(topic, b"", qos=1, retain=True)
