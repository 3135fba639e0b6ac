"""Hear every topic for a while, guess what each number is, and keep one as a mapping."""

from __future__ import annotations

import json
import os
import threading
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
import tomlkit
from paho.mqtt.enums import CallbackAPIVersion

from curewatch.config import FILE, Mapping, MqttSettings, load_settings, parse_settings
from curewatch.errors import ConfigError, StoreError
from curewatch.reading import Quantity
from sensors.client import ours
from sensors.payload import MAX_BYTES, PREFIX

MOST_LEAVES, LAST = 500, 5
_HUMID = ("hum", "rh", "moist")
_SURFACE = ("surface", "panel", "probe", "skin", "metal", "object")
_WARM = ("temp", "celsius", "fahrenheit", "tmp")
_NO_SENSOR = ("batt", "volt", "rssi", "link", "press", "time", "uptime", "lux", "id")


@dataclass
class Leaf:
    """A number heard at one place of one topic's messages, with its last values."""

    topic: str
    pointer: str
    values: deque[float] = field(default_factory=lambda: deque(maxlen=LAST))

    @property
    def guess(self) -> tuple[Quantity, str] | None:
        """What the number seems to be, and its unit; None where it seems to be neither."""
        return guess(f"{self.topic}{self.pointer}", self.values[-1])

    def mapping(self, place: str) -> Mapping:
        """The mapping that takes this number as what it seems to be, at a place."""
        quantity, unit = self.guess or ("air_temperature", "C")
        return Mapping(self.topic, self.pointer, unit, place, quantity)


def guess(name: str, value: float) -> tuple[Quantity, str] | None:
    """The quantity and unit that a name and a value suggest.

    >>> guess("garage/probe/surface_temp", 14.2), guess("attic/humidity", 0.62)
    (('surface_temperature', 'C'), ('relative_humidity', 'fraction'))
    """
    words = name.lower()
    if any(word in words for word in _HUMID):
        unit = "fraction" if 0 < value <= 1 else "%"
        return ("relative_humidity", unit) if 0 <= value <= 100 else None
    last = words.rpartition("/")[2]
    named = any(word in words for word in (*_WARM, *_SURFACE))
    if not named or any(word in last for word in _NO_SENSOR):
        return None
    scale = _temperature_unit(last, value)
    surface = any(word in words for word in _SURFACE)
    return ("surface_temperature" if surface else "air_temperature", scale) if scale else None


def _temperature_unit(name: str, value: float) -> str | None:
    """The unit of a temperature by its name's ending, else by where garages are."""
    for ending, unit in (("_f", "F"), ("fahrenheit", "F"), ("_k", "K"), ("_c", "C")):
        if name.endswith(ending):
            return unit
    spans = ((-40, 50, "C"), (50, 130, "F"), (223, 333, "K"))
    return next((unit for low, high, unit in spans if low <= value <= high), None)


def leaves(payload: bytes) -> Iterator[tuple[str, float]]:
    """Every number of a payload with its RFC 6901 pointer; none where it holds none.

    >>> list(leaves(b'{"t": 14.2, "in": [{"a/b": "62"}]}'))
    [('/t', 14.2), ('/in/0/a~1b', 62.0)]
    """
    if len(payload) > MAX_BYTES:
        return
    try:
        document = json.loads(payload)
        yield from _numbers(document, "")
    except (ValueError, RecursionError):
        return


def _numbers(value: Any, pointer: str) -> Iterator[tuple[str, float]]:
    if isinstance(value, dict | list):
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in pairs:
            token = str(key).replace("~", "~0").replace("/", "~1")
            yield from _numbers(inner, f"{pointer}/{token}")
        return
    try:
        number = float(value) if isinstance(value, int | float | str) else None
    except (ValueError, OverflowError):
        return
    if number is not None and not isinstance(value, bool) and abs(number) < 1e12:
        yield pointer, number


class Ear:
    """Hears every topic of a broker while it is open; `leaves` are the numbers heard."""

    def __init__(self, settings: MqttSettings) -> None:
        self._lock, self._leaves = threading.Lock(), dict[tuple[str, str], Leaf]()
        self._address = f"{settings.host}:{settings.port}"
        self._client = paho.Client(CallbackAPIVersion.VERSION2)
        if settings.user:
            self._client.username_pw_set(settings.user, settings.password)
        if settings.tls:
            self._client.tls_set(ca_certs=str(settings.ca_file) if settings.ca_file else None)
        self._client.on_connect = lambda client, *_: client.subscribe("#", 0)
        self._client.on_message = self._on_message
        self._host, self._port = settings.host, settings.port

    def __enter__(self) -> Ear:
        try:
            self._client.connect(self._host, self._port, 30)
        except OSError as error:
            raise ConfigError(
                f"no broker answers at {self._address} ({error.strerror or error})",
                fix="start curewatch up, or check [mqtt] in curewatch.toml",
            ) from None
        self._client.loop_start()
        return self

    def __exit__(self, *_: object) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _on_message(self, client: paho.Client, _: Any, message: paho.MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:
            return
        if ours(topic, buttons=True):
            return
        with self._lock:
            for pointer, number in leaves(bytes(message.payload)):
                key = (topic, pointer)
                if key in self._leaves or len(self._leaves) < MOST_LEAVES:
                    self._leaves.setdefault(key, Leaf(topic, pointer)).values.append(number)

    @property
    def leaves(self) -> list[Leaf]:
        """What was heard so far: first what seems to be a temperature or humidity, by topic."""
        with self._lock:
            heard = [
                Leaf(each.topic, each.pointer, each.values.copy()) for each in self._leaves.values()
            ]
        return sorted(heard, key=lambda each: (each.guess is None, each.topic, each.pointer))


def known(topic: str) -> bool:
    """Whether a topic is one of curewatch's own, which needs no mapping."""
    return topic.startswith(f"{PREFIX}/") and topic.count("/") == 2


def keep(folder: Path, mapping: Mapping) -> None:
    """Write a mapping into curewatch.toml, comments kept; one of the same value is replaced.

    Raises ConfigError where the file or the mapping is wrong; the file is then untouched.
    """
    path = folder / FILE
    load_settings(folder)
    document = tomlkit.parse(path.read_text(encoding="utf-8") if path.exists() else "")
    rows = document.setdefault("mappings", tomlkit.aot())
    same = [
        number
        for number, row in enumerate(rows)
        if (row.get("topic"), row.get("pointer", "")) == (mapping.topic, mapping.pointer)
    ]
    for number in reversed(same):
        del rows[number]
    rows.append(_row(mapping))
    text = tomlkit.dumps(document)
    parse_settings(text, folder, str(path))
    _write(path, text)


def _row(mapping: Mapping) -> Any:
    row = tomlkit.table()
    for key in ("topic", "pointer", "unit", "place", "quantity", "time", "record"):
        value = getattr(mapping, key)
        if value and not (key in ("pointer", "time") and mapping.record):
            row[key] = value
    return row


def _write(path: Path, text: str) -> None:
    fresh = path.with_suffix(".new")
    try:
        with open(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    except OSError as error:
        raise StoreError(
            f"cannot be written ({error.strerror})", where=str(path), fix="check its permissions"
        ) from None
