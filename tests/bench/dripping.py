"""How the page answers while others hold connections open: ./tests/bench/run dripping [SECONDS]

Four addresses of the network open connections, send a byte every three seconds and open again what
is closed: in the head of a request, in its body, in the encryption's handshake. Meanwhile /login is
asked for over fresh connections, from this machine and from a fifth address. Every address of
127.0.0.0/8 but 127.0.0.1 stands for one of the network. Exits 1 where an answer fails or the
99th percentile is above BOUND_S.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import http.client
import multiprocessing
import socket
import ssl
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

import psutil

from curewatch.settings.settings import PageSettings
from dashboard.access.server import PageServer
from tests.support.protected_pages import certificate, protected_garage

BOUND_S, ASKED_WITHIN_S, ASKED_EVERY_S, SETTLE_S = 0.5, 5.0, 0.05, 5.0
DRIP_EVERY_S, OPENED_AGAIN_S = 3.0, 1.0
THIS_MACHINE, FIFTH = "127.0.0.1", "127.0.0.6"
OTHERS = ("127.0.0.2", "127.0.0.3", "127.0.0.4", "127.0.0.5")
BEGUN = {
    "head": b"GET /login HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ",
    "body": b"POST /login HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 200000\r\n\r\n",
    "handshake": b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
}
CASES = (
    (False, "", 0), (False, "head", 117), (False, "head", 400), (False, "body", 117),
    (False, "body", 400), (True, "", 0), (True, "head", 117), (True, "head", 400),
    (True, "handshake", 117), (True, "handshake", 400),
)  # fmt: skip
_SPAWN = multiprocessing.get_context("spawn")


def unchecked() -> ssl.SSLContext:
    """A client that takes any certificate."""
    sslcontext = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    sslcontext.check_hostname, sslcontext.verify_mode = False, ssl.CERT_NONE
    return sslcontext


def serve(folder: Path, page: PageSettings | None, told: Connection) -> None:
    """The pages behind a passcode, in a process of their own; tells the port."""
    for home in protected_garage(folder):
        server = PageServer(home.app, "127.0.0.1", 0, page, home.access)
        told.send(server.port)
        server.run()


async def _drip(address: str, port: int, kind: str, context: ssl.SSLContext | None) -> None:
    while True:
        with contextlib.suppress(OSError, TimeoutError):
            opened = asyncio.open_connection(
                "127.0.0.1", port, local_addr=(address, 0), ssl=context
            )
            reader, writer = await asyncio.wait_for(opened, 30)
            writer.write(BEGUN[kind])
            while not reader.at_eof():
                await asyncio.sleep(DRIP_EVERY_S)
                writer.write(b"x")
                await writer.drain()
            writer.transport.abort()
        await asyncio.sleep(OPENED_AGAIN_S)


async def _flood(port: int, kind: str, count: int, encrypted: bool) -> None:
    context = unchecked() if encrypted and kind != "handshake" else None
    sources = [OTHERS[number % len(OTHERS)] for number in range(count)]
    await asyncio.gather(*(_drip(source, port, kind, context) for source in sources))


def flood(port: int, kind: str, count: int, encrypted: bool) -> None:
    """Hold connections open from the four addresses, until killed."""
    asyncio.run(_flood(port, kind, count, encrypted))


def answered_s(source: str, port: int, encrypted: bool) -> float | None:
    """How long /login takes over a fresh connection; None where no answer comes. [s]"""
    began = time.perf_counter()
    try:
        connection = socket.create_connection(("127.0.0.1", port), ASKED_WITHIN_S, (source, 0))
        with contextlib.closing(
            unchecked().wrap_socket(connection) if encrypted else connection
        ) as opened:
            opened.sendall(b"GET /login HTTP/1.0\r\nHost: 127.0.0.1\r\n\r\n")
            answer = http.client.HTTPResponse(opened)
            answer.begin()
            return time.perf_counter() - began if answer.status == 200 and answer.read() else None
    except (OSError, http.client.HTTPException):
        return None


@dataclass
class Asked:
    """The times of one asker. [s]"""

    times: list[float]
    failed: int

    def words(self) -> str:
        """Median, 99th percentile and how many were answered."""
        whole = len(self.times) + self.failed
        if len(self.times) < 2:
            return f"{len(self.times)} of {whole} answered"
        last = statistics.quantiles(self.times, n=100, method="inclusive")[98]
        median = statistics.median(self.times)
        text = f"{1000 * median:.0f} / {1000 * last:.0f} ms"
        return text if not self.failed else f"{text}, {len(self.times)} of {whole} answered"

    @property
    def met(self) -> bool:
        """Whether all were answered in time."""
        return not self.failed and statistics.quantiles(self.times, n=100)[98] < BOUND_S


def asked(port: int, encrypted: bool, seconds: float) -> dict[str, Asked]:
    """Ask for a while from this machine and from the fifth address. [s]"""
    responses = {source: Asked([], 0) for source in (THIS_MACHINE, FIFTH)}
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        for source, row in responses.items():
            took = answered_s(source, port, encrypted)
            if took is None:
                row.failed += 1
            else:
                row.times.append(took)
        time.sleep(ASKED_EVERY_S)
    return responses


@contextlib.contextmanager
def process(work: Callable[..., None], *told: object) -> Iterator[psutil.Process]:
    """Some work in a process of its own, killed at the end."""
    running = _SPAWN.Process(target=work, args=told, daemon=True)
    running.start()
    try:
        yield psutil.Process(running.pid)
    finally:
        running.kill()
        running.join()


def case(encrypted: bool, kind: str, count: int, seconds: float) -> bool:
    """Print one row; whether both askers were answered in time."""
    with tempfile.TemporaryDirectory() as folder, contextlib.ExitStack() as ends:
        page = certificate(Path(folder)) if encrypted else None
        here, there = _SPAWN.Pipe()
        server = ends.enter_context(process(serve, Path(folder) / "data", page, there))
        port = int(here.recv())
        if count:
            ends.enter_context(process(flood, port, kind, count, encrypted))
            time.sleep(SETTLE_S)
        responses = asked(port, encrypted, seconds)
        memory = server.memory_info().rss / 1e6
    what = f"{'TLS' if encrypted else 'plain'}, {f'{count} in the {kind}' if count else 'nobody'}"
    words = " | ".join(row.words() for row in responses.values())
    print(f"| {what} | {words} | {memory:.0f} MB |", flush=True)
    return all(row.met for row in responses.values())


def main() -> None:
    """Print the table; exit 1 where a bound is missed."""
    parser = argparse.ArgumentParser(prog="./tests/bench/run dripping", description=__doc__)
    parser.add_argument("seconds", nargs="?", type=float, default=25.0, help="of each row (25)")
    arguments = parser.parse_args()
    print("| connections held | this machine, p50 / p99 | a fifth address | memory |")
    print("|---|---|---|---|", flush=True)
    met = [case(*row, arguments.seconds) for row in CASES]
    sys.exit(0 if all(met) else 1)


if __name__ == "__main__":
    main()
