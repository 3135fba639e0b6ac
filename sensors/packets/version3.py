"""MQTT 3.1.1 as bytes: packets out of a stream, and what is in them. Pure.

Numbers in brackets are sections of the OASIS standard "MQTT Version 3.1.1" (29 October 2014).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

CONNECT, CONNACK, PUBLISH, PUBACK, PUBREC, PUBREL, PUBCOMP = range(1, 8)
SUBSCRIBE, SUBACK, UNSUBSCRIBE, UNSUBACK, PINGREQ, PINGRESP, DISCONNECT, AUTH = range(8, 16)
FROM_CLIENT = (
    PUBLISH, PUBACK, PUBREC, PUBREL, PUBCOMP, SUBSCRIBE, UNSUBSCRIBE, PINGREQ, DISCONNECT,
)  # fmt: skip
FLAGS = {PUBREL: 2, SUBSCRIBE: 2, UNSUBSCRIBE: 2}
ACCEPTED, NO_VERSION, NO_NAME, UNAVAILABLE, WRONG_PASSWORD, NOT_ALLOWED = range(6)
DENIED = 0x80
MALFORMED, TOO_LARGE = 0x81, 0x95
PROTOCOLS = {("MQTT", 4), ("MQIsdp", 3)}
_TWO = struct.Struct(">H")


class Malformed(ValueError):
    """Bytes that are no MQTT, or more of it than is allowed; `reason` is its code in MQTT 5."""

    def __init__(self, what: str, reason: int = MALFORMED) -> None:
        super().__init__(what)
        self.reason = reason


@dataclass(frozen=True, slots=True)
class Packet:
    """One packet: its kind, the flags beside it, its body, and all of it as it came."""

    kind: int
    flags: int
    body: bytes
    raw: bytes

    @property
    def id(self) -> int:
        """The packet identifier at the body's start."""
        return read_two(self.body, 0)


class Frames:
    """Cuts a stream into packets of at most `limit` bytes each."""

    def __init__(self, limit: int) -> None:
        self.limit = limit
        self._data = bytearray()

    @property
    def partial(self) -> bool:
        """Whether a packet has begun and not yet ended."""
        return bool(self._data)

    def add(self, data: bytes) -> None:
        """More of the stream."""
        self._data += data

    def next(self) -> Packet | None:
        """The next packet that is whole, or None. Raises Malformed."""
        ends = self._ends()
        if ends is None:
            return None
        start, stop = ends
        raw = bytes(self._data[:stop])
        del self._data[:stop]
        kind, flags = raw[0] >> 4, raw[0] & 15
        if kind != PUBLISH and flags != FLAGS.get(kind, 0):  # [2.2.2]
            raise Malformed("flags that do not fit")
        return Packet(kind, flags, raw[start:], raw)

    def _ends(self) -> tuple[int, int] | None:
        """Where the body of the first packet starts and stops; None while it is not whole."""
        length, data = 0, self._data
        for position in range(1, 5):
            if position >= len(data):
                return None
            length |= (data[position] & 127) << (7 * (position - 1))
            if data[position] < 128:
                stop = position + 1 + length
                if stop > self.limit:
                    raise Malformed(f"a packet of {length:,} bytes", TOO_LARGE)
                return (position + 1, stop) if stop <= len(data) else None
        raise Malformed("a length of more than four bytes")  # [2.2.3]


def packet(kind: int, body: bytes, flags: int | None = None) -> bytes:
    """A packet's bytes; its flags are the ones its kind must have, unless given."""
    first = kind << 4 | (FLAGS.get(kind, 0) if flags is None else flags)
    return bytes([first]) + length_of(len(body)) + body


def whole(raw: bytes) -> Packet:
    """The packet that these bytes are."""
    start = next(at for at in range(1, 5) if raw[at] < 128) + 1
    return Packet(raw[0] >> 4, raw[0] & 15, raw[start:], raw)


def length_of(length: int) -> bytes:
    """A length in one to four bytes. [2.2.3]"""
    digits = bytearray()
    while True:
        length, digit = divmod(length, 128)
        digits.append(digit | (128 if length else 0))
        if not length:
            return bytes(digits)


def answer(kind: int, id: int, codes: bytes = b"") -> bytes:
    """The packet that answers the one with this identifier."""
    return packet(kind, _TWO.pack(id) + codes)


def connack(code: int) -> bytes:
    """The answer to a CONNECT, without a session. [3.2]"""
    return packet(CONNACK, bytes([0, code]))


def read_two(body: bytes, at: int) -> int:
    """Two bytes as a number. [1.5.2]"""
    if at + 2 > len(body):
        raise Malformed("a packet that ends too soon")
    return int(_TWO.unpack_from(body, at)[0])


def read_block(body: bytes, at: int) -> tuple[bytes, int]:
    """A length and that many bytes; and where they end."""
    end = at + 2 + read_two(body, at)
    if end > len(body):
        raise Malformed("a packet that ends too soon")
    return body[at + 2 : end], end


def read_text(body: bytes, at: int) -> tuple[str, int]:
    """UTF-8 without U+0000. [1.5.3]"""
    raw, end = read_block(body, at)
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        raise Malformed("a text that is not UTF-8") from None
    if "\0" in text:
        raise Malformed("a text with U+0000")
    return text, end


def block(data: bytes) -> bytes:
    """Bytes with their length before them."""
    return _TWO.pack(len(data)) + data


@dataclass(frozen=True, slots=True)
class Will:
    """What the broker says in a client's name when it is lost."""

    topic: str
    payload: bytes
    qos: int
    retain: bool


@dataclass(frozen=True, slots=True)
class Connect:
    """What a client says first. keepalive_s [s]"""

    client: str
    clean: bool
    keepalive_s: int
    will: Will | None = None
    user: str | None = None
    password: bytes | None = field(default=None, repr=False)


class OtherVersion(ValueError):
    """A client that speaks another version of MQTT."""

    def __init__(self, level: int) -> None:
        super().__init__(level)
        self.level = level


def parse_connect(body: bytes) -> Connect:
    """What is in a CONNECT. [3.1] Raises Malformed, or OtherVersion."""
    name, at = read_text(body, 0)
    if at + 4 > len(body):
        raise Malformed("a packet that ends too soon")
    level, flags = body[at], body[at + 1]
    if (name, level) not in PROTOCOLS:
        if name in ("MQTT", "MQIsdp"):
            raise OtherVersion(level)
        raise Malformed("a protocol of another name")
    if flags & 1 or (flags & 0x38 and not flags & 4) or flags & 0x18 == 0x18:
        raise Malformed("flags that do not fit")
    if flags & 0x40 and not flags & 0x80:
        raise Malformed("a password without a user")
    keepalive_s = read_two(body, at + 2)
    client, at = read_text(body, at + 4)
    will, at = _parse_will(body, at, flags)
    user, at = read_text(body, at) if flags & 0x80 else (None, at)
    password, at = read_block(body, at) if flags & 0x40 else (None, at)
    if at != len(body):
        raise Malformed("a packet that ends too late")
    return Connect(client, bool(flags & 2), keepalive_s, will, user, password)


def _parse_will(body: bytes, at: int, flags: int) -> tuple[Will | None, int]:
    if not flags & 4:
        return None, at
    topic, at = read_text(body, at)
    payload, at = read_block(body, at)
    return Will(check_name(topic), payload, flags >> 3 & 3, bool(flags & 0x20)), at


def make_connect(connect: Connect) -> bytes:
    """A CONNECT without user and password, in version 3.1.1."""
    flags, after = 2 * connect.clean, block(connect.client.encode())
    if will := connect.will:
        flags |= 4 | will.qos << 3 | will.retain << 5
        after += block(will.topic.encode()) + block(will.payload)
    head = block(b"MQTT") + bytes([4, flags]) + _TWO.pack(connect.keepalive_s)
    return packet(CONNECT, head + after)


def check_name(topic: str) -> str:
    """A topic to publish to: not empty, without wildcards. [4.7] Raises Malformed."""
    if not topic or "+" in topic or "#" in topic:
        raise Malformed("a topic that none can publish to")
    return topic


@dataclass(frozen=True, slots=True)
class Publish:
    """One message. `id` is 0 at QoS 0."""

    topic: str
    payload: bytes
    qos: int
    id: int
    retain: bool
    again: bool


def parse_publish(packet: Packet) -> Publish:
    """What is in a PUBLISH. [3.3] Raises Malformed."""
    qos = packet.flags >> 1 & 3
    if qos == 3:
        raise Malformed("a quality of service of 3")
    topic, at = read_text(packet.body, 0)
    id = read_two(packet.body, at) if qos else 0
    if qos and not id:
        raise Malformed("a packet identifier of 0")
    payload = packet.body[at + 2 :] if qos else packet.body[at:]
    again = bool(packet.flags & 8)
    return Publish(check_name(topic), payload, qos, id, bool(packet.flags & 1), again)


def unretained(publish: Packet) -> bytes:
    """A PUBLISH that the broker does not keep. [3.3.1.3]"""
    return packet(PUBLISH, publish.body, publish.flags & ~1)


def parse_subscribe(packet: Packet) -> tuple[int, list[tuple[str, int]]]:
    """The identifier and the filters of a SUBSCRIBE, each with its QoS. [3.8] Raises Malformed."""
    at, pairs = 2, list[tuple[str, int]]()
    while at < len(packet.body):
        topic, at = read_text(packet.body, at)
        if at >= len(packet.body) or packet.body[at] > 2:
            raise Malformed("a filter without its quality of service")
        pairs.append((topic, packet.body[at]))
        at += 1
    if not pairs or not packet.id:
        raise Malformed("a subscription to nothing")
    return packet.id, pairs


def make_subscribe(id: int, pairs: list[tuple[str, int]]) -> bytes:
    """A SUBSCRIBE for these filters."""
    body = b"".join(block(topic.encode()) + bytes([qos]) for topic, qos in pairs)
    return packet(SUBSCRIBE, _TWO.pack(id) + body)
