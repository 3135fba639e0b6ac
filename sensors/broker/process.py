"""The embedded broker, started and stopped with the app.

Why iotcore (the Rust broker rumqttd 0.20) and not amqtt 0.12: amqtt forgot sessions, did not
enforce keep-alive, leaked sockets on garbage and has eight dependencies; iotcore has none, and
wheels for x86-64, arm64 and armv7. Its price: it is young, speaks MQTT 3.1.1 here, forgets what
it holds when its process ends, and a panic ends its router but not its process: then the child
ends itself and is started again. What it may forget holds no reading that was acknowledged,
since sensors come through the gatekeeper. tests/bench/README.md has what was measured.

By default iotcore listens on every interface; here it gets an address, and loopback unless
told otherwise. It has no shutdown, so it runs in a child process, which ends when the pipe to
this process closes: also when this process is killed. One that ends or no longer answers is
replaced.
"""

from __future__ import annotations

import contextlib
import logging
import os
import re
import socket
import subprocess
import sys
import threading
import time
from abc import ABC, abstractmethod
from pathlib import Path
from typing import BinaryIO, Self

from curewatch.backoff import delay_s
from curewatch.errors import ConfigError, StoreError
from curewatch.files.disk_errors import cannot_write
from sensors.broker.pulse import Pulse

MAX_PAYLOAD_BYTES = 4_000_000
LOG = "broker.log"
_CHILD = Path(__file__).with_name("child.py")
_SILENT_S, _HUNG_S, _COMING_S = 3.0, 6.0, 30.0
_START_S, _STOP_S, _POLL_S, _AGAIN_S, _PORTS = 10.0, 5.0, 0.02, (0.1, 5.0), 3
_MOST_SAID, _TIME = 200, re.compile(r"^\d+: ")
_LOG = logging.getLogger(__name__)


class BrokerProcess(ABC):
    """An MQTT broker at host:port in a child process; restarted should it ever end or hang.

    Port 0 is any that is free, a new one after each restart; `port` then tells which.
    `called` is its name for people, `any_topic` whether it bears topics that begin with any letter,
    `instead` which broker should have run in its place, and why it does not.
    """

    called: str
    any_topic: bool
    instead = ""

    @abstractmethod
    def _command(self) -> list[str]:
        """What starts the child."""

    def __init__(
        self, host: str = "127.0.0.1", port: int = 1883, folder: Path | None = None
    ) -> None:
        self.host = "127.0.0.1" if host == "localhost" else host
        self.port, self.folder, self._any_port = port, folder, port == 0
        self._process: subprocess.Popen[bytes] | None = None
        self._pulse: Pulse | None = None
        self._keeper: threading.Thread | None = None
        self._stopping, self._changing = threading.Event(), threading.Lock()

    @property
    def pid(self) -> int | None:
        """The child's process id while it runs."""
        process = self._process
        return process.pid if process and process.poll() is None else None

    @property
    def answers(self) -> bool:
        """Whether the broker is there and answers; False also while it starts again."""
        pulse = self._pulse
        if self.pid is None or pulse is None:
            return False
        return not pulse.starting and pulse.silent_s < _SILENT_S

    def start(self) -> Self:
        """Start, and return when the broker answers.

        Raises ConfigError when the port is taken or not allowed, StoreError when the broker
        does not come up.
        """
        self._stopping.clear()
        if self._any_port:
            self._begin_anywhere()
        else:
            self._check_port()
            self._begin()
        self._keeper = threading.Thread(target=self._keep, name="broker-keeper", daemon=True)
        self._keeper.start()
        deadline = time.monotonic() + _START_S
        while not self.answers and time.monotonic() < deadline:
            time.sleep(_POLL_S)
        return self

    def _begin(self) -> None:
        self._process = self._spawn()
        self._await_listening(self._process)
        self._pulse = Pulse(self._reach, self.port)

    def _begin_anywhere(self) -> None:
        """A free port may be taken before the broker has it: then another."""
        for _ in range(_PORTS - 1):
            with contextlib.suppress(StoreError):
                return self._begin()
        return self._begin()

    def stop(self) -> None:
        """Stop the broker and free its port; stopping twice is stopping once."""
        with self._changing:
            self._stopping.set()
            process, self._process = self._process, None
        if process is not None:
            _end(process)
        if self._keeper is not None:
            self._keeper.join(_STOP_S)
            self._keeper = None

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *_: object) -> None:
        self.stop()

    def _check_port(self) -> None:
        family = socket.AF_INET6 if ":" in self.host else socket.AF_INET
        with socket.socket(family) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((self.host, self.port))
            except OSError as error:
                raise cannot_listen(self.host, self.port, error) from None

    def _spawn(self) -> subprocess.Popen[bytes]:
        if self._any_port:
            self.port = _free_port()
        command = self._command()
        with self._log() as log:
            return subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )

    def _log(self) -> contextlib.AbstractContextManager[BinaryIO | int]:
        """Where the child may write: its own file in the data folder, owner-only."""
        if self.folder is None:
            return contextlib.nullcontext(subprocess.DEVNULL)
        path = self.folder / LOG
        try:
            return os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb")
        except OSError as error:
            raise cannot_write(error, path, "check its permissions") from None

    def _await_listening(self, process: subprocess.Popen[bytes]) -> None:
        deadline = time.monotonic() + _START_S
        while time.monotonic() < deadline and process.poll() is None:
            if self._listening():
                return
            time.sleep(_POLL_S)
        _end(process)
        raise StoreError(f"{self.called} did not start ({self._last_words()})", fix=self._remedy)

    @property
    def _remedy(self) -> str:
        return "try once more, and where that does not help start this machine again"

    def _last_words(self) -> str:
        """What the child said last."""
        path = self.folder / LOG if self.folder else None
        lines = path.read_text(errors="replace").split("\n") if path and path.exists() else []
        texts = [_TIME.sub("", line).strip() for line in lines if line.strip()]
        return texts[-1][-_MOST_SAID:].rstrip(".") if texts else "without a word"

    def _listening(self) -> bool:
        with contextlib.suppress(OSError):
            socket.create_connection((self._reach, self.port), timeout=0.5).close()
            return True
        return False

    @property
    def _reach(self) -> str:
        return "127.0.0.1" if self.host == "0.0.0.0" else self.host

    def _keep(self) -> None:
        """Replace the child whenever it ends or hangs, ever later where it does so at once."""
        failures = 0
        while (process := self._process) is not None:
            began = time.monotonic()
            self._watch(process)
            failures = 1 if time.monotonic() - began > _AGAIN_S[1] else failures + 1
            if self._stopping.wait(delay_s(failures, *_AGAIN_S)):
                return
            with self._changing, contextlib.suppress(StoreError):
                if not self._stopping.is_set():
                    _end(process)
                    self._process = self._spawn()
                    self._pulse = Pulse(self._reach, self.port)

    def _watch(self, process: subprocess.Popen[bytes]) -> None:
        """Return when the child has ended; one that hangs is killed."""
        pulse = self._pulse
        assert pulse is not None

        def lives() -> bool:
            most_s = _COMING_S if pulse.starting else _HUNG_S
            return process.poll() is None and pulse.silent_s < most_s

        pulse.follow(lambda: lives() and not self._stopping.is_set())
        if process.poll() is None and not self._stopping.is_set():
            _LOG.warning("the broker has not answered for %.0f s: replaced", pulse.silent_s)
            process.kill()
            process.wait()


class EmbeddedBroker(BrokerProcess):
    """The broker that comes along with curewatch."""

    called, any_topic = "the embedded broker", False

    def _command(self) -> list[str]:
        own = [sys.executable, "-P", str(_CHILD)]
        return [*own, self.host, str(self.port), str(MAX_PAYLOAD_BYTES)]


def cannot_listen(host: str, port: int, error: OSError) -> ConfigError:
    """Why a port cannot be had, and what to do."""
    why = (os.strerror(error.errno) if error.errno else str(error)).lower()
    return ConfigError(
        f"the broker cannot listen on {host} port {port} ({why})",
        fix="choose another with --mqtt-port, or use the broker that is there with --no-broker",
    )


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _end(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(_STOP_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    if process.stdin is not None:
        process.stdin.close()
