"""The system's mosquitto as our own broker: ended with us, its files its owner's alone."""

from __future__ import annotations

import contextlib
import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import psutil
import pytest

from curewatch.config import parse_settings
from curewatch.errors import ConfigError
from sensors import mosquitto
from sensors.broker import LOG, EmbeddedBroker
from sensors.mosquitto import FILE, HELD, Mosquitto, own_broker
from sensors.packets import SUBSCRIBE, packet
from tests.brokers import publish, until
from tests.doors import hello, raw, text
from tests.test_broker import ended

HOLDER = """
import sys, time
from pathlib import Path
from sensors.mosquitto import Mosquitto
broker = Mosquitto(port=0, folder=Path(sys.argv[1])).start()
print(broker.pid, flush=True)
time.sleep(60)
"""


def retained(port: int) -> bytes:
    """What a newcomer hears at once."""
    with raw(port, hello(user=None), "127.0.0.1", 1) as found:
        found.recv(4)
        found.sendall(packet(SUBSCRIBE, b"\0\1" + text("#") + b"\0", 2))
        got = b""
        with contextlib.suppress(OSError):
            while data := found.recv(65_536):
                got += data
        return got


def test_what_it_retains_comes_back_after_an_orderly_end(tmp_path: Path) -> None:
    with Mosquitto(port=0, folder=tmp_path) as broker:
        publish(broker.port, "a/kept", "-r", "-m", "14.2")
    with Mosquitto(port=0, folder=tmp_path) as broker:
        assert b"a/kept" in retained(broker.port)


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
            each.laddr
            for each in psutil.Process(first).net_connections()
            if each.status == psutil.CONN_LISTEN
        ]
        assert listening == [("127.0.0.1", broker.port)]
        os.kill(first, signal.SIGKILL)
        until(lambda: broker.pid not in (None, first) and broker.answers)
        publish(broker.port, "a/b", "-m", "1")


def test_its_files_are_its_owners_alone(tmp_path: Path) -> None:
    with Mosquitto(port=0, folder=tmp_path):
        pass
    modes = {name: stat.S_IMODE((tmp_path / name).stat().st_mode) for name in (FILE, HELD, LOG)}
    assert modes == {FILE: 0o600, HELD: 0o600, LOG: 0o600}


def test_it_says_nothing_about_itself(tmp_path: Path) -> None:
    with (
        Mosquitto(port=0, folder=tmp_path) as broker,
        raw(broker.port, hello(user=None), "127.0.0.1", 1.5) as found,
    ):
        found.recv(4)
        found.sendall(packet(SUBSCRIBE, b"\0\1" + text("$SYS/#") + b"\0", 2))
        assert found.recv(5)[:1] == b"\x90"
        with pytest.raises(TimeoutError):
            found.recv(64)


def test_which_broker_is_brought(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert isinstance(own_broker("embedded", tmp_path), EmbeddedBroker)
    assert isinstance(own_broker("auto", tmp_path), Mosquitto)
    monkeypatch.setattr(mosquitto, "program", lambda: None)
    assert isinstance(own_broker("auto", tmp_path), EmbeddedBroker)
    with pytest.raises(ConfigError, match="no mosquitto is installed here; install it"):
        own_broker("mosquitto", tmp_path).start()


def test_the_setting_has_three_answers(tmp_path: Path) -> None:
    assert parse_settings("", tmp_path).mqtt.broker == "embedded"
    assert parse_settings('[mqtt]\nbroker = "auto"', tmp_path).mqtt.broker == "auto"
    with pytest.raises(ConfigError, match=r"mqtt\.broker"):
        parse_settings('[mqtt]\nbroker = "another"', tmp_path)
