"""Hears buttons: a message with a payload on `curewatch/button/<name>` is one press.

Two presses of a button within a second are one. What the broker kept (retained) is no press,
and nothing waits at the broker while curewatch is away: a press is now or never. A payload that
is JSON with an `id` counts once for each id, for publishers that send again.
"""

from __future__ import annotations

import json
import logging
from collections import defaultdict, deque
from collections.abc import Callable
from collections.abc import Set as AbstractSet
from time import monotonic
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.reasoncodes import ReasonCode

from curewatch.errors import CurewatchError, ReadingError
from curewatch.settings.settings import MqttSettings
from sensors.mqtt.client import KEEPALIVE_S, make_client, topic_of

PREFIX = "curewatch/button/"
_log = logging.getLogger(__name__)
BOUNCE_S, REMEMBERED = 1.0, 100
RECONNECT_S = (1, 5)


class Buttons:
    """Calls `press` with the name of each button pressed, `refuse` with topic and error."""

    def __init__(
        self,
        mqtt: MqttSettings,
        names: AbstractSet[str],
        press: Callable[[str], object],
        refuse: Callable[[str, CurewatchError], None],
    ) -> None:
        self._names, self._press, self._refuse = names, press, refuse
        self._last: dict[str, float] = {}
        self._ids: dict[str, deque[str]] = defaultdict(lambda: deque(maxlen=REMEMBERED))
        self._client = make_client(mqtt, "buttons", again=True)
        self._client.reconnect_delay_set(*RECONNECT_S)
        self._client.on_connect, self._client.on_message = self._on_connect, self._on_message
        self._client.on_subscribe = self._on_subscribe
        self._client.connect_async(mqtt.host, mqtt.port, KEEPALIVE_S)

    def start(self) -> Buttons:
        """Connect in the background and go on connecting; returns at once."""
        self._client.loop_start()
        return self

    def stop(self) -> None:
        """Part from the broker."""
        self._client.disconnect()
        self._client.loop_stop()

    def _on_connect(
        self, client: paho.Client, _: Any, flags: Any, reason: ReasonCode, props: Any
    ) -> None:
        if not reason.is_failure:
            client.subscribe(f"{PREFIX}+", 1)

    def _on_subscribe(
        self, client: paho.Client, _: Any, mid: int, reasons: list[ReasonCode], props: Any
    ) -> None:
        if any(reason.is_failure for reason in reasons):
            what, fix = (
                "the broker does not let curewatch hear buttons",
                "allow curewatch to read them",
            )
            self._refuse(f"{PREFIX}+", ReadingError(what, fix=fix))

    def _on_message(self, client: paho.Client, _: Any, message: paho.MQTTMessage) -> None:
        topic = topic_of(message)
        try:
            name = self._name(topic, message)
            if self._bounced(name) or self._repeated(name, message.payload):
                return
            self._press(name)
        except CurewatchError as error:
            self._refuse(topic, error)
        except Exception as error:
            _log.error("a press on %s was not done: %s", topic, error)
            self._refuse(topic, ReadingError("it could not be done", fix="touch it on the page"))

    def _name(self, topic: str, message: paho.MQTTMessage) -> str:
        """The button that a message presses. Raises ReadingError where it presses none."""
        name = topic.removeprefix(PREFIX)
        if name not in self._names:
            fix = f"add [buttons.{name[:40]}] to curewatch.toml"
            raise ReadingError(f"there is no button {name[:40]!r}", fix=fix)
        if message.retain:
            what = "the broker retained this press, so its time is not known"
            raise ReadingError(what, fix="publish without retain")
        if not message.payload:
            raise ReadingError("an empty message is not a press", fix="send any text, like 1")
        return name

    def _bounced(self, name: str) -> bool:
        now, last = monotonic(), self._last.get(name)
        self._last[name] = now
        return last is not None and now - last < BOUNCE_S

    def _repeated(self, name: str, payload: bytes | bytearray) -> bool:
        """Whether a press with an id was taken already."""
        try:
            document = json.loads(payload[:10_000])
        except (ValueError, RecursionError):
            return False
        id = str(document.get("id", ""))[:200] if isinstance(document, dict) else ""
        again = bool(id) and id in self._ids[name]
        if id and not again:
            self._ids[name].append(id)
        return again
