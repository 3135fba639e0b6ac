"""One client between its socket and the broker.

Everything is passed on as it is, but for this: a message that holds a reading also goes to the
writer, and the broker's acknowledgement of it waits until the writer has stored it. What a
client from the home network may not write is not passed on: it is counted, and acknowledged
like any other reading that was refused, since sending it again would not help.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

from curewatch.errors import ReadingError
from curewatch.turned_away import Stranger, Why
from sensors import packets
from sensors.packets import Connect, Frames, Malformed, Packet, Publish, Will
from sensors.payload import PREFIX

CONNECT_BYTES, FAREWELL_S, ROOM_S, ROOM_EVERY_S = 16_384, 2.0, 10.0, 0.02
FOREVER_S, FRESH_S = 65_535, 2.0
TLS_HELLO = 22  # the first byte of an encrypted connection: RFC 8446, 5.1
REFUSED: dict[Why, int] = {
    "no_password": packets.NOT_ALLOWED,
    "wrong_password": packets.WRONG_PASSWORD,
    "must_wait": packets.UNAVAILABLE,
    "will_topic": packets.NOT_ALLOWED,
    "no_name": packets.NO_NAME,
}
FOREIGN = ReadingError(
    "a sensor from the home network may not write on this topic",
    fix=f"publish on {PREFIX}/<place>/<quantity>, or touch Listen on the Air page and say what"
    " it measures",
)
ODD = ReadingError(
    "the embedded broker cannot pass on a topic that begins with this letter",
    fix="begin it with one of a to z, or touch Listen on the Air page and say what it measures",
)


@dataclass(frozen=True, slots=True)
class Way:
    """Where a message goes: `stored`: to the writer; `passed`: to the broker; else why neither."""

    stored: bool
    passed: bool
    refusal: ReadingError | None = None


@dataclass(frozen=True)
class Limits:
    """What one listener bears: times in [s], sizes in [bytes]."""

    clients: int = 200
    per_address: int = 20
    packet_bytes: int = 131_072
    connect_s: float = 10.0
    packet_s: float = 20.0


class House(Protocol):
    """What a guest needs of the gatekeeper."""

    limits: Limits
    overhear: Callable[[str, bytes], None]

    async def judge(self, guest: Guest, connect: Connect) -> Why | None: ...

    def turn_away(self, who: Stranger) -> None: ...

    def name(self, guest: Guest, connect: Connect) -> str: ...

    async def broker(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]: ...

    def way(self, guest: Guest, topic: str) -> Way: ...

    def may_hear(self, guest: Guest, topic: str) -> bool: ...

    def counts(self, found: Publish) -> bool: ...

    def may_retain(self, guest: Guest, found: Publish) -> bool: ...

    def offer(
        self,
        guest: Guest,
        found: Publish,
        stored: Callable[[], None],
        refusal: ReadingError | None,
    ) -> bool: ...


class Guest:
    """A client at `address`; a trusted one is of this machine."""

    def __init__(
        self,
        house: House,
        reader: asyncio.StreamReader,
        writer: asyncio.StreamWriter,
        address: str,
        trusted: bool,
        packet_bytes: int,
    ) -> None:
        self.address, self.trusted, self.within = address, trusted, False
        self._house, self._reader, self._writer = house, reader, writer
        self._frames = Frames(CONNECT_BYTES)
        self._packet_bytes = packet_bytes
        self._waiting, self._held = set[int](), dict[int, bytes]()
        self._own, self._denied = set[int](), dict[int, list[bool]]()
        self._loop = asyncio.get_running_loop()
        self._since = self._loop.time()

    @property
    def fresh(self) -> bool:
        """Whether it came in only just now, and may say what it could not say before."""
        return self._loop.time() - self._since < FRESH_S

    async def serve(self) -> None:
        """Let the client in, or not, and pass on what it says until one side ends."""
        try:
            with contextlib.suppress(Malformed, OSError, TimeoutError):
                connect = await self._welcome()
                if connect is not None:
                    await self._relay(connect)
            await self._farewell()
        finally:
            self._writer.transport.abort()

    def part(self) -> None:
        """End the connection at once."""
        self._writer.transport.abort()

    async def _farewell(self) -> None:
        """Let the last answer go out, to one that takes it."""
        self._writer.close()
        with contextlib.suppress(OSError, TimeoutError):
            await asyncio.wait_for(self._writer.wait_closed(), FAREWELL_S)

    async def _welcome(self) -> Connect | None:
        async with asyncio.timeout(self._house.limits.connect_s):
            first = await self._first()
            if first is None or first.kind != packets.CONNECT:
                return None
            try:
                connect = packets.parse_connect(first.body)
            except packets.OtherVersion as error:
                self._house.turn_away(Stranger("version", self.address, number=error.level))
                self._writer.write(packets.refusal_of(error.level))
                return None
            why = await self._house.judge(self, connect)
        if why:
            self._writer.write(packets.connack(REFUSED[why]))
            return None
        return connect

    async def _first(self) -> Packet | None:
        while (found := self._frames.next()) is None:
            data = await self._reader.read(CONNECT_BYTES)
            if not data:
                return None
            if data[0] == TLS_HELLO and not self._frames.partial:
                self._house.turn_away(Stranger("encrypted", self.address))
                return None
            self._frames.add(data)
        return found

    async def _relay(self, connect: Connect) -> None:
        reader, broker = await self._house.broker()
        named = replace(
            connect,
            client=self._house.name(self, connect),
            keepalive_s=connect.keepalive_s or FOREVER_S,
            will=self._bounded(connect.will),
        )
        broker.write(packets.make_connect(named))
        self._frames.limit, self.within = self._packet_bytes, True
        self._since = self._loop.time()
        ways = [
            asyncio.ensure_future(self._from_client(broker)),
            asyncio.ensure_future(self._from_broker(reader)),
        ]
        try:
            await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for way in ways:
                way.cancel()
            await asyncio.gather(*ways, return_exceptions=True)
            broker.close()

    def _bounded(self, will: Will | None) -> Will | None:
        """A will that is not retained where that would be one message too many."""
        if will is None or not will.retain:
            return will
        said = Publish(will.topic, will.payload, will.qos, 0, True, False)
        return replace(will, retain=self._house.may_retain(self, said))

    async def _from_client(self, broker: asyncio.StreamWriter) -> None:
        began = self._loop.time()
        while True:
            while (found := self._frames.next()) is not None:
                await self._take(found, broker)
                began = self._loop.time()
                if found.kind == packets.DISCONNECT:
                    await broker.drain()
                    return
            await broker.drain()
            await self._writer.drain()
            late = began + self._house.limits.packet_s if self._frames.partial else None
            async with asyncio.timeout_at(late):
                data = await self._reader.read(65_536)
            if not data:
                return
            if not self._frames.partial:
                began = self._loop.time()
            self._frames.add(data)

    async def _take(self, found: Packet, broker: asyncio.StreamWriter) -> None:
        if found.kind == packets.PUBLISH:
            await self._publish(found, broker)
        elif found.kind == packets.SUBSCRIBE:
            self._subscribe(found, broker)
        elif found.kind == packets.PUBREL and found.id in self._own:
            self._own.discard(found.id)
            self._writer.write(packets.answer(packets.PUBCOMP, found.id))
        elif found.kind in packets.FROM_CLIENT:
            broker.write(found.raw)
        else:
            raise Malformed("a packet that no client sends")

    async def _publish(self, found: Packet, broker: asyncio.StreamWriter) -> None:
        message = packets.parse_publish(found)
        way = self._house.way(self, message.topic)
        if way.passed:
            kept = not message.retain or self._house.may_retain(self, message)
            broker.write(found.raw if kept else packets.unretained(found))
        else:
            self._house.overhear(message.topic, message.payload)
            self._acknowledge_ourselves(message)
        if way.stored or (way.refusal and self._house.counts(message)):
            await self._hand(message, way.refusal)
        elif not way.passed:
            self._stored(message.id)

    def _acknowledge_ourselves(self, message: Publish) -> None:
        if message.qos:
            kind = packets.PUBACK if message.qos == 1 else packets.PUBREC
            self._held[message.id] = packets.answer(kind, message.id)
        if message.qos == 2:
            self._own.add(message.id)

    async def _hand(self, message: Publish, refusal: ReadingError | None) -> None:
        """Give a message to the writer; one that finds no room for long costs the connection."""
        if message.qos:
            self._waiting.add(message.id)
        stored = partial(self._stored_elsewhere, message.id)
        async with asyncio.timeout(ROOM_S):
            while not self._house.offer(self, message, stored, refusal):
                await asyncio.sleep(ROOM_EVERY_S)

    def _stored_elsewhere(self, id: int) -> None:
        """Told by the writer's thread."""
        if id:
            with contextlib.suppress(RuntimeError):
                self._loop.call_soon_threadsafe(self._stored, id)

    def _stored(self, id: int) -> None:
        self._waiting.discard(id)
        held = self._held.pop(id, None)
        if held and not self._writer.is_closing():
            self._writer.write(held)

    def _subscribe(self, found: Packet, broker: asyncio.StreamWriter) -> None:
        id, asked = packets.parse_subscribe(found)
        granted = [self._house.may_hear(self, topic) for topic, _ in asked]
        if all(granted):
            broker.write(found.raw)
        elif not any(granted):
            self._writer.write(
                packets.answer(packets.SUBACK, id, bytes([packets.DENIED]) * len(asked))
            )
        else:
            self._denied[id] = granted
            kept = [each for each, yes in zip(asked, granted, strict=True) if yes]
            broker.write(packets.make_subscribe(id, kept))

    async def _from_broker(self, reader: asyncio.StreamReader) -> None:
        frames = Frames(2**28)
        while data := await reader.read(65_536):
            frames.add(data)
            while (found := frames.next()) is not None:
                self._answer(found)
            await self._writer.drain()

    def _answer(self, found: Packet) -> None:
        """Pass on what the broker says; its acknowledgement of a reading waits to be true."""
        if found.kind in (packets.PUBACK, packets.PUBREC) and found.id in self._waiting:
            self._held[found.id] = found.raw
        elif found.kind == packets.SUBACK and found.id in self._denied:
            codes = iter(found.body[2:])
            granted = self._denied.pop(found.id)
            merged = bytes(
                next(codes, packets.DENIED) if yes else packets.DENIED for yes in granted
            )
            self._writer.write(packets.answer(packets.SUBACK, found.id, merged))
        else:
            self._writer.write(found.raw)
