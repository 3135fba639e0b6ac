"""Listen to every topic of a broker for a while, so that a new sensor can be found and named."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from time import monotonic
from typing import Any

import paho.mqtt.client as paho
from paho.mqtt.client import topic_matches_sub

from curewatch.climate.reading import Quantity
from curewatch.errors import ConfigError, ReadingError
from curewatch.settings.edit import keep, let_go
from curewatch.settings.settings import Mapping, MqttSettings
from sensors.mqtt.client import KEEPALIVE_S, make_client, ours
from sensors.mqtt.tls import distrust, of_encryption
from sensors.payloads.decode import PREFIX, convert
from sensors.payloads.guess import Number, guess, numbers, temperature_of, usual_unit

MOST_LEAVES, LAST, LONGEST, PER_SECOND = 500, 6, 200, 500
FOR_S = 180.0
_OF_AIR = ("air", "outdoors", "shelf")
_TEMPERATURES = ("surface_temperature", "air_temperature")


@dataclass
class Leaf:
    """A number received at one place of one topic's messages, with its last values.

    count: how often it was received [-]; outside: only from the home network, where its topic is
    not let in yet.
    """

    topic: str
    pointer: str
    record: str | None = None
    unit: str = ""
    values: deque[float] = field(default_factory=lambda: deque(maxlen=LAST))
    count: int = 0
    outside: bool = False

    @property
    def name(self) -> str:
        """The topic, and where in its messages the number stands."""
        return f"{self.topic}/{self.record}" if self.record else f"{self.topic}{self.pointer}"

    @property
    def guess(self) -> tuple[Quantity, str] | None:
        """What the number seems to be, and its unit; None where it seems to be neither."""
        if self.unit == "%":
            return "relative_humidity", "%"
        if self.unit:
            return temperature_of(self.name), self.unit
        return guess(self.name, self.values[-1])

    def mapping(
        self, place: str, quantity: Quantity | None = None, unit: str | None = None
    ) -> Mapping:
        """The mapping that takes this number as what it is said or seems to be, at a place."""
        guessed, scale = self.guess or ("air_temperature", "")
        chosen = quantity or fitting(guessed, place)
        if not scale or (chosen == "relative_humidity") != (guessed == "relative_humidity"):
            scale = usual_unit(chosen, self.name, self.values[-1])
        return Mapping(self.topic, self.pointer, unit or scale, place, chosen, None, self.record)

    @property
    def last(self) -> tuple[float, ...]:
        """The last values, the newest at the end."""
        return tuple(self.values)

    def fits(self, mapping: Mapping) -> bool:
        """Whether a mapping takes this very number."""
        same = (mapping.pointer, mapping.record) == (self.pointer, self.record)
        return same and topic_matches_sub(mapping.topic, self.topic)

    def read(self, mapping: Mapping) -> float | None:
        """The newest value as a mapping takes it, None where it cannot. [C or %]"""
        try:
            return convert(self.values[-1], mapping.unit)
        except ReadingError:
            return None

    def copy(self) -> Leaf:
        """This leaf as it is now."""
        return Leaf(
            self.topic,
            self.pointer,
            self.record,
            self.unit,
            self.values.copy(),
            self.count,
            self.outside,
        )


def fitting(seems: Quantity, place: str) -> Quantity:
    """What is measured at a usual place: on the panel its surface, elsewhere the air."""
    if seems in _TEMPERATURES and place == "panel":
        return "surface_temperature"
    return "air_temperature" if seems in _TEMPERATURES and place in _OF_AIR else seems


def known(topic: str) -> bool:
    """Whether a topic is one of curewatch's own, which needs no mapping."""
    return topic.startswith(f"{PREFIX}/") and topic.count("/") == 2


class DiscoveredNumbers:
    """The numbers received, bounded: so many numbers, each with its last values, and so many
    messages a second."""

    def __init__(self, seconds: Callable[[], float] = monotonic) -> None:
        self._seconds, self._lock = seconds, threading.Lock()
        self._leaves = dict[tuple[str, str, str | None], Leaf]()
        self._second, self._message_count = 0, 0

    def add(self, topic: str, payload: bytes, outside: bool = False) -> None:
        """Take note of a message's numbers."""
        if ours(topic, buttons=True) or len(topic) > LONGEST:
            return
        with self._lock:
            if self._has_time():
                for number in numbers(payload):
                    self._note(topic, number, outside)

    def _has_time(self) -> bool:
        now = int(self._seconds())
        if now != self._second:
            self._second, self._message_count = now, 0
        self._message_count += 1
        return self._message_count <= PER_SECOND

    def _note(self, topic: str, number: Number, outside: bool) -> None:
        key = (topic, number.pointer, number.record)
        leaf = self._leaves.get(key)
        if leaf is None:
            if len(self._leaves) >= MOST_LEAVES or len(number.pointer) > LONGEST:
                return
            leaf = self._leaves[key] = Leaf(topic, number.pointer, number.record, number.unit)
        leaf.values.append(number.value)
        leaf.count += 1
        leaf.outside = outside

    @property
    def full(self) -> bool:
        """Whether there were more numbers than are shown."""
        return len(self._leaves) >= MOST_LEAVES

    @property
    def leaves(self) -> list[Leaf]:
        """The numbers received: first what seems to be a temperature or humidity, by topic."""
        with self._lock:
            leafs = [leaf.copy() for leaf in self._leaves.values()]
        return sorted(leafs, key=lambda leaf: (leaf.guess is None, leaf.topic, leaf.pointer))


class TopicListener:
    """Hears every topic of a broker while it is open."""

    def __init__(self, mqtt: MqttSettings) -> None:
        self.numbers, self.trouble = DiscoveredNumbers(), ""
        self._mqtt, self._address = mqtt, f"{mqtt.host}:{mqtt.port}"
        self._client = make_client(mqtt, "ear", again=True)
        self._client.on_connect, self._client.on_subscribe = self._on_connect, self._on_subscribe
        self._client.on_message = self._on_message

    def __enter__(self) -> TopicListener:
        try:
            self._client.connect(self._mqtt.host, self._mqtt.port, KEEPALIVE_S)
        except OSError as error:
            if of_encryption(error, self._mqtt):
                why = distrust(error, self._mqtt)
                raise ConfigError(f"the broker at {self._address} is not trusted: {why}") from None
            raise ConfigError(
                f"no broker answers at {self._address} ({error.strerror or error})",
                fix="start curewatch up, or check [mqtt] in curewatch.toml",
            ) from None
        self._client.loop_start()
        return self

    def __exit__(self, *_: object) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    @property
    def leaves(self) -> list[Leaf]:
        """The numbers received so far."""
        return self.numbers.leaves

    def _on_connect(self, client: paho.Client, _: Any, flags: Any, reason: Any, props: Any) -> None:
        if reason.is_failure:
            self.trouble = f"the broker at {self._address} refuses: {str(reason).lower()}"
        else:
            client.subscribe("#", 0)

    def _on_subscribe(
        self, client: paho.Client, _: Any, mid: int, reasons: list[Any], props: Any
    ) -> None:
        denied = any(reason.is_failure for reason in reasons)
        self.trouble = (
            f"the broker at {self._address} does not let curewatch hear every topic"
            if denied
            else ""
        )

    def _on_message(self, client: paho.Client, _: Any, message: paho.MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            return
        self.numbers.add(topic, bytes(message.payload))


class Discovery:
    """One listener at a time for all who look; it closes by itself, its numbers stay readable."""

    def __init__(
        self,
        mqtt: MqttSettings,
        folder: Path,
        for_s: float = FOR_S,
        seconds: Callable[[], float] = monotonic,
    ) -> None:
        self._mqtt, self._folder = mqtt, folder
        self._for_s, self._seconds = for_s, seconds
        self._lock, self._until = threading.Lock(), 0.0
        self._listener: TopicListener | None = None
        self._last: TopicListener | None = None
        self._timer: threading.Timer | None = None

    def begin(self) -> None:
        """Listen from now on, or for longer. Raises ConfigError where no broker answers."""
        with self._lock:
            if self._listener is None:
                self._listener = self._last = TopicListener(self._mqtt).__enter__()
            self._until = self._seconds() + self._for_s
            self._restart_timer()

    def _restart_timer(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._timer = threading.Timer(self._for_s, self._end_when_due)
        self._timer.daemon = True
        self._timer.start()

    def _end_when_due(self) -> None:
        if self.left_s == 0.0:
            self.end()

    def end(self) -> None:
        """Close the listener; ending twice is ending once."""
        with self._lock:
            listener, self._listener, self._until = self._listener, None, 0.0
            if self._timer is not None:
                self._timer.cancel()
        if listener is not None:
            listener.__exit__()

    def overhear(self, topic: str, payload: bytes) -> None:
        """A message that was not let in from the home network."""
        listener = self._listener
        if listener is not None:
            listener.numbers.add(topic, payload, outside=True)

    def keep(self, mapping: Mapping) -> None:
        """Write a mapping into curewatch.toml; what listens takes it up at once."""
        keep(self._folder, mapping)

    def let_go(self, mapping: Mapping) -> None:
        """Take a mapping out of curewatch.toml."""
        let_go(self._folder, mapping)

    @property
    def left_s(self) -> float:
        """How long the listener stays open. [s]"""
        return max(0.0, self._until - self._seconds())

    @property
    def trouble(self) -> str:
        """What keeps it from listening, in words; empty where nothing does."""
        return self._listener.trouble if self._listener else ""

    @property
    def full(self) -> bool:
        """Whether more was received than is shown."""
        return bool(self._last and self._last.numbers.full)

    @property
    def leaves(self) -> list[Leaf]:
        """The numbers of this listening, or of the last one."""
        return self._last.leaves if self._last else []
