"""Real brokers and publishers for the tests: Debian's mosquitto beside the embedded one."""

from __future__ import annotations

import contextlib
import functools
import itertools
import os
import pwd
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path


def tool(name: str) -> str:
    """The path of a program; a failure that says how to install it."""
    text = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
    assert text, f"{name} is missing: apt-get install mosquitto mosquitto-clients openssl"
    return text


@functools.cache
def _own_ports() -> tuple[socket.socket, Iterator[int]]:
    """The ports of this process, and the socket at the first of them that keeps others out."""
    for first in range(11_000, 32_000, 200):
        connection = socket.socket()
        with contextlib.suppress(OSError):
            connection.bind(("127.0.0.1", first))
            return connection, itertools.cycle(range(first + 1, first + 200))
        connection.close()
    raise AssertionError("every port for tests is taken")


def free_port() -> int:
    """A port that nobody else takes before it is used, nor while it is not listened at.

    It lies below those that the system gives to whoever asks for any port or opens a connection,
    and in a range that no other process running tests draws from.
    """
    _, ports = _own_ports()
    for port in ports:
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(("", port))
            return port
    raise AssertionError("unreachable: the ports go round")


def until(true: Callable[[], object], seconds: float = 30.0) -> None:
    """Wait until something is so, and fail where it does not become so."""
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, f"not within {seconds} s"
        time.sleep(0.02)


def publish(port: int, topic: str, *arguments: str, check: bool = True) -> int:
    """Publish with mosquitto_pub at QoS 1; its exit code."""
    command = [tool("mosquitto_pub"), "-h", "127.0.0.1", "-p", str(port), "-q", "1", "-t", topic]
    command += arguments
    done = subprocess.run(command, capture_output=True, text=True, timeout=30, check=False)
    assert done.returncode == 0 or not check, done.stderr
    return done.returncode


def listens(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), timeout=0.5).close()
    except OSError:
        return False
    return True


class SystemMosquitto:
    """Debian's mosquitto as the outside broker, on its own port and folder."""

    def __init__(self, folder: Path, *settings: str) -> None:
        self.port = free_port()
        user = pwd.getpwuid(os.getuid()).pw_name
        lines = [
            f"listener {self.port} 127.0.0.1",
            f"user {user}",
            "persistence true",
            f"persistence_location {folder}/",
            "autosave_on_changes true",
            "autosave_interval 1",
            "max_queued_messages 0",
            "message_size_limit 4000000",
            *(settings or ["allow_anonymous true"]),
        ]
        self._conf = folder / "mosquitto.conf"
        self._conf.write_text("\n".join(lines) + "\n")
        self.start()

    def start(self) -> None:
        self.process = subprocess.Popen(
            [tool("mosquitto"), "-c", str(self._conf)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until(lambda: listens(self.port))

    def stop(self) -> None:
        self.process.terminate()
        self.process.wait(30)

    def kill(self) -> None:
        self.process.kill()
        self.process.wait(30)
