"""Real brokers and publishers for the tests: Debian's mosquitto beside the embedded one."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import time
from collections.abc import Callable
from pathlib import Path


def tool(name: str) -> str:
    """The path of a program; a failure that says how to install it."""
    found = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/local/sbin")
    assert found, f"{name} is missing: apt-get install mosquitto mosquitto-clients openssl"
    return found


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def until(true: Callable[[], object], seconds: float = 10.0) -> None:
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


class Mosquitto:
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
        self.process.wait(10)

    def kill(self) -> None:
        self.process.kill()
        self.process.wait(10)
