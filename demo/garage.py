"""The whole of curewatch on an invented garage: seeded logbook, real broker, simulated sensors."""

from __future__ import annotations

import argparse
import contextlib
import ctypes
import fcntl
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from curewatch.commands.context import FILE as LOGBOOK
from curewatch.errors import ConfigError, CurewatchError
from curewatch.files.lock import LOCK
from curewatch.settings.settings import FILE, ClockSettings
from curewatch.store.store import Store
from demo.invented import ZONE
from demo.seed import SHOWN, seed
from demo.weather import readings_at

DATA = Path(__file__).resolve().parent / ".data"
START_S, ANSWER_S, STOP_S = 60.0, 15.0, 10.0
PR_SET_PDEATHSIG = 1


def _arguments(words: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="./demo/run", description=__doc__)
    parser.add_argument("--speed", type=float, default=1.0, help="garage seconds in a second (1)")
    parser.add_argument("--port", type=int, default=8050, help="of the page (8050)")
    parser.add_argument("--mqtt-port", type=int, default=1883, help="of the broker (1883)")
    arguments = parser.parse_args(words)
    if not 0 < arguments.speed <= 600:
        parser.error(f"--speed {arguments.speed:g} is outside 0..600; 60 runs an hour a minute")
    return arguments


def settings_text(clock: ClockSettings, port: int, mqtt_port: int) -> str:
    """curewatch.toml for the demo."""
    return (
        f'zone = "{ZONE}"\nport = {port}\n\n[mqtt]\nport = {mqtt_port}\nannounce = true\n\n'
        '[buttons.hush]\ndoes = "silence"\n\n[buttons.dab]\ndoes = "witness"\nstate = "tacky"\n\n'
        f"[clock]\nspeed = {clock.speed!r}\nwall = {clock.wall.isoformat()}\n"
        f"shown = {clock.shown.isoformat()}\n"
    )


def _held(path: Path) -> TextIO:
    lock = path.open("a")
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        lock.close()
        raise ConfigError(
            "a demo is running already", where=str(path.parent), fix="end it with Ctrl-C first"
        ) from None
    return lock


def fresh_folder(folder: Path) -> TextIO:
    """Empty the demo's data folder; the open lock keeps a second demo out of it."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    lock = _held(folder / "demo.lock")
    _held(folder / LOCK).close()
    for old in folder.iterdir():
        if old.is_dir():
            shutil.rmtree(old)
        elif old.name != "demo.lock":
            old.unlink()
    return lock


def check_port(port: int, option: str) -> None:
    """Refuse a port that something listens on already."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port))
        except (OSError, OverflowError) as error:
            raise ConfigError(
                f"port {port} cannot be used ({error})", fix=f"choose another with {option}"
            ) from None


def _seed(logbook: Path) -> None:
    with contextlib.closing(Store(logbook)) as store:
        seed(store)


def answers(address: str) -> bool:
    """Whether the page at an address can be had."""
    try:
        with urllib.request.urlopen(address, timeout=ANSWER_S):
            return True
    except (urllib.error.URLError, OSError):
        return False


def _wait(app: subprocess.Popen[bytes], address: str, ended: threading.Event) -> None:
    until = time.monotonic() + START_S
    while app.poll() is None and not ended.is_set() and time.monotonic() < until:
        if answers(address):
            return
        ended.wait(0.2)
    if ended.is_set():
        return
    if app.poll() is None:
        raise ConfigError(f"the page at {address} does not answer", fix="see its messages above")
    raise SystemExit(app.returncode)


def _client(port: int) -> mqtt.Client:
    client = mqtt.Client(CallbackAPIVersion.VERSION2, client_id="demo-garage")
    client.max_queued_messages_set(50)
    client.connect_async("127.0.0.1", port)
    client.loop_start()
    return client


def _publish(
    clock: ClockSettings, client: mqtt.Client, app: subprocess.Popen[bytes], ended: threading.Event
) -> None:
    while not ended.wait(1.0) and app.poll() is None:
        for reading in readings_at(clock.at(datetime.now(UTC))):
            client.publish(reading.source, f"{reading.value:g}", qos=1)


def _ends_with_us() -> None:
    """In the child, on Linux: should this process be killed, the app gets a signal to end."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


def _end(app: subprocess.Popen[bytes]) -> None:
    app.terminate()
    try:
        app.wait(STOP_S)
    except subprocess.TimeoutExpired:
        app.kill()
        app.wait()


def run(folder: Path, clock: ClockSettings, ports: tuple[int, int], ended: threading.Event) -> None:
    """Start the app on a folder, at the page's port and the broker's; publish the garage's
    readings until `ended`; then end it all."""
    command = [str(Path(sys.executable).with_name("curewatch")), "up", "--data", str(folder)]
    port, mqtt_port = ports
    where = ["--port", str(port), "--mqtt-port", str(mqtt_port)]
    app = subprocess.Popen([*command, *where], start_new_session=True, preexec_fn=_ends_with_us)
    try:
        address = f"http://127.0.0.1:{port}/"
        _wait(app, address, ended)
        client = _client(mqtt_port)
        print(f"The bench is at {address} and follows the garage. Ctrl-C ends it.", flush=True)
        _publish(clock, client, app, ended)
        client.disconnect()
        client.loop_stop()
    finally:
        _end(app)
    if not ended.is_set():
        raise ConfigError("curewatch stopped unexpectedly", fix="see its messages above")


def main(words: Sequence[str] | None = None, folder: Path = DATA) -> None:
    """What ./demo/run does; the folder is emptied first."""
    arguments = _arguments(sys.argv[1:] if words is None else words)
    ended = threading.Event()
    try:
        check_port(arguments.port, "--port")
        check_port(arguments.mqtt_port, "--mqtt-port")
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, lambda *_: ended.set())
        with fresh_folder(folder):
            clock = ClockSettings(arguments.speed, datetime.now(UTC), SHOWN)
            (folder / FILE).write_text(settings_text(clock, arguments.port, arguments.mqtt_port))
            _seed(folder / LOGBOOK)
            run(folder, clock, (arguments.port, arguments.mqtt_port), ended)
    except CurewatchError as error:
        print(error, file=sys.stderr)
        raise SystemExit(2) from None
    print("Ended.")


if __name__ == "__main__":
    main()
