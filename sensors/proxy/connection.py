"""One client between its socket and the broker.

Everything is passed on as it is, but for this: a message that holds a reading also goes to the
writer, and the broker's acknowledgement of it waits until the writer has stored it. What a
client from the home network may not write is not passed on: it is counted, and acknowledged
like any other reading that was refused, since sending it again would not help.

Clients take turns: one that has sent its share waits until the broker has done all of it, and
until others have had theirs.
"""

from __future__ import annotations

import asyncio
import contextlib
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from curewatch.store.turned_away import Stranger
from sensors.packets import version3, version5
from sensors.packets.version3 import Connect, Frames, Malformed, Packet, Publish, Will
from sensors.packets.versions import FOREVER_S, REFUSED, Version, Version5, Version311
from sensors.proxy.limits import FOREIGN
from sensors.proxy.peers import name_at_broker
from sensors.proxy.quota import PACKETS, Pings, Quota
from sensors.proxy.subscriptions import Subscriptions

if TYPE_CHECKING:
    from sensors.proxy.proxy import Gatekeeper

CONNECT_BYTES, FRESH_S, FORGET_S = 16_384, 2.0, 2.0
FAREWELL_S, ROOM_S, ROOM_EVERY_S = 2.0, 10.0, 0.02
_PING = version3.packet(version3.PINGREQ, b"")
TLS_HELLO = 22  # the first byte of an encrypted connection: RFC 8446, 5.1


class ClientConnection:
    """A client at `address`; a trusted one is of this machine."""

    def __init__(
        self,
        gatekeeper: Gatekeeper,
        reader: asyncio.StreamReader,
        writer: asyncio.StreamWriter,
        address: str,
        trusted: bool,
        packet_bytes: int,
    ) -> None:
        self.address, self.trusted, self.connected = address, trusted, False
        self._gatekeeper, self._reader, self._writer = gatekeeper, reader, writer
        self._frames, self._packet_bytes = Frames(CONNECT_BYTES), packet_bytes
        self._version: Version = Version311(writer.write)
        self._waiting, self._unsent_acks = set[int](), dict[int, bytes]()
        self._own, self._subscriptions = set[int](), Subscriptions()
        self._quota, self._pings = Quota(), Pings()
        self._loop = asyncio.get_running_loop()
        self._connected_at = self._loop.time()

    @property
    def just_connected(self) -> bool:
        """Whether it connected only just now: what it sends may have waited in it."""
        return self._loop.time() - self._connected_at < FRESH_S

    async def serve(self) -> None:
        """Let the client in, or refuse it, and pass on what it sends until one side ends."""
        try:
            with contextlib.suppress(Malformed, OSError, TimeoutError):
                if connect := await self._sign_in():
                    await self._relay(connect)
            await self._flush_and_close()
        finally:
            self._writer.transport.abort()

    def disconnect(self) -> None:
        """End the connection at once."""
        self._writer.transport.abort()

    async def _flush_and_close(self) -> None:
        """Let the last answer go out, to one that takes it."""
        self._writer.close()
        with contextlib.suppress(OSError, TimeoutError):
            await asyncio.wait_for(self._writer.wait_closed(), FAREWELL_S)

    async def _sign_in(self) -> Connect | None:
        async with asyncio.timeout(self._gatekeeper.limits.connect_s):
            first = await self._first_packet()
            if first is None or first.kind != version3.CONNECT:
                return None
            connect = self._parse_connect(first.body)
            why = await self._gatekeeper.admission_refusal(self, connect) if connect else None
        if why:
            self._version.send(version3.connack(REFUSED[why]))
        return None if why else connect

    def _parse_connect(self, body: bytes) -> Connect | None:
        try:
            return version3.parse_connect(body)
        except version3.OtherVersion as error:
            if error.level != version5.LEVEL:
                self._gatekeeper.turn_away(Stranger("version", self.address, number=error.level))
                self._version.send(version3.connack(version3.NO_VERSION))
                return None
        hello = version5.parse_connect(body)
        self._version = version = Version5(hello, self._packet_bytes, self._writer.write)
        if hello.method:
            self._gatekeeper.turn_away(Stranger("own_method", self.address, hello.connect.client))
            version.refuse(version5.NO_METHOD)
            return None
        return hello.connect

    async def _first_packet(self) -> Packet | None:
        while (packet := self._frames.next()) is None:
            data = await self._reader.read(CONNECT_BYTES)
            if not data:
                return None
            if data[0] == TLS_HELLO and not self._frames.partial:
                self._gatekeeper.turn_away(Stranger("encrypted", self.address))
                return None
            self._frames.add(data)
        return packet

    async def _relay(self, connect: Connect) -> None:
        named = replace(
            connect,
            client=name_at_broker(connect, self.trusted),
            keepalive_s=connect.keepalive_s or FOREVER_S,
            will=self._bounded(connect.will),
        )
        self._version.name = named.client
        past = self._gatekeeper.expiry.past(named.client, self._loop.time())
        if past or (self._version.anew and not connect.clean):
            await self._drop_session(named)
        reader, broker = await self._gatekeeper.broker()
        broker.write(version3.make_connect(named))
        self._frames.limit, self.connected = self._packet_bytes, True
        self._connected_at = self._loop.time()
        relays = [
            asyncio.ensure_future(self._from_client(broker)),
            asyncio.ensure_future(self._from_broker(reader, broker)),
        ]
        try:
            await asyncio.wait(relays, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for relay in relays:
                relay.cancel()
            await asyncio.gather(*relays, return_exceptions=True)
            broker.close()
            if not named.clean:
                expiry_s = self._version.expiry_s
                self._gatekeeper.expiry.parted(named.client, expiry_s, self._loop.time())

    async def _drop_session(self, named: Connect) -> None:
        """Have the broker drop the session of this name, by a visit that keeps none."""
        reader, broker = await self._gatekeeper.broker()
        broker.write(version3.make_connect(replace(named, clean=True, will=None)))
        with contextlib.suppress(OSError, TimeoutError, asyncio.IncompleteReadError):
            async with asyncio.timeout(FORGET_S):
                await reader.readexactly(4)
                broker.write(version3.packet(version3.DISCONNECT, b""))
                await reader.read()
        broker.close()

    def _bounded(self, will: Will | None) -> Will | None:
        """A will that is not retained where that would be one message too many."""
        if will is None or not will.retain:
            return will
        return replace(will, retain=self._gatekeeper.may_retain(self, will))

    async def _from_client(self, broker: asyncio.StreamWriter) -> None:
        try:
            await self._pass_on(broker)
        except Malformed as error:
            self._version.end(error.reason)

    async def _pass_on(self, broker: asyncio.StreamWriter) -> None:
        began = self._loop.time()
        while True:
            while (packet := self._frames.next()) is not None:
                if self._quota.used_up(len(packet.raw), self._loop.time()):
                    await self._yield_turn(broker)
                await self._dispatch(self._version.received(packet), broker)
                began = self._loop.time()
                if packet.kind == version3.DISCONNECT:
                    await broker.drain()
                    return
            await broker.drain()
            await self._writer.drain()
            late = began + self._gatekeeper.limits.packet_s if self._frames.partial else None
            async with asyncio.timeout_at(late):
                data = await self._reader.read(65_536)
            if not data:
                return
            if not self._frames.partial:
                began = self._loop.time()
            self._frames.add(data)

    async def _yield_turn(self, broker: asyncio.StreamWriter) -> None:
        """Go on when the broker has done all that this client asked for, and others had a turn."""
        broker.write(_PING)
        await self._pings.ours()
        await self._gatekeeper.turn()

    async def _dispatch(self, packet: Packet, broker: asyncio.StreamWriter) -> None:
        if packet.kind == version3.PUBLISH:
            await self._publish(packet, broker)
        elif packet.kind == version3.SUBSCRIBE:
            self._subscribe(packet, broker)
        elif packet.kind == version3.PUBREL and packet.id in self._own:
            self._own.discard(packet.id)
            self._version.send(version3.answer(version3.PUBCOMP, packet.id))
        elif packet.kind in version3.FROM_CLIENT:
            if packet.kind == version3.PINGREQ:
                self._pings.theirs()
            broker.write(packet.raw)
        else:
            raise Malformed("a packet that no client sends")

    async def _publish(self, packet: Packet, broker: asyncio.StreamWriter) -> None:
        message = version3.parse_publish(packet)
        destination = self._gatekeeper.route(self, message.topic)
        if destination.passed:
            self._own.discard(message.id)
            retained = not message.retain or self._gatekeeper.may_retain(self, message)
            broker.write(packet.raw if retained else version3.unretained(packet))
        else:
            self._gatekeeper.overhear(message.topic, message.payload)
            self._acknowledge_ourselves(message, destination.refusal is FOREIGN)
        if destination.refusal:
            self._gatekeeper.refuse(message.topic, destination.refusal)
        if destination.stored:
            await self._store(message)
        elif not destination.passed:
            self._stored(message.id)

    def _acknowledge_ourselves(self, message: Publish, foreign: bool) -> None:
        denial = self._version.denial if foreign else b""
        if message.qos:
            kind = version3.PUBACK if message.qos == 1 else version3.PUBREC
            self._unsent_acks[message.id] = version3.answer(kind, message.id, denial)
        if message.qos == 2:
            self._own.add(message.id)

    async def _store(self, message: Publish) -> None:
        """Give a message to the writer; one that finds no room for long costs the connection."""
        if message.qos:
            self._waiting.add(message.id)
        stored = partial(self._stored_elsewhere, message.id)
        async with asyncio.timeout(ROOM_S):
            while not self._gatekeeper.offer(self, message, stored):
                await asyncio.sleep(ROOM_EVERY_S)

    def _stored_elsewhere(self, id: int) -> None:
        """Called from the writer's thread."""
        if id:
            with contextlib.suppress(RuntimeError):
                self._loop.call_soon_threadsafe(self._stored, id)

    def _stored(self, id: int) -> None:
        self._waiting.discard(id)
        acknowledgement = self._unsent_acks.pop(id, None)
        if acknowledgement and not self._writer.is_closing():
            self._version.send(acknowledgement)

    def _subscribe(self, packet: Packet, broker: asyncio.StreamWriter) -> None:
        passed, refusal = self._subscriptions.ask(packet, self._may_subscribe)
        if passed:
            broker.write(passed)
        else:
            self._version.send(refusal)

    def _may_subscribe(self, id: int, at: int, topic: str) -> bool:
        allowed = self._gatekeeper.may_subscribe(self, topic)
        return allowed and not self._version.bars_filter(id, at)

    async def _from_broker(
        self, reader: asyncio.StreamReader, broker: asyncio.StreamWriter
    ) -> None:
        frames, number = Frames(2**28), 0
        while data := await reader.read(65_536):
            frames.add(data)
            while (packet := frames.next()) is not None:
                if (declined := self._version.declined(packet)) is not None:
                    broker.write(declined)
                else:
                    self._answer(packet)
                if (number := (number + 1) % PACKETS) == 0:
                    await asyncio.sleep(0)
            await self._writer.drain()

    def _answer(self, packet: Packet) -> None:
        """Pass on what the broker says; its acknowledgement of a reading waits to be true."""
        if packet.kind == version3.PINGRESP and not self._pings.answered():
            return
        if packet.kind in (version3.PUBACK, version3.PUBREC) and packet.id in self._waiting:
            self._unsent_acks[packet.id] = packet.raw
        elif packet.kind == version3.SUBACK:
            self._version.send(self._subscriptions.granted(packet))
        else:
            self._version.send(packet.raw)
