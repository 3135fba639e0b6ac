"""The system's mosquitto as our own broker: ended with us, its files its owner's alone."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import psutil
import pytest

from curewatch.errors import ConfigError, StoreError
from curewatch.settings.settings import parse_settings
from sensors.broker import mosquitto
from sensors.broker.mosquitto import Mosquitto, start_own
from sensors.broker.process import LOG, BrokerProcess, EmbeddedBroker
from sensors.packets.version3 import SUBSCRIBE, packet
from tests.sensors.test_broker import ended
from tests.support.brokers import publish, until
from tests.support.proxies import hello, raw, text

HOLDER = """
import sys, time
from pathlib import Path
from sensors.broker.mosquitto import Mosquitto
broker = Mosquitto(port=0, folder=Path(sys.argv[1])).start()
print(broker.pid, flush=True)
time.sleep(60)
"""


def test_a_killed_app_takes_it_along(tmp_path: Path) -> None:
    app = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(tmp_path)], stdout=subprocess.PIPE, text=True
    )
    assert app.stdout is not None
    pid = int(app.stdout.readline())
    assert psutil.Process(pid).name() == "mosquitto"
    app.kill()
    app.communicate()
    until(lambda: ended(pid))


def test_it_listens_on_this_machine_alone_and_comes_back_when_killed(tmp_path: Path) -> None:
    with Mosquitto(port=0, folder=tmp_path) as broker:
        first = broker.pid
        assert first is not None
        listening = [
            connection.laddr
            for connection in psutil.Process(first).net_connections()
            if connection.status == psutil.CONN_LISTEN
        ]
        assert listening == [("127.0.0.1", broker.port)]
        os.kill(first, signal.SIGKILL)
        until(lambda: broker.pid not in (None, first) and broker.answers)
        publish(broker.port, "a/b", "-m", "1")


def test_it_writes_nothing_but_its_own_file_for_its_owner(tmp_path: Path) -> None:
    with Mosquitto(port=0, folder=tmp_path) as broker:
        publish(broker.port, "a/kept", "-r", "-m", "14.2")
    assert [file.name for file in tmp_path.iterdir()] == [LOG]
    assert stat.S_IMODE((tmp_path / LOG).stat().st_mode) == 0o600


def test_it_says_nothing_about_itself(tmp_path: Path) -> None:
    with (
        Mosquitto(port=0, folder=tmp_path) as broker,
        raw(broker.port, hello(user=None), "127.0.0.1", 1.5) as connection,
    ):
        connection.recv(4)
        connection.sendall(packet(SUBSCRIBE, b"\0\1" + text("$SYS/#") + b"\0", 2))
        assert connection.recv(5)[:1] == b"\x90"
        with pytest.raises(TimeoutError):
            connection.recv(64)


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Installs a shell script as this machine's mosquitto."""

    def put(script: str) -> None:
        file = tmp_path / "mosquitto"
        file.write_text(f"#!/bin/sh\n{script}\n")
        file.chmod(0o755)
        monkeypatch.setattr(mosquitto, "program", lambda: str(file))

    return put


@contextmanager
def own(kind: str, folder: Path) -> Iterator[BrokerProcess]:
    broker = start_own(kind, folder)
    try:
        yield broker
    finally:
        broker.stop()


@pytest.mark.parametrize(
    ("kind", "brought"),
    [("embedded", EmbeddedBroker), ("auto", Mosquitto), ("mosquitto", Mosquitto)],
)
def test_which_broker_is_brought(kind: str, brought: type[BrokerProcess], tmp_path: Path) -> None:
    with own(kind, tmp_path) as broker:
        assert isinstance(broker, brought)
        assert broker.instead == ""
        publish(broker.port, "a/b", "-m", "1")


def test_without_mosquitto_the_embedded_one_runs_and_nothing_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mosquitto, "program", lambda: None)
    with own("auto", tmp_path) as broker:
        assert isinstance(broker, EmbeddedBroker)
        assert broker.instead == ""
    with pytest.raises(ConfigError, match="no mosquitto is installed here; install it"):
        start_own("mosquitto", tmp_path)


LIBRARY = "error while loading shared libraries: libcjson.so.1: cannot open shared object file"


@pytest.mark.parametrize(
    ("script", "why"),
    [
        (f"echo '{LIBRARY}' >&2; exit 127", LIBRARY),
        (
            "echo '1764379054: Error: Unknown configuration variable memory_limit.' >&2; exit 3",
            "Error: Unknown configuration variable memory_limit",
        ),
        ("exit 1", "without a word"),
        ("kill -9 $$", "without a word"),
    ],
)
def test_a_mosquitto_that_does_not_start_is_said_once_and_replaced(
    script: str, why: str, installed: Callable[[str], None], tmp_path: Path
) -> None:
    installed(script)
    with own("auto", tmp_path) as broker:
        assert broker.instead == f"mosquitto did not start ({why}), so the embedded broker is used"
        publish(broker.port, "a/b", "-m", "1")
    with pytest.raises(StoreError) as caught:
        start_own("mosquitto", tmp_path)
    assert str(caught.value) == (
        f'mosquitto did not start ({why}); mend it, or set broker = "embedded" under [mqtt] '
        "in curewatch.toml."
    )


def test_the_setting_has_three_answers(tmp_path: Path) -> None:
    assert parse_settings("", tmp_path).mqtt.broker == "auto"
    assert parse_settings('[mqtt]\nbroker = "embedded"', tmp_path).mqtt.broker == "embedded"
    with pytest.raises(ConfigError, match=r"mqtt\.broker"):
        parse_settings('[mqtt]\nbroker = "another"', tmp_path)
