"""MQTT 5 as bytes: its properties, and what differs from 3.1.1 in each packet. Pure.

Numbers in brackets are sections of the OASIS standard "MQTT Version 5.0" (7 March 2019).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from sensors.packets.version3 import (  # fmt: skip
    AUTH,
    CONNACK,
    CONNECT,
    DISCONNECT,
    PUBACK,
    PUBCOMP,
    PUBLISH,
    PUBREC,
    PUBREL,
    SUBACK,
    SUBSCRIBE,
    UNSUBACK,
    UNSUBSCRIBE,
    Connect,
    Malformed,
    Packet,
    Will,
    check_name,
    length_of,
    read_block,
    read_text,
    read_two,
)

LEVEL = 5  # [3.1.2.2]
# Reason codes. [2.4]
GRANTED_MOST, WITH_WILL, UNSPECIFIED, PROTOCOL_ERROR, SPECIFIC = 2, 0x04, 0x80, 0x82, 0x83
NO_VERSION, NO_NAME, WRONG_PASSWORD, NOT_AUTHORIZED, UNAVAILABLE = 0x84, 0x85, 0x86, 0x87, 0x88
NO_METHOD, BAD_ALIAS, NO_SHARED, NO_IDENTIFIERS = 0x8C, 0x94, 0x9E, 0xA1
# Properties. [2.2.2.2]
SESSION_EXPIRY, ASSIGNED_NAME, SERVER_KEEP_ALIVE, METHOD, METHOD_DATA = 17, 18, 19, 21, 22
RECEIVE_MAXIMUM, TOPIC_ALIAS, PACKET_MAXIMUM, SUBSCRIPTION_ID = 33, 35, 39, 11
IDENTIFIERS_AVAILABLE, SHARED_AVAILABLE, USER_PROPERTY = 41, 42, 38
WILL = 0  # its properties stand inside a CONNECT [3.1.3.2]

Form = Literal["byte", "two", "four", "length", "text", "bytes", "pair"]
_SENT = frozenset({PUBLISH, WILL})
_SAID = frozenset({CONNACK, PUBACK, PUBREC, PUBREL, PUBCOMP, SUBACK, UNSUBACK, DISCONNECT, AUTH})
_METHOD = frozenset({CONNECT, CONNACK, AUTH})
# What each property is, and which packets have it. [2.2.2.2, table 2-4]
PROPERTIES: dict[int, tuple[Form, frozenset[int]]] = {
    1: ("byte", _SENT),
    2: ("four", _SENT),
    3: ("text", _SENT),
    8: ("text", _SENT),
    9: ("bytes", _SENT),
    SUBSCRIPTION_ID: ("length", frozenset({PUBLISH, SUBSCRIBE})),
    SESSION_EXPIRY: ("four", frozenset({CONNECT, CONNACK, DISCONNECT})),
    ASSIGNED_NAME: ("text", frozenset({CONNACK})),
    SERVER_KEEP_ALIVE: ("two", frozenset({CONNACK})),
    METHOD: ("text", _METHOD),
    METHOD_DATA: ("bytes", _METHOD),
    23: ("byte", frozenset({CONNECT})),
    24: ("four", frozenset({WILL})),
    25: ("byte", frozenset({CONNECT})),
    26: ("text", frozenset({CONNACK})),
    28: ("text", frozenset({CONNACK, DISCONNECT})),
    31: ("text", _SAID),
    RECEIVE_MAXIMUM: ("two", frozenset({CONNECT, CONNACK})),
    34: ("two", frozenset({CONNECT, CONNACK})),
    TOPIC_ALIAS: ("two", frozenset({PUBLISH})),
    36: ("byte", frozenset({CONNACK})),
    37: ("byte", frozenset({CONNACK})),
    USER_PROPERTY: ("pair", _SAID | _SENT | {CONNECT, SUBSCRIBE, UNSUBSCRIBE}),
    PACKET_MAXIMUM: ("four", frozenset({CONNECT, CONNACK})),
    40: ("byte", frozenset({CONNACK})),
    IDENTIFIERS_AVAILABLE: ("byte", frozenset({CONNACK})),
    SHARED_AVAILABLE: ("byte", frozenset({CONNACK})),
}
_NEVER_ZERO = {SUBSCRIPTION_ID, RECEIVE_MAXIMUM, TOPIC_ALIAS, PACKET_MAXIMUM}
_SIZES = {"byte": 1, "two": 2, "four": 4}
Value = int | str | bytes
Values = dict[int, Value]


def wrong(what: str) -> Malformed:
    """What is well formed and against the protocol. [1.2, 4.13.1]"""
    return Malformed(what, PROTOCOL_ERROR)


def read_length(body: bytes, at: int) -> tuple[int, int]:
    """A number of one to four bytes, and where it ends. [1.5.5]"""
    value = 0
    for place in range(4):
        if at + place >= len(body):
            raise Malformed("a packet that ends too soon")
        value |= (body[at + place] & 127) << (7 * place)
        if body[at + place] < 128:
            return value, at + place + 1
    raise Malformed("a length of more than four bytes")


def _read_value(form: Form, body: bytes, at: int) -> tuple[Value, int]:
    if form == "text":
        return read_text(body, at)
    if form == "bytes":
        return read_block(body, at)
    if form == "length":
        return read_length(body, at)
    if form == "pair":  # [1.5.7]
        name, at = read_text(body, at)
        value, at = read_text(body, at)
        return f"{name}={value}", at
    end = at + _SIZES[form]
    if end > len(body):
        raise Malformed("a packet that ends too soon")
    return int.from_bytes(body[at:end], "big"), end


def read_properties(body: bytes, at: int, kind: int) -> tuple[Values, int]:
    """The properties of a packet of this kind, and where they end. [2.2.2] Raises Malformed."""
    length, at = read_length(body, at)
    end, properties = at + length, Values()
    if end > len(body):
        raise Malformed("a packet that ends too soon")
    data = body[:end]
    while at < end:
        id, at = read_length(data, at)
        if id not in PROPERTIES or kind not in PROPERTIES[id][1]:
            raise Malformed("a property that this packet does not have")
        if id in properties and id != USER_PROPERTY:
            raise wrong("a property that comes twice")
        form = PROPERTIES[id][0]
        properties[id], at = _read_value(form, data, at)
        if (form == "byte" and properties[id] not in (0, 1)) or (
            id in _NEVER_ZERO and not properties[id]
        ):
            raise wrong("a property of no possible value")
    return properties, end


def write_properties(properties: Mapping[int, Value]) -> bytes:
    """Properties with their length before them. [2.2.2]"""
    body = b""
    for id, value in properties.items():
        if isinstance(value, int):
            body += bytes([id]) + value.to_bytes(_SIZES[PROPERTIES[id][0]], "big")
        else:
            raw = value.encode() if isinstance(value, str) else value
            body += bytes([id]) + len(raw).to_bytes(2, "big") + raw
    return length_of(len(body)) + body


@dataclass(frozen=True, slots=True)
class Connect5:
    """What a client of MQTT 5 says first, beside what one of 3.1.1 would say. expiry_s [s]

    anew: an earlier session is forgotten; receives: so many messages it takes unacknowledged;
    most_bytes: of a packet it takes; method: it wants a sign-in of its own.
    """

    connect: Connect
    anew: bool
    expiry_s: int
    receives: int
    most_bytes: int
    method: bool


def _number(properties: Values, id: int, absent: int) -> int:
    value = properties.get(id, absent)
    return value if isinstance(value, int) else absent


def parse_connect(body: bytes) -> Connect5:
    """What is in a CONNECT of version 5. [3.1] Raises Malformed."""
    _, at = read_text(body, 0)
    if at + 4 > len(body):
        raise Malformed("a packet that ends too soon")
    flags, keepalive_s = body[at + 1], read_two(body, at + 2)
    if flags & 1 or (flags & 0x38 and not flags & 4) or flags & 0x18 == 0x18:  # [3.1.2.3]
        raise Malformed("flags that do not fit")
    properties, at = read_properties(body, at + 4, CONNECT)
    client, at = read_text(body, at)
    will, at = _parse_will(body, at, flags)
    user, at = read_text(body, at) if flags & 0x80 else (None, at)
    password, at = read_block(body, at) if flags & 0x40 else (None, at)
    if at != len(body):
        raise Malformed("a packet that ends too late")
    if METHOD_DATA in properties and METHOD not in properties:  # [3.1.2.11.10]
        raise wrong("data for no sign-in method")
    # A session is kept only for one that gave its name itself: the CONNACK says so.
    expiry_s = _number(properties, SESSION_EXPIRY, 0) if client else 0  # [3.1.2.11.2]
    return Connect5(
        Connect(client, expiry_s == 0, keepalive_s, will, user, password),
        bool(flags & 2),
        expiry_s,
        _number(properties, RECEIVE_MAXIMUM, 65_535),  # [3.1.2.11.3]
        _number(properties, PACKET_MAXIMUM, 2**32),  # [3.1.2.11.4]
        METHOD in properties,
    )


def _parse_will(body: bytes, at: int, flags: int) -> tuple[Will | None, int]:
    if not flags & 4:
        return None, at
    _, at = read_properties(body, at, WILL)
    topic, at = read_text(body, at)
    payload, at = read_block(body, at)
    return Will(check_name(topic), payload, flags >> 3 & 3, bool(flags & 0x20)), at


def without_properties(packet: Packet) -> bytes:
    """The body of a PUBLISH as 3.1.1 has it. [3.3.2] Raises Malformed."""
    topic, at = read_text(packet.body, 0)
    start = at + (2 if packet.flags >> 1 & 3 else 0)
    properties, end = read_properties(packet.body, start, PUBLISH)
    if TOPIC_ALIAS in properties:  # none are taken: our CONNACK has no maximum [3.2.2.3.8]
        raise Malformed("a topic by its alias", BAD_ALIAS)
    if SUBSCRIPTION_ID in properties or not topic:  # [3.3.4, 3.3.2.1]
        raise wrong("a message that no client may send")
    return packet.body[:start] + packet.body[end:]


def parse_reason(packet: Packet, at: int) -> tuple[int, Values]:
    """The reason code from `at` on, and the properties; 0 where it is left out. [3.4.2, 3.14.2]"""
    body = packet.body
    if len(body) < at:
        raise Malformed("a packet that ends too soon")
    if len(body) == at:
        return 0, {}
    if len(body) == at + 1:
        return body[at], {}
    properties, end = read_properties(body, at + 1, packet.kind)
    if end != len(body):
        raise Malformed("a packet that ends too late")
    return body[at], properties


def parse_subscribe(packet: Packet) -> tuple[int, list[tuple[str, int]]]:
    """The identifier and the filters of a SUBSCRIBE, each with its options. [3.8]"""
    properties, at = read_properties(packet.body, 2, SUBSCRIBE)
    if SUBSCRIPTION_ID in properties:  # our CONNACK says there are none [3.2.2.3.12]
        raise Malformed("a subscription identifier", NO_IDENTIFIERS)
    pairs = list[tuple[str, int]]()
    while at < len(packet.body):
        topic, at = read_text(packet.body, at)
        options = packet.body[at] if at < len(packet.body) else 3
        if options & 3 == 3 or options & 0x30 == 0x30 or options & 0xC0:  # [3.8.3.1]
            raise wrong("a filter without options that can be")
        if topic.startswith("$share/"):  # [3.2.2.3.13]
            raise Malformed("a shared subscription", NO_SHARED)
        pairs.append((topic, options))
        at += 1
    if not pairs or not packet.id:
        raise wrong("a subscription to nothing")
    return packet.id, pairs


def parse_unsubscribe(packet: Packet) -> tuple[int, list[bytes]]:
    """The identifier and the filters of an UNSUBSCRIBE. [3.10]"""
    _, at = read_properties(packet.body, 2, UNSUBSCRIBE)
    filters = list[bytes]()
    while at < len(packet.body):
        start = at
        _, at = read_text(packet.body, at)
        filters.append(packet.body[start:at])
    if not filters or not packet.id:
        raise wrong("an end of nothing")
    return packet.id, filters
