"""The embedded broker: there when asked for, gone with the app, open to nobody else."""

from __future__ import annotations

import os
import signal
import socket
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from curewatch.errors import ConfigError, StoreError
from sensors.broker.process import LOG, EmbeddedBroker
from tests.support.brokers import free_port, listens, publish, tool, until
from tests.support.proxies import client

HOLDER = """
import sys, time
from sensors.broker.process import EmbeddedBroker
broker = EmbeddedBroker(port=int(sys.argv[1])).start()
print(broker.pid, flush=True)
time.sleep(60)
"""


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[EmbeddedBroker]:
    with EmbeddedBroker(port=free_port(), folder=tmp_path) as running:
        yield running


def holder(port: int) -> tuple[subprocess.Popen[str], int]:
    """Another program that holds a broker, and its broker's process id."""
    process = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(port)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    return process, int(process.stdout.readline())


def ended(pid: int) -> bool:
    try:
        return psutil.Process(pid).status() == psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return True


def test_a_message_goes_through_as_soon_as_it_has_started(broker: EmbeddedBroker) -> None:
    port = str(broker.port)
    hearing = subprocess.Popen(
        [tool("mosquitto_sub"), "-p", port, "-t", "a/#", "-C", "1", "-W", "10"],
        stdout=subprocess.PIPE,
        text=True,
    )
    publish(broker.port, "a/b", "-m", "14.2", "-r")
    assert hearing.communicate(timeout=60)[0] == "14.2\n"


def test_it_listens_on_this_machine_alone(broker: EmbeddedBroker) -> None:
    assert broker.pid is not None
    listening = [
        connection.laddr
        for connection in psutil.Process(broker.pid).net_connections()
        if connection.status == psutil.CONN_LISTEN
    ]
    assert listening == [("127.0.0.1", broker.port)]


def test_localhost_is_this_machine() -> None:
    with EmbeddedBroker("localhost", free_port()) as broker:
        assert listens(broker.port)


def test_stopping_frees_the_port_and_twice_is_once(broker: EmbeddedBroker) -> None:
    pid = broker.pid
    assert pid is not None
    broker.stop()
    broker.stop()
    assert broker.pid is None
    assert ended(pid)
    assert not listens(broker.port)


def test_it_can_start_again_at_once_with_clients_still_there(broker: EmbeddedBroker) -> None:
    with socket.create_connection(("127.0.0.1", broker.port)):
        broker.stop()
        broker.start()
        assert listens(broker.port)


def test_a_taken_port_is_said_with_what_to_do(broker: EmbeddedBroker) -> None:
    with pytest.raises(ConfigError) as caught:
        EmbeddedBroker(port=broker.port).start()
    assert str(caught.value) == (
        f"the broker cannot listen on 127.0.0.1 port {broker.port} (address already in use); "
        "choose another with --mqtt-port, or use the broker that is there with --no-broker."
    )
    assert listens(broker.port)


def test_a_folder_without_permission_is_said() -> None:
    with pytest.raises(StoreError, match=r"/proc/broker\.log: cannot be written"):
        EmbeddedBroker(port=free_port(), folder=Path("/proc")).start()


def test_an_address_of_another_machine_is_refused() -> None:
    with pytest.raises(ConfigError, match=r"cannot listen on 192\.0\.2\.1 port"):
        EmbeddedBroker("192.0.2.1", free_port()).start()


def test_a_killed_app_takes_its_broker_along() -> None:
    port = free_port()
    app, pid = holder(port)
    assert listens(port)
    app.kill()
    app.communicate()
    until(lambda: ended(pid) and not listens(port))


def test_the_keyboards_interrupt_does_not_reach_the_broker_before_the_app() -> None:
    app, pid = holder(free_port())
    assert os.getpgid(pid) != os.getpgid(app.pid)
    app.kill()
    app.communicate()


def test_a_broker_that_ends_by_itself_comes_back(broker: EmbeddedBroker) -> None:
    first = broker.pid
    assert first is not None
    os.kill(first, signal.SIGKILL)
    until(lambda: broker.pid not in (None, first) and listens(broker.port))
    publish(broker.port, "a/b", "-m", "1")


@pytest.mark.parametrize(
    "junk", [b"", b"\x00" * 64, b"GET / HTTP/1.1\r\n\r\n", bytes(range(256)) * 40]
)
def test_garbage_does_not_disturb_it(broker: EmbeddedBroker, junk: bytes) -> None:
    pid = broker.pid
    for _ in range(20):
        with socket.create_connection(("127.0.0.1", broker.port)) as client:
            client.sendall(junk)
    publish(broker.port, "a/b", "-m", "1")
    assert broker.pid == pid


def test_a_topic_that_breaks_it_costs_no_more_than_a_moment(broker: EmbeddedBroker) -> None:
    first = broker.pid
    hearing = client(broker.port, "127.0.0.1")
    subscribed = threading.Event()
    hearing.on_subscribe = lambda *_: subscribed.set()
    hearing.subscribe("#", 0)
    until(subscribed.is_set)
    publish(broker.port, "\u00fc/temp", "-m", "1", check=False)
    until(lambda: broker.pid not in (None, first) and broker.answers)
    publish(broker.port, "a/b", "-m", "1")
    hearing.disconnect()
    hearing.loop_stop()


def test_a_packet_past_the_limit_costs_its_sender_the_connection(
    broker: EmbeddedBroker, tmp_path: Path
) -> None:
    (tmp_path / "big").write_bytes(b"x" * 5_000_000)
    assert publish(broker.port, "a/b", "-f", str(tmp_path / "big"), check=False) != 0
    publish(broker.port, "a/b", "-m", "1")


def test_it_writes_nothing_but_its_own_file_for_its_owner(
    broker: EmbeddedBroker, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    publish(broker.port, "a/b", "-m", "1")
    broker.stop()
    assert capfd.readouterr() == ("", "")
    assert (tmp_path / LOG).read_bytes() == b""
    assert stat.S_IMODE((tmp_path / LOG).stat().st_mode) == 0o600
