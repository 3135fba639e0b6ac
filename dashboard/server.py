"""The page's server: waitress with limits, and TLS in front where the user has a certificate."""

from __future__ import annotations

import copy
import socket
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from flask import Flask
from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser, ParsingError
from waitress.server import TcpWSGIServer, create_server

from curewatch.config import PageSettings
from curewatch.errors import ConfigError
from dashboard.door import Keeper
from dashboard.guard import BODY_BYTES, UPLOAD_BYTES
from dashboard.tls import PER_ADDRESS, TlsFront, server_context

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIEnvironment

_LOOPBACK = "127.0.0.1"
_THREADS, _CONNECTIONS, _SILENT_S, _HEADER_BYTES = 8, 100, 60, 32_768


class PageServer:
    """The pages at host:port, from `run` until `close`. Raises ConfigError."""

    def __init__(
        self,
        app: Flask,
        host: str,
        port: int,
        page: PageSettings | None = None,
        keeper: Keeper | None = None,
    ) -> None:
        self._app = app
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
        self._server = self._waitress(inner, keeper)

    def _waitress(self, listening: socket.socket, keeper: Keeper | None) -> TcpWSGIServer:
        server = create_server(
            self._named if self._front else self._app,
            sockets=[listening],
            threads=_THREADS,
            ident=None,
            url_scheme=self.scheme,
            connection_limit=_CONNECTIONS,
            channel_timeout=_SILENT_S,
            max_request_header_size=_HEADER_BYTES,
            max_request_body_size=UPLOAD_BYTES,
        )
        assert isinstance(server, TcpWSGIServer)
        if keeper is not None:
            server.channel_class = _channel(keeper, None if self._front else PER_ADDRESS)
        return server

    def run(self) -> None:
        """Serve until the process is told to end."""
        if self._front:
            self._front.start()
        self._server.run()

    def close(self) -> None:
        """Free the port."""
        if self._front:
            self._front.stop()
        self._server.close()

    def _named(self, environ: WSGIEnvironment, begin: StartResponse) -> Iterable[bytes]:
        """The app, told the address at the far end of the encrypted connection."""
        assert self._front
        address = self._front.address_of(int(environ["REMOTE_PORT"]))
        if address is None:
            begin("403 Forbidden", [("Content-Type", "text/plain")])
            return [b"This port is for the page's own use."]
        return self._app({**environ, "REMOTE_ADDR": address}, begin)


def _listening(host: str, port: int) -> socket.socket:
    found = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    try:
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        found.bind((host, port))
        found.listen(128)
    except OSError as error:
        found.close()
        raise ConfigError(
            f"the page cannot use port {port} ({error.strerror})",
            fix="stop the program that holds it, or choose another with --port",
        ) from None
    return found


def _channel(keeper: Keeper, per_address: int | None) -> type[HTTPChannel]:
    """Connections on which only a device that is signed in may send much at once.

    One beyond `per_address` (dimensionless) from the same address is closed at once.
    """

    class Parser(HTTPRequestParser):
        def __init__(self, adjustments: Adjustments) -> None:
            super().__init__(adjustments)
            self.adj = copy.copy(adjustments)

        def parse_header(self, header_plus: bytes) -> None:
            try:
                super().parse_header(header_plus)
            except ValueError as error:
                raise ParsingError("The address cannot be read") from error
            if not keeper.knows_cookie(self.headers.get("COOKIE", "")):
                self.adj.max_request_body_size = BODY_BYTES

    class Channel(HTTPChannel):
        parser_class = Parser

        def __init__(self, server: Any, *opened: Any, **more: Any) -> None:
            super().__init__(server, *opened, **more)
            held = [each.addr[0] for each in server.active_channels.values()]
            if per_address is not None and held.count(self.addr[0]) > per_address:
                self.handle_close()

    return Channel
