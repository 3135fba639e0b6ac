"""How a client is spoken to in its own version of MQTT; behind it all is 3.1.1.

Numbers in brackets are sections of the OASIS standard "MQTT Version 5.0" (7 March 2019). What a
broker of 3.1.1 cannot do is refused where leaving it out would mislead: topic aliases, shared
subscriptions, subscription identifiers, No Local, sign-in methods. The rest is left out: what
properties say of a message is not passed on, a will comes without its delay, a retained message
comes whatever Retain Handling asks, and without Retain As Published.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from typing import Protocol

from curewatch.store.turned_away import Why
from sensors.packets import version3, version5
from sensors.packets.version3 import Packet
from sensors.packets.version5 import Connect5, Values

REFUSED: dict[Why, int] = {
    "no_password": version3.NOT_ALLOWED,
    "wrong_password": version3.WRONG_PASSWORD,
    "must_wait": version3.UNAVAILABLE,
    "will_topic": version3.NOT_ALLOWED,
    "no_name": version3.NO_NAME,
    "version": version3.NO_VERSION,
}
# The codes of a CONNACK of 3.1.1 in version 5. [3.2.2.2]
_CODES = (
    0,
    version5.NO_VERSION,
    version5.NO_NAME,
    version5.UNAVAILABLE,
    version5.WRONG_PASSWORD,
    version5.NOT_AUTHORIZED,
)
FOREVER_S, _NO_LOCAL = 65_535, 4
Send = Callable[[bytes], object]


class Version(Protocol):
    """Speaks to a client; both sides of it are MQTT 3.1.1.

    denial: what is added to the acknowledgement of a message on a topic that its client may not
    write; name: the client's at the broker; anew: it wants an earlier session to be forgotten;
    expiry_s: how long its session lasts after it has parted [s], None without end.
    """

    denial: bytes
    name: str
    anew: bool
    expiry_s: int | None

    def received(self, packet: Packet) -> Packet:
        """What the client said. Raises Malformed."""
        ...

    def send(self, raw: bytes) -> None:
        """Say a packet to the client."""
        ...

    def bars_filter(self, id: int, place: int) -> bool:
        """Whether a filter of the subscription with this identifier asks for what cannot be."""
        ...

    def declined(self, packet: Packet) -> bytes | None:
        """The answer to the broker for what the client does not take; None for what it takes."""
        ...

    def end(self, reason: int) -> None:
        """Say why the connection ends."""
        ...


class Version311:
    """A client of MQTT 3.1.1, or of 3.1: nothing is changed."""

    denial, name, anew = b"", "", False
    expiry_s: int | None = None

    def __init__(self, send: Send) -> None:
        self._send = send

    def received(self, packet: Packet) -> Packet:
        """What the client said."""
        return packet

    def send(self, raw: bytes) -> None:
        """Say a packet to the client."""
        self._send(raw)

    def bars_filter(self, id: int, place: int) -> bool:
        """It cannot ask for anything of the kind."""
        return False

    def declined(self, packet: Packet) -> bytes | None:
        """It takes everything."""
        return None

    def end(self, reason: int) -> None:
        """There is no such packet."""


class Version5:
    """A client of MQTT 5, of whom packets of at most `most_bytes` are taken."""

    denial = bytes([version5.NOT_AUTHORIZED])

    def __init__(self, hello: Connect5, most_bytes: int, send: Send) -> None:
        self._connect5, self._most_bytes, self._send = hello, most_bytes, send
        self.name, self.anew = "", hello.anew
        self.expiry_s: int | None = hello.expiry_s
        self._barred, self._filters = dict[int, set[int]](), dict[int, int]()
        self._out, self._later, self._declined = set[int](), deque[bytes](), set[int]()

    def received(self, packet: Packet) -> Packet:
        """What the client said, as 3.1.1. Raises Malformed."""
        kind = packet.kind
        if kind == version3.PUBLISH:
            raw = version3.packet(kind, version5.without_properties(packet), packet.flags)
        elif kind in (version3.PUBACK, version3.PUBREC, version3.PUBREL, version3.PUBCOMP):
            raw = self._acknowledged(packet)
        elif kind == version3.SUBSCRIBE:
            raw = self._subscribed(packet)
        elif kind == version3.UNSUBSCRIBE:
            id, filters = version5.parse_unsubscribe(packet)
            self._filters[id] = len(filters)
            raw = version3.answer(kind, id, b"".join(filters))
        elif kind == version3.DISCONNECT:
            return self._parted(packet)
        elif kind == version3.PINGREQ:
            return packet
        else:  # AUTH too: no sign-in method was agreed on [4.12]
            raise version5.wrong("a packet that is not sent here")
        return version3.whole(raw)

    def _acknowledged(self, packet: Packet) -> bytes:
        reason, _ = version5.parse_reason(packet, 2)
        refused = packet.kind == version3.PUBREC and reason >= version5.UNSPECIFIED
        if packet.kind in (version3.PUBACK, version3.PUBCOMP) or refused:  # [4.9]
            self._out.discard(packet.id)
            while self._later and len(self._out) < self._connect5.receives:
                self._publish(version3.whole(self._later.popleft()))
        return version3.answer(packet.kind, packet.id)

    def _subscribed(self, packet: Packet) -> bytes:
        id, pairs = version5.parse_subscribe(packet)
        self._barred[id] = {at for at, (_, options) in enumerate(pairs) if options & _NO_LOCAL}
        return version3.make_subscribe(id, [(topic, options & 3) for topic, options in pairs])

    def _parted(self, packet: Packet) -> Packet:
        """An orderly end takes the will back, any other leaves it. [3.14.2.1, 3.1.2.5]"""
        reason, properties = version5.parse_reason(packet, 0)
        expiry_s = properties.get(version5.SESSION_EXPIRY)
        if isinstance(expiry_s, int):
            if expiry_s and not self.expiry_s:  # [3.14.2.2.2]
                raise version5.wrong("a session that was to end")
            self.expiry_s = expiry_s
        raw = b"" if reason else version3.packet(version3.DISCONNECT, b"")
        return Packet(version3.DISCONNECT, 0, b"", raw)

    def bars_filter(self, id: int, place: int) -> bool:
        """Whether a filter asks for No Local, which a broker of 3.1.1 cannot do. [3.8.3.1]"""
        return place in self._barred.get(id, ())

    def send(self, raw: bytes) -> None:
        """Say a packet of 3.1.1 to the client."""
        packet = version3.whole(raw)
        if packet.kind == version3.CONNACK:
            self._send(self._welcome(packet))
        elif packet.kind == version3.PUBLISH:
            self._publish(packet)
        elif packet.kind == version3.SUBACK:
            self._send(self._granted(packet))
        elif packet.kind == version3.UNSUBACK:  # [3.11.3]
            codes = bytes(self._filters.pop(packet.id, 1))
            self._send(version3.answer(version3.UNSUBACK, packet.id, b"\0" + codes))
        else:
            self._send(raw)

    def _welcome(self, packet: Packet) -> bytes:
        code = _CODES[packet.body[1]] if packet.body[1] < len(_CODES) else version5.UNSPECIFIED
        return version3.packet(
            version3.CONNACK,
            bytes([packet.body[0], code]) + version5.write_properties({} if code else self._own()),
        )

    def _own(self) -> Values:
        """What is said of ourselves: QoS 2 and retained messages there are by default. [3.2.2.3]"""
        own: Values = {
            version5.PACKET_MAXIMUM: self._most_bytes,
            version5.IDENTIFIERS_AVAILABLE: 0,
            version5.SHARED_AVAILABLE: 0,
        }
        connect = self._connect5.connect
        if not connect.client:
            own |= {version5.ASSIGNED_NAME: self.name, version5.SESSION_EXPIRY: 0}
        if not connect.keepalive_s:
            own[version5.SERVER_KEEP_ALIVE] = FOREVER_S
        return own

    def _granted(self, packet: Packet) -> bytes:
        """A SUBACK: what was denied, with its reason. [3.9.3]"""
        barred = self._barred.pop(packet.id, set())
        codes = bytes(
            version5.SPECIFIC
            if at in barred
            else version5.NOT_AUTHORIZED
            if code > version5.GRANTED_MOST
            else code
            for at, code in enumerate(packet.body[2:])
        )
        return version3.answer(version3.SUBACK, packet.id, b"\0" + codes)

    def _publish(self, packet: Packet) -> None:
        """A message, or for later where the client has as many as it takes. [4.9]"""
        qos = packet.flags >> 1 & 3
        if qos and len(self._out) >= self._connect5.receives:
            self._later.append(packet.raw)
            return
        _, at = version3.read_text(packet.body, 0)
        if qos:
            self._out.add(version3.read_two(packet.body, at))
            at += 2
        body = packet.body[:at] + b"\0" + packet.body[at:]
        self._send(version3.packet(version3.PUBLISH, body, packet.flags))

    def declined(self, packet: Packet) -> bytes | None:
        """The answer to the broker for a message that the client does not take. [3.1.2.11.4]"""
        if packet.kind == version3.PUBREL and packet.id in self._declined:
            self._declined.discard(packet.id)
            return version3.answer(version3.PUBCOMP, packet.id)
        with_properties = version3.packet(packet.kind, packet.body + b"\0", packet.flags)
        if packet.kind != version3.PUBLISH or len(with_properties) <= self._connect5.most_bytes:
            return None
        qos = packet.flags >> 1 & 3
        if not qos:
            return b""
        _, at = version3.read_text(packet.body, 0)
        id = version3.read_two(packet.body, at)
        if qos == 2:
            self._declined.add(id)
        return version3.answer(version3.PUBACK if qos == 1 else version3.PUBREC, id)

    def end(self, reason: int) -> None:
        """Say why the connection ends. [3.14]"""
        self._send(version3.packet(version3.DISCONNECT, bytes([reason])))

    def refuse(self, reason: int) -> None:
        """Say why it is not let in, with a code that 3.1.1 does not have. [3.2.2.2]"""
        self._send(version3.packet(version3.CONNACK, bytes([0, reason, 0])))
