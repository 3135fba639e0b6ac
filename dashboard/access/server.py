"""The page's server: waitress with limits, and TLS in front where the user has a certificate."""

from __future__ import annotations

import copy
import socket
from collections.abc import Callable
from time import monotonic
from typing import Any

from flask import Flask
from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser, ParsingError
from waitress.server import TcpWSGIServer, create_server

from curewatch.errors import ConfigError
from curewatch.settings.settings import PageSettings
from dashboard.access.connections import NETWORK, THIS_MACHINE, Peer, one_too_many, peer_of
from dashboard.access.guard import BODY_BYTES, UPLOAD_BYTES
from dashboard.access.login import AccessCheck
from dashboard.access.tls import TlsFront, server_context

HEAD_S, SLOWEST_BYTES_S = 20.0, 2_000.0
_LOOPBACK, _UNKNOWN = "127.0.0.1", Peer("", False)
_THREADS, _SILENT_S, _HEADER_BYTES, _BACKLOG = 8, 60, 32_768, 1024
_ALL = NETWORK + THIS_MACHINE + 10  # never reached: one gives way before


class PageServer:
    """The pages at host:port, from `run` until `close`. Raises ConfigError.

    `seconds` is a steady clock. [s]
    """

    def __init__(
        self,
        app: Flask,
        host: str,
        port: int,
        page: PageSettings | None = None,
        access: AccessCheck | None = None,
        seconds: Callable[[], float] = monotonic,
    ) -> None:
        outer = _listening(host, port)
        self.port: int = outer.getsockname()[1]
        self._front: TlsFront | None = None
        inner = outer
        try:
            if page and page.certificate and page.key:
                context = server_context(page.certificate, page.key)
                inner = _listening(_LOOPBACK, 0)
                self._front = TlsFront(outer, inner.getsockname(), context)
        except ConfigError:
            outer.close()
            raise
        self.scheme = "https" if self._front else "http"
        self._server = _waitress(app, inner, self.scheme)
        peer = _at_ports(self._front) if self._front else _direct
        self._server.channel_class = _channel(access, peer, seconds)

    def run(self) -> None:
        """Serve until the process is asked to end."""
        if self._front:
            self._front.start()
        self._server.run()

    def close(self) -> None:
        """Free the port."""
        if self._front:
            self._front.stop()
        self._server.close()


def _listening(host: str, port: int) -> socket.socket:
    connection = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    try:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        connection.bind((host, port))
        connection.listen(_BACKLOG)
    except OSError as error:
        connection.close()
        raise ConfigError(
            f"the page cannot use port {port} ({error.strerror})",
            fix="stop the program that holds it, or choose another with --port",
        ) from None
    return connection


def _waitress(app: Flask, listening: socket.socket, scheme: str) -> TcpWSGIServer:
    server = create_server(
        app,
        sockets=[listening],
        threads=_THREADS,
        ident=None,
        url_scheme=scheme,
        backlog=_BACKLOG,
        connection_limit=_ALL,
        channel_timeout=_SILENT_S,
        max_request_header_size=_HEADER_BYTES,
        max_request_body_size=UPLOAD_BYTES,
    )
    assert isinstance(server, TcpWSGIServer)
    return server


def _direct(opened: socket.socket, address: tuple[str, int]) -> Peer | None:
    return peer_of(opened, address[0])


def _at_ports(front: TlsFront) -> Callable[[socket.socket, tuple[str, int]], Peer | None]:
    return lambda opened, address: front.peer_at(address[1])


def _parser(access: AccessCheck | None) -> type[HTTPRequestParser]:
    """A request of which only a device that is signed in may send much."""

    class Parser(HTTPRequestParser):
        def __init__(self, adjustments: Adjustments) -> None:
            super().__init__(adjustments)
            self.adj = copy.copy(adjustments)

        def parse_header(self, header_plus: bytes) -> None:
            try:
                super().parse_header(header_plus)
            except ValueError as error:
                raise ParsingError("The address cannot be read") from error
            if access and not access.knows_cookie(self.headers.get("COOKIE", "")):
                self.adj.max_request_body_size = BODY_BYTES

    return Parser


class _TimedChannel(HTTPChannel):
    """A connection that gives way to another where there are too many.

    A request's head must be whole HEAD_S after the connection was opened, or after its first byte
    where it is not the first; a body may take longer, at SLOWEST_BYTES_S on average. One whose
    peer is not known is closed at once. `seconds` is a steady clock. [s]
    """

    def __init__(
        self,
        server: Any,
        opened: Any,
        address: Any,
        *more: Any,
        peer: Peer | None,
        seconds: Callable[[], float],
        **map: Any,
    ) -> None:
        self.peer, self._seconds = peer or _UNKNOWN, seconds
        self._since: float | None = seconds()
        super().__init__(server, opened, (self.peer.address, address[1]), *more, **map)
        leaving = one_too_many(list(server.active_channels.values())) if peer else self
        if leaving:
            leaving.handle_close()

    @property
    def waits(self) -> bool:
        """Whether no request of it is being answered."""
        return not self.requests

    def received(self, data: bytes) -> bool:
        if self._since is None:
            self._since = self._seconds()
        taken = super().received(data)
        if self.request is None:
            self._since = None
        return taken

    def readable(self) -> bool:
        """Asked in each round of the server's loop, at least once a second."""
        if self._overdue():
            self.will_close = True
        return super().readable()

    def _overdue(self) -> bool:
        if self._since is None or not self.waits:
            return False
        body = self.request.body_bytes_received if self.request else 0
        return self._seconds() - self._since > HEAD_S + body / SLOWEST_BYTES_S


def _channel(
    access: AccessCheck | None,
    peer_at: Callable[[socket.socket, tuple[str, int]], Peer | None],
    seconds: Callable[[], float],
) -> type[HTTPChannel]:
    """The connections of one server, by its login, its peers and its clock."""

    class Channel(_TimedChannel):
        parser_class = _parser(access)

        def __init__(self, server: Any, opened: Any, address: Any, *more: Any, **map: Any) -> None:
            peer = peer_at(opened, address)
            super().__init__(server, opened, address, *more, peer=peer, seconds=seconds, **map)

    return Channel
