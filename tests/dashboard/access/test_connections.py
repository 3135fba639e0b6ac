"""Connections that never finish a request: how long they may last, and who gives way to whom."""

from __future__ import annotations

import contextlib
import gc
import socket
import ssl
from asyncio.sslproto import SSLProtocol
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from curewatch.settings.settings import PageSettings
from dashboard.access import connections, tls
from dashboard.access.connections import NETWORK, THIS_MACHINE, Peer, one_too_many, peer_of
from dashboard.access.server import HEAD_S, SLOWEST_BYTES_S, PageServer
from tests.bench.dripping import unchecked
from tests.support.brokers import until
from tests.support.protected_pages import ProtectedGarage, certificate, protected_garage, serving

OTHERS = [f"127.0.0.{number}" for number in range(2, 6)]
FIFTH, HERE = "127.0.0.6", "127.0.0.1"
HEAD = b"GET /login HTTP/1.1\r\nHost: localhost\r\n"
BODY = b"POST /login HTTP/1.1\r\nHost: localhost\r\nContent-Length: 200000\r\n\r\n"
Opened = Callable[..., socket.socket]


@pytest.fixture
def home(tmp_path: Path) -> Iterator[ProtectedGarage]:
    yield from protected_garage(tmp_path / "data")


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> PageSettings:
    return certificate(tmp_path_factory.mktemp("tls"))


@contextlib.contextmanager
def opener(server: PageServer) -> Iterator[Opened]:
    """Opens connections from an address, encrypted where the page is; all closed at the end."""
    with contextlib.ExitStack() as ends:

        def open_one(source: str, sent: bytes = b"", *, plain: bool = False) -> socket.socket:
            connection = socket.create_connection(("127.0.0.1", server.port), 30, (source, 0))
            if server.scheme == "https" and not plain:
                connection = unchecked().wrap_socket(connection)
            ends.callback(connection.close)
            connection.sendall(sent)
            return connection

        yield open_one


def closed(connection: socket.socket) -> bool:
    """Whether the other side has closed it."""
    connection.settimeout(0.001)
    try:
        return connection.recv(1) == b""
    except (TimeoutError, ssl.SSLWantReadError):
        return False
    except OSError:
        return True


def answers(connection: socket.socket) -> bool:
    """Whether a request that is sent, or finished, now is answered."""
    connection.settimeout(30)
    connection.sendall(b"\r\n")
    return connection.recv(12) == b"HTTP/1.1 200"


@pytest.mark.parametrize("encrypted", [False, True])
def test_a_request_that_is_not_whole_in_time_is_cut_off(
    home: ProtectedGarage, page: PageSettings, encrypted: bool
) -> None:
    with serving(home, page if encrypted else None) as server, opener(server) as opened:
        slow = {
            "silent": opened(FIFTH), "head": opened(FIFTH, HEAD), "body": opened(FIFTH, BODY),
            "again": opened(FIFTH, HEAD),
        }  # fmt: skip
        assert answers(slow["again"])
        rest(slow["again"])
        home.time.wait(HEAD_S - 1)
        for connection in (slow["head"], slow["body"], slow["again"]):
            connection.sendall(b"x")
        assert answers(opened(HERE, HEAD))
        assert not any(map(closed, slow.values()))
        home.time.wait(2)
        assert answers(opened(HERE, HEAD))
        until(lambda: all(closed(slow[name]) for name in ("silent", "head", "body")))
        assert not closed(slow["again"])
        home.time.wait(HEAD_S)
        assert answers(opened(HERE, HEAD))
        until(lambda: closed(slow["again"]))


def rest(connection: socket.socket) -> None:
    """Read what is left of an answer."""
    connection.settimeout(30)
    got = b""
    while b"</html>" not in got:
        got += connection.recv(65536)


def test_a_body_may_take_long_while_it_comes(home: ProtectedGarage) -> None:
    with serving(home) as server, opener(server) as opened:
        steady = opened(FIFTH, BODY)
        for _ in range(5):
            steady.sendall(b"x" * round(10 * SLOWEST_BYTES_S))
            assert answers(opened(HERE, HEAD))
            home.time.wait(10)
        assert not closed(steady)
        home.time.wait(HEAD_S + 1)
        assert answers(opened(HERE, HEAD))
        until(lambda: closed(steady))


def test_an_answer_may_take_as_long_as_it_needs(home: ProtectedGarage) -> None:
    @home.app.before_request
    def slowly() -> None:
        home.time.wait(HEAD_S * 10)

    with serving(home) as server, opener(server) as opened:
        assert answers(opened(FIFTH, HEAD))


def test_slow_connections_of_four_addresses_stop_neither_this_machine_nor_a_fifth(
    home: ProtectedGarage,
) -> None:
    with serving(home) as server, opener(server) as opened:
        slow = [opened(OTHERS[number % 4], HEAD) for number in range(NETWORK + 37)]
        until(lambda: sum(map(closed, slow)) == 37)
        assert answers(opened(HERE, HEAD))
        assert answers(opened(FIFTH, HEAD))
        until(lambda: sum(map(closed, slow)) == 38)


def test_nor_do_they_over_tls(
    home: ProtectedGarage, page: PageSettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "NETWORK", 8)
    with serving(home, page) as server, opener(server) as opened:
        slow = [opened(OTHERS[number % 4], HEAD) for number in range(12)]
        until(lambda: sum(map(closed, slow)) == 4)
        assert answers(opened(HERE, HEAD))
        assert answers(opened(FIFTH, HEAD))
        until(lambda: sum(map(closed, slow)) == 5)


def test_programs_of_this_machine_do_not_stop_each_other(home: ProtectedGarage) -> None:
    with serving(home) as server, opener(server) as opened:
        slow = [opened(HERE, HEAD) for _ in range(THIS_MACHINE + 5)]
        until(lambda: sum(map(closed, slow)) == 5)
        assert all(map(closed, slow[:5]))
        assert answers(opened(HERE, HEAD))


def test_handshakes_that_never_end_stop_no_other(home: ProtectedGarage, page: PageSettings) -> None:
    with serving(home, page) as server, opener(server) as opened:
        silent = [
            opened(OTHERS[number % 4], b"\x16\x03\x01", plain=True)
            for number in range(NETWORK + 37)
        ]
        until(lambda: sum(map(closed, silent)) == 37)
        assert answers(opened(FIFTH, HEAD))
        assert answers(opened(HERE, HEAD))


def test_a_handshake_that_gave_way_leaves_no_memory_behind(
    home: ProtectedGarage, page: PageSettings, monkeypatch: pytest.MonkeyPatch
) -> None:
    def buffers() -> int:
        gc.collect()
        return sum(isinstance(each, SSLProtocol) for each in gc.get_objects())

    monkeypatch.setattr(connections, "NETWORK", 2)
    monkeypatch.setattr(tls, "HANDSHAKE_S", 600.0)  # nothing is given up for its time alone
    with serving(home, page) as server, opener(server) as opened:
        silent = [opened(FIFTH, b"\x16\x03\x01", plain=True) for _ in range(12)]
        until(lambda: sum(map(closed, silent)) == 10)
        until(lambda: buffers() <= 3)


def test_a_server_that_was_never_run_can_be_closed(
    home: ProtectedGarage, page: PageSettings
) -> None:
    server = PageServer(home.app, "127.0.0.1", 0, page, home.access)
    server.close()
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", server.port), 5).close()


@dataclass(eq=False)
class HeldConnection:
    """A connection of which only this much counts."""

    peer: Peer
    waits: bool = True


def held(*shares: tuple[str, int], here: bool = False, waits: bool = True) -> list[HeldConnection]:
    """Connections of some addresses, so many of each, in turn."""
    return [HeldConnection(Peer(name, here), waits) for name, count in shares for _ in range(count)]


def test_the_oldest_one_of_the_largest_holder_gives_way() -> None:
    found = held(("few", 20), ("many", 60), ("new", 1))
    assert one_too_many(found) is found[20]
    found[20].waits = False
    assert one_too_many(found) is found[21]
    assert one_too_many(found[1:]) is None


def test_where_all_are_being_answered_the_newest_gives_way() -> None:
    found = held(("many", NETWORK), waits=False) + held(("new", 1))
    assert one_too_many(found) is found[-1]


def test_a_crowd_with_one_connection_each_keeps_nobody_out() -> None:
    found = held(*((f"10.0.0.{number}", 1) for number in range(NETWORK + 1)))
    assert one_too_many(found) is found[0]


def test_the_places_of_this_machine_are_its_own() -> None:
    network, own = held(("far", NETWORK)), held(("near", THIS_MACHINE), here=True)
    assert one_too_many(network + own) is None
    assert one_too_many(own + network) is None
    assert one_too_many(network + own + held(("near", 1), here=True)) is own[0]


@pytest.mark.parametrize(
    ("source", "target", "here"),
    [("127.0.0.1", "127.0.0.1", True), ("127.0.0.8", "127.0.0.8", True), (FIFTH, HERE, False)],
)
def test_this_machine_is_known_by_both_ends_having_one_address(
    source: str, target: str, here: bool
) -> None:
    with socket.create_server((target, 0)) as listening:
        port = listening.getsockname()[1]
        with socket.create_connection((target, port), 5, (source, 0)):
            opened, address = listening.accept()
            with opened:
                assert peer_of(opened, address[0]) == Peer(source, here)
