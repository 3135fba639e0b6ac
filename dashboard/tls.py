"""The page over TLS: takes encrypted connections and hands them, opened, to the server.

Waitress speaks no TLS. Of the WSGI servers in pure Python that do, the usual one shakes hands on
the thread that accepts, as cheroot does, so that one connection that stays silent stops the page
for everyone. Here each handshake waits by itself, and not longer than HANDSHAKE_S.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import ssl
import threading
from pathlib import Path

from curewatch.errors import ConfigError

HANDSHAKE_S, START_S, STOP_S = 10.0, 10.0, 5.0
MOST, PER_ADDRESS = 80, 30
_CHUNK = 65536


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


class TlsFront:
    """Connections to `outer` opened and handed on to `inner`; `address_of` says whose they are."""

    def __init__(
        self, outer: socket.socket, inner: tuple[str, int], context: ssl.SSLContext
    ) -> None:
        self._outer, self._inner, self._context = outer, inner, context
        self._peers: dict[int, str] = {}
        self._loop = asyncio.new_event_loop()
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, name="tls", daemon=True)

    def start(self) -> None:
        """Take connections from now on."""
        self._thread.start()
        self._ready.wait(START_S)

    def stop(self) -> None:
        """Close every connection and free the port."""
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(self._end)
        self._thread.join(STOP_S)

    def address_of(self, port: int) -> str | None:
        """The address of who speaks through a port of this machine, None for anyone else's."""
        return self._peers.get(port)

    def _end(self) -> None:
        for task in asyncio.all_tasks(self._loop):
            task.cancel()

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        with contextlib.suppress(asyncio.CancelledError):
            self._loop.run_until_complete(self._serve())
        self._loop.run_until_complete(self._loop.shutdown_asyncgens())
        self._loop.close()

    async def _serve(self) -> None:
        server = await asyncio.start_server(
            self._connected,
            sock=self._outer,
            ssl=self._context,
            ssl_handshake_timeout=HANDSHAKE_S,
            ssl_shutdown_timeout=1.0,
        )
        self._loop.set_exception_handler(lambda loop, told: None)
        self._ready.set()
        async with server:
            await server.serve_forever()

    async def _connected(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        held, address = list(self._peers.values()), str(writer.get_extra_info("peername")[0])
        if len(held) < MOST and held.count(address) < PER_ADDRESS:
            with contextlib.suppress(OSError, ssl.SSLError):
                await self._through(reader, writer, address)
        writer.transport.abort()

    async def _through(
        self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, address: str
    ) -> None:
        back, forth = await asyncio.open_connection(*self._inner)
        port = forth.get_extra_info("sockname")[1]
        self._peers[port] = address
        ways = [asyncio.create_task(_pump(reader, forth)), asyncio.create_task(_pump(back, writer))]
        try:
            await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
            await asyncio.wait(ways[1:], timeout=1.0)
        finally:
            del self._peers[port]
            for way in ways:
                way.cancel()
            forth.transport.abort()


async def _pump(source: asyncio.StreamReader, sink: asyncio.StreamWriter) -> None:
    with contextlib.suppress(OSError, ssl.SSLError):
        while chunk := await source.read(_CHUNK):
            sink.write(chunk)
            await sink.drain()
        if sink.can_write_eof():
            sink.write_eof()
