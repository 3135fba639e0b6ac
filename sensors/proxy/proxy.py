"""The gatekeeper: where sensors connect, before our own broker.

The broker itself listens on this machine, at a port known to nobody else. Clients of this machine
come in without a password; from the home network none does, and it writes and hears what
`permissions.py` lets it. Passwords are checked off the loop, an address with wrong ones waits ever
longer, and everything a stranger can make us hold is bounded: connections, per address and in
all, the size of a packet, and the time to send one. Clients that send much take turns.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections import Counter
from collections.abc import Callable
from datetime import datetime
from time import monotonic

from curewatch.errors import ReadingError
from curewatch.quality.tally import Tally
from curewatch.store.turned_away import Stranger, Why
from sensors.broker.process import MAX_PAYLOAD_BYTES, BrokerProcess, cannot_listen
from sensors.mqtt.arrival import Arrivals
from sensors.mqtt.writer import Message, Writer
from sensors.packets.expiry import Expiry
from sensors.packets.retained import TOO_MANY, RetainedByBoth
from sensors.packets.version3 import Connect, Publish, Will
from sensors.proxy.connection import ClientConnection
from sensors.proxy.limits import FOREIGN, ODD, ConnectionLimits, Route
from sensors.proxy.passwords import Passwords, UserIs
from sensors.proxy.peers import keep_alive, of_this_machine
from sensors.proxy.permissions import TopicPermissions

MOST_TOPICS, RENEWED_EVERY_S, TURN_S = 2000, 2.0, 0.005
BROKER_S, BROKER_EVERY_S, START_S, STOP_S = 5.0, 0.1, 10.0, 10.0
LIMITS = ConnectionLimits()
Overhear = Callable[[str, bytes], None]


def nobody(user: str, password: str) -> bool:
    """Who is let in from the home network while there is no passcode."""
    return False


def no_mark() -> None:
    """The mark of the secrets where there are none."""


def unheard(topic: str, payload: bytes) -> None:
    """What happens to a message turned away while nobody listens."""


def can_begin(topic: str) -> bool:
    """Whether the embedded broker bears a topic; not one that begins beyond ASCII."""
    return topic[:1].isascii()


class Gatekeeper:
    """Listens at host:port for clients of `broker`.

    Port 0 is any that is free; `port` then tells which. `user_is` checks who comes from the home
    network, and `mark` changes when its secrets are renewed.
    """

    def __init__(
        self,
        host: str,
        port: int,
        broker: BrokerProcess,
        writer: Writer,
        clock: Callable[[], datetime],
        user_is: UserIs = nobody,
        mark: Callable[[], str | None] = no_mark,
        limits: ConnectionLimits = LIMITS,
        trusts: Callable[[str], bool] = of_this_machine,
    ) -> None:
        self.host, self.port, self.limits = host, port, limits
        self.overhear: Overhear = unheard
        self._broker, self._writer, self._clock = broker, writer, clock
        self._mark, self._trusts = mark, trusts
        self._connections, self._by_address = set[ClientConnection](), Counter[str]()
        self._passwords, self.expiry = Passwords(user_is), Expiry()
        self._arrivals = Arrivals(clock, writer.last_heard())
        self._retained = RetainedByBoth()
        self._ready, self._failed = threading.Event(), list[OSError]()
        self._thread = threading.Thread(target=self._run, name="gatekeeper", daemon=True)
        self._load_routes()

    def _load_routes(self) -> None:
        """Where messages go, by the settings as they are now."""
        self._permissions = TopicPermissions(self._writer.filters, self._writer.buttons)
        self._routes = dict[tuple[str, bool], Route]()

    @property
    def connected(self) -> int:
        """How many clients are in."""
        return sum(connection.connected for connection in tuple(self._connections))

    @property
    def state(self) -> str:
        """The state of the listener, in words."""
        if not self._ready.is_set() or not self._thread.is_alive():
            return "not listening"
        if not self._broker.answers:
            return self._writer.state("not listening: the broker does not answer, and is replaced")
        clients = "1 client" if self.connected == 1 else f"{self.connected} clients"
        instead = self._broker.instead and f"; {self._broker.instead}"
        text = f"listening at {self.host}:{self.port}, {clients} connected{instead}"
        return self._writer.state(text)

    @property
    def tally(self) -> Tally:
        """Where is counted what is turned away."""
        return self._writer.tally

    def start(self) -> Gatekeeper:
        """Listen from now on. Raises ConfigError where the port cannot be had."""
        self._writer.on_change = self._load_routes
        self._thread.start()
        self._ready.wait(START_S)
        if self._failed:
            raise cannot_listen(self.host, self.port, self._failed[0])
        self._writer.start()
        return self

    def stop(self) -> None:
        """Store and acknowledge what has come, and part from every client."""
        self._writer.stop()
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(self._stop_requested.set)
        self._thread.join(STOP_S)
        self._passwords.close()
        self.tally.write()

    def _run(self) -> None:
        try:
            asyncio.run(self._serve())
        except OSError as error:
            self._failed.append(error)
        finally:
            self._ready.set()

    async def _serve(self) -> None:
        self._loop, self._stop_requested = asyncio.get_running_loop(), asyncio.Event()
        self._turn = asyncio.Lock()
        server = await asyncio.start_server(self._accept, self.host, self.port, backlog=256)
        self.port = server.sockets[0].getsockname()[1]
        async with server:
            self._ready.set()
            following = asyncio.ensure_future(self._watch_secrets())
            await self._stop_requested.wait()
            following.cancel()

    async def _watch_secrets(self) -> None:
        """Part from all of the home network when the secrets were renewed."""
        previous = self._mark()
        while True:
            await asyncio.sleep(RENEWED_EVERY_S)
            if (mark := self._mark()) != previous:
                previous = mark
                for stale in [
                    connection for connection in self._connections if not connection.trusted
                ]:
                    stale.disconnect()

    async def _accept(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        address = str((writer.get_extra_info("peername") or ("0.0.0.0",))[0])
        trusted = self._trusts(address)
        if lacking := self._lacks_room(address, trusted):
            self.turn_away(lacking)
            writer.transport.abort()
            return
        keep_alive(writer.get_extra_info("socket"))
        most = MAX_PAYLOAD_BYTES if trusted else self.limits.packet_bytes
        connection = ClientConnection(self, reader, writer, address, trusted, most)
        self._connections.add(connection)
        self._by_address[address] += 1
        try:
            with contextlib.suppress(asyncio.CancelledError):
                await connection.serve()
        finally:
            self._connections.discard(connection)
            self._by_address[address] -= 1
            self._by_address += Counter()

    def _lacks_room(self, address: str, trusted: bool) -> Stranger | None:
        """Why no more may come: strangers never take the places of this machine."""
        limits = self.limits
        if sum(connection.trusted == trusted for connection in self._connections) >= limits.clients:
            return Stranger("full", address, number=limits.clients)
        if not trusted and self._by_address[address] >= limits.per_address:
            return Stranger("crowded", address, number=limits.per_address)
        return None

    def turn_away(self, who: Stranger) -> None:
        """Count one that is not let in."""
        self.tally.turn_away(self._clock(), who)

    async def admission_refusal(self, connection: ClientConnection, connect: Connect) -> Why | None:
        """Why a client is not let in; None for one that is."""
        why = await self._admission_refusal(connection, connect)
        if why:
            self.turn_away(Stranger(why, connection.address, connect.client, connect.user or ""))
        return why

    async def _admission_refusal(
        self, connection: ClientConnection, connect: Connect
    ) -> Why | None:
        if not connection.trusted and (
            why := await self._passwords.refusal(connection.address, connect)
        ):
            return why
        if (will := connect.will) and not self.route(connection, will.topic).passed:
            return "will_topic"
        return None if connect.client or connect.clean else "no_name"

    async def broker(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        """A connection to the broker; while that starts again, a moment's wait."""
        deadline = monotonic() + BROKER_S
        while True:
            port = self._broker.port
            try:
                pair = await asyncio.open_connection("127.0.0.1", port)
                self._retained.meet(port)
                return pair
            except OSError:
                if monotonic() > deadline:
                    raise
            await asyncio.sleep(BROKER_EVERY_S)

    def may_retain(self, connection: ClientConnection, message: Publish | Will) -> bool:
        """Whether the broker may keep a message for who comes later; one too many is counted.

        What the home network has retained never takes the room of this machine.
        """
        if self._retained.takes(message.topic, len(message.payload), connection.trusted):
            return True
        self.refuse(message.topic, TOO_MANY)
        return False

    def route(self, connection: ClientConnection, topic: str) -> Route:
        """Where a client's message on this topic goes."""
        key, routes, permissions = (topic, connection.trusted), self._routes, self._permissions
        if (route := routes.get(key)) is not None:
            return route
        if len(routes) >= MOST_TOPICS:
            routes.clear()
        allowed = connection.trusted or permissions.may_write(topic)
        stored = allowed and permissions.is_reading(topic)
        refusal = None if stored else ODD if allowed else FOREIGN
        passed = allowed and self._bears(topic)
        new_route = routes[key] = Route(stored, passed, None if passed else refusal)
        return new_route

    def _bears(self, topic: str) -> bool:
        return self._broker.any_topic or can_begin(topic)

    def may_subscribe(self, connection: ClientConnection, topic: str) -> bool:
        """Whether a client may subscribe to this filter."""
        return self._bears(topic) and (connection.trusted or self._permissions.may_subscribe(topic))

    def refuse(self, topic: str, why: ReadingError) -> None:
        """Count a message that is turned away."""
        self.tally.refuse(self._clock(), topic, str(why))

    async def turn(self) -> None:
        """Wait in line, with all who have sent their share: one goes on every TURN_S."""
        async with self._turn:
            await asyncio.sleep(TURN_S)

    def offer(
        self, connection: ClientConnection, publish: Publish, stored: Callable[[], None]
    ) -> bool:
        """Give a message to the writer. False: no room."""
        if self._arrivals.full(publish.topic):
            return False
        arrived = self._arrivals.stamp(publish.topic)
        late, fresh = publish.again, connection.just_connected
        return self._writer.offer(
            Message(
                publish.topic,
                publish.payload,
                arrived,
                stored,
                late=late,
                fresh=fresh,
                sender=connection,
            )
        )
