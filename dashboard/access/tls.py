"""The page over TLS: takes encrypted connections and hands them, opened, to the server.

Waitress speaks no TLS. Here each handshake waits by itself, not longer than HANDSHAKE_S, and while
too many wait one gives way; after it the server counts the connection. What is cancelled ends here
as if done: a task keeps the exception it ended with, and with it buffers of 256 kB, for seconds.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import ssl
import threading
from dataclasses import dataclass
from pathlib import Path

from curewatch.errors import ConfigError
from dashboard.access.connections import Peer, one_too_many, peer_of

HANDSHAKE_S, START_S, STOP_S, LAST_BYTES_S = 10.0, 10.0, 5.0, 20.0
_CHUNK, _NO_HANDLES_S = 65536, 0.2


def server_context(certificate: Path, key: Path) -> ssl.SSLContext:
    """TLS 1.2 or newer with the user's certificate. Raises ConfigError."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(certificate, key, password=_no_password)
    except (OSError, ValueError) as error:
        raise ConfigError(
            f"the certificate cannot be used with its key ({_why(error)})",
            where=str(certificate),
            fix="give a PEM file of the certificate and one of its key, without a password",
        ) from None
    return context


def _no_password() -> str:
    raise ValueError("the key has a password")


def _why(error: Exception) -> str:
    return getattr(error, "reason", None) or getattr(error, "strerror", None) or str(error)


@dataclass(eq=False)
class _Handshake:
    """A connection on its way to being encrypted."""

    peer: Peer
    task: asyncio.Task[None] | None
    waits: bool = True

    def end(self) -> None:
        """Close it."""
        if self.task:
            self.task.cancel()


class TlsFront:
    """Connections to `outer` opened and handed on to `inner`; `peer_at` says whose they are."""

    def __init__(
        self, outer: socket.socket, inner: tuple[str, int], context: ssl.SSLContext
    ) -> None:
        self._outer, self._inner, self._context = outer, inner, context
        self._peers: dict[int, Peer] = {}
        self._shaking: list[_Handshake] = []
        self._tasks: set[asyncio.Task[None]] = set()
        self._loop = asyncio.new_event_loop()
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, name="tls", daemon=True)

    def start(self) -> None:
        """Take connections from now on."""
        self._thread.start()
        self._ready.wait(START_S)

    def stop(self) -> None:
        """Close every connection and free the port."""
        if not self._thread.is_alive():
            self._outer.close()
            self._loop.close()
            return
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(self._serving.cancel)
        self._thread.join(STOP_S)

    def peer_at(self, port: int) -> Peer | None:
        """Who speaks through a port of this machine, None for anyone else's."""
        return self._peers.get(port)

    def _run(self) -> None:
        self._loop.set_exception_handler(lambda loop, data: None)
        self._serving = self._loop.create_task(self._serve())
        with contextlib.suppress(asyncio.CancelledError):
            self._loop.run_until_complete(self._serving)
        self._loop.close()

    async def _serve(self) -> None:
        self._outer.setblocking(False)
        self._ready.set()
        try:
            while True:
                await self._take()
        finally:
            self._outer.close()
            for task in self._tasks:
                task.cancel()
            await asyncio.gather(*self._tasks, return_exceptions=True)
            await asyncio.sleep(0)  # what they cut off is closed in the loop's next round

    async def _take(self) -> None:
        try:
            opened, address = await self._loop.sock_accept(self._outer)
        except OSError:
            await asyncio.sleep(_NO_HANDLES_S)
            return
        peer = peer_of(opened, str(address[0]))
        task = self._loop.create_task(self._connected(opened, peer))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        await asyncio.sleep(0)  # the task has taken over `opened` before anything can end it

    async def _connected(self, opened: socket.socket, peer: Peer) -> None:
        handshake = _Handshake(peer, asyncio.current_task())
        self._shaking.append(handshake)
        if leaving := one_too_many(self._shaking):
            leaving.end()
        try:
            reader, writer = await self._encrypted(opened)
        except (OSError, asyncio.CancelledError):
            return
        finally:
            self._shaking.remove(handshake)
        try:
            with contextlib.suppress(OSError):
                await self._through(reader, writer, peer)
                await _sent(writer)
        finally:
            writer.transport.abort()

    async def _encrypted(
        self, opened: socket.socket
    ) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        reader = asyncio.StreamReader()
        protocol = asyncio.StreamReaderProtocol(reader)
        transport, _ = await self._loop.connect_accepted_socket(
            lambda: protocol,
            opened,
            ssl=self._context,
            ssl_handshake_timeout=HANDSHAKE_S,
            ssl_shutdown_timeout=1.0,
        )
        return reader, asyncio.StreamWriter(transport, protocol, reader, self._loop)

    async def _through(
        self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, peer: Peer
    ) -> None:
        """Hand on both ways; the port is known before the server can see the connection."""
        with contextlib.closing(socket.socket()) as connection:
            connection.setblocking(False)
            connection.bind(("127.0.0.1", 0))
            port = connection.getsockname()[1]
            self._peers[port] = peer
            try:
                await self._loop.sock_connect(connection, self._inner)
                back, forth = await asyncio.open_connection(sock=connection)
                await _both(reader, writer, back, forth)
            finally:
                del self._peers[port]


async def _both(
    reader: asyncio.StreamReader,
    writer: asyncio.StreamWriter,
    back: asyncio.StreamReader,
    forth: asyncio.StreamWriter,
) -> None:
    ways = [asyncio.create_task(_pump(reader, forth)), asyncio.create_task(_pump(back, writer))]
    try:
        await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
        await asyncio.wait(ways[1:], timeout=1.0)
    finally:
        for way in ways:
            way.cancel()
        forth.transport.abort()


async def _sent(writer: asyncio.StreamWriter) -> None:
    """All that was written has gone out; a peer that takes nothing is not waited for long."""
    with contextlib.suppress(OSError):
        async with asyncio.timeout(LAST_BYTES_S):
            writer.transport.set_write_buffer_limits(high=1, low=0)
            await writer.drain()
            writer.close()
            await writer.wait_closed()


async def _pump(source: asyncio.StreamReader, sink: asyncio.StreamWriter) -> None:
    with contextlib.suppress(OSError, asyncio.CancelledError):
        while chunk := await source.read(_CHUNK):
            sink.write(chunk)
            await sink.drain()
        if sink.can_write_eof():
            sink.write_eof()
