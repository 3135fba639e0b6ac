"""What a campaign of faults needs: a publisher that counts, an app to kill, a cable to cut."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import paho.mqtt.client as paho
import psutil
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from tests.support.brokers import free_port, listens, until

AGAIN_S = (0.1, 0.5)
TOPIC = "curewatch/panel/surface_temperature"
CUREWATCH = [
    sys.executable,
    "-c",
    "import sys; from curewatch.commands.main import main; sys.exit(main())",
]
APP = """
import sys, time
from datetime import UTC, datetime
from pathlib import Path
from curewatch.settings.settings import Settings
from curewatch.store.store import Store
from sensors.mqtt.subscriber import Subscriber
folder = Path(sys.argv[1])
store = Store(folder / "curewatch.db")
settings = Settings(folder=folder)
subscriber = Subscriber(
    "127.0.0.1", int(sys.argv[2]), store, settings, lambda: datetime.now(UTC)
).start()
while not subscriber.state.startswith("listening"):
    time.sleep(0.01)
print("up", flush=True)
sys.stdin.read()
"""


def app(folder: Path, port: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", APP, str(folder), str(port)]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "up\n"
    return process


class Whole:
    """`curewatch up` as its user starts it: page, gatekeeper, writer and a broker of this kind."""

    def __init__(self, folder: Path, kind: str = "auto") -> None:
        self.folder, self.port, self.page = folder, free_port(), free_port()
        self._kind = kind
        self.start()

    def start(self) -> None:
        if self._kind != "auto":
            (self.folder / "curewatch.toml").write_text(f'[mqtt]\nbroker = "{self._kind}"\n')
        words = ["up", "--data", str(self.folder), "--port", str(self.page), "--no-copies"]
        path = self.folder / "said"
        with path.open("wb") as to:
            command = [*CUREWATCH, *words, "--mqtt-port", str(self.port)]
            self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=to)
        until(lambda: self._ended() or (listens(self.port) and listens(self.page)), 120)
        assert not self._ended(), path.read_text()

    def _ended(self) -> bool:
        return self.process.poll() is not None

    def kill_all(self) -> None:
        """Kill the process and its broker in one go, as a power cut does."""
        for process in (*self._children(), psutil.Process(self.process.pid)):
            process.kill()
        self.process.wait()
        self.start()

    def kill_app(self) -> None:
        """Kill the process; its broker ends by itself."""
        self.process.kill()
        self.process.wait()
        self.start()

    def kill_broker(self) -> None:
        """Kill the broker's process; it is started again."""
        for process in self._children():
            os.kill(process.pid, signal.SIGKILL)

    @contextlib.contextmanager
    def full_disk(self) -> Iterator[None]:
        """The system lets none of its files grow meanwhile (Linux)."""
        process = psutil.Process(self.process.pid)
        before = process.rlimit(psutil.RLIMIT_FSIZE)
        process.rlimit(psutil.RLIMIT_FSIZE, (4096, before[1]))
        yield
        if process.is_running():
            process.rlimit(psutil.RLIMIT_FSIZE, before)

    def stop(self) -> None:
        """Ctrl-C."""
        self.process.terminate()
        self.process.wait(60)

    def _children(self) -> list[psutil.Process]:
        return psutil.Process(self.process.pid).children(recursive=True)


class Publisher:
    """Publishes counting numbers at QoS 1 and remembers which the broker acknowledged."""

    def __init__(
        self,
        port: int,
        per_second: float,
        version: MQTTProtocolVersion = MQTTProtocolVersion.MQTTv311,
    ) -> None:
        self.sent: dict[int, int] = {}
        self.acknowledged: list[int] = []
        self._pause, self._stop = 1 / per_second, threading.Event()
        self._client = paho.Client(CallbackAPIVersion.VERSION2, protocol=version)
        self._client.on_publish = self._hear
        self._client.reconnect_delay_set(*AGAIN_S)  # type: ignore[arg-type]  # takes fractions too
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        number = 0
        while not self._stop.wait(self._pause):
            mid = self._client.publish(TOPIC, str(number / 1000), qos=1).mid
            self.sent[mid] = number
            number += 1

    def _hear(
        self, _c: paho.Client, _u: object, mid: int, code: ReasonCode, _p: Properties
    ) -> None:
        assert not code.is_failure, code
        self.acknowledged.append(mid)

    def finish(self) -> set[float]:
        """Stop, and return the numbers that were acknowledged."""
        self._stop.set()
        self._thread.join()
        until(lambda: len(self.acknowledged) == len(self.sent), 300)
        self._client.disconnect()
        self._client.loop_stop()
        return {self.sent[mid] / 1000 for mid in self.acknowledged}


def stored(folder: Path, name: str = "curewatch.db") -> set[float]:
    """The stored values, read by another connection, after a check of the whole file."""
    connection = sqlite3.connect(folder / name)
    try:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return {round(row[0], 3) for row in connection.execute("SELECT value FROM reading")}
    finally:
        connection.close()


def count(path: Path) -> int:
    """How many readings a logbook holds."""
    connection = sqlite3.connect(path)
    try:
        return int(connection.execute("SELECT count(*) FROM reading").fetchone()[0])
    finally:
        connection.close()


class Cable:
    """A connection between a subscriber and a broker that can be cut."""

    def __init__(self, broker: int) -> None:
        self._broker, self._ends = broker, list[socket.socket]()
        self._entrance = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._entrance.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self._entrance.accept()
                self._join(near)

    def _join(self, near: socket.socket) -> None:
        try:
            far = socket.create_connection(("127.0.0.1", self._broker))
        except OSError:
            near.close()
            return
        self._ends += [near, far]
        for one, other in ((near, far), (far, near)):
            threading.Thread(target=self._carry, args=(one, other), daemon=True).start()

    @staticmethod
    def _carry(one: socket.socket, other: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := one.recv(65536):
                other.sendall(data)
        with contextlib.suppress(OSError):
            other.shutdown(socket.SHUT_RDWR)

    def cut(self) -> None:
        while self._ends:
            end = self._ends.pop()
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

    def close(self) -> None:
        self._entrance.close()
        self.cut()
