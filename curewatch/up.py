"""`curewatch up`: one process with the page, the broker and the subscriber."""

from __future__ import annotations

import contextlib
import logging
import signal
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import FrameType

from waitress.server import create_server

from curewatch.bench import Bench
from curewatch.config import Settings
from curewatch.daily import each_day
from curewatch.errors import ConfigError
from curewatch.store import Store
from curewatch.view import Desk
from dashboard.app import make_app
from sensors.broker import EmbeddedBroker
from sensors.mqtt import Subscriber

LOG = "curewatch.log"
_LOG_BYTES = 1_000_000
LOOPBACK = "127.0.0.1"


def keep_log(folder: Path) -> None:
    """What goes wrong inside is written to a file in the data folder, not to the terminal."""
    handler = RotatingFileHandler(folder / LOG, maxBytes=_LOG_BYTES, backupCount=1, delay=True)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(handlers=[handler], level=logging.WARNING, force=True)


def run(
    store: Store,
    settings: Settings,
    clock: Callable[[], datetime],
    say: Callable[[str], None],
) -> None:
    """Serve until Ctrl-C or SIGTERM; what was accepted by then is stored.

    Keeps daily copies where the settings ask for them, but not of a demonstration.
    """
    speed = settings.clock.speed if settings.clock else 1.0
    keep_log(settings.folder)
    bench = Bench(store, Desk(store, settings.places))
    subscriber = Subscriber(settings.mqtt.host, settings.mqtt.port, store, settings, clock)
    app = make_app(bench, store, clock, settings, speed, lambda: subscriber.state)
    try:
        server = create_server(app, host=LOOPBACK, port=settings.port, threads=8, ident=None)
    except OSError as error:
        raise ConfigError(
            f"the page cannot use port {settings.port} ({error.strerror})",
            fix="stop the program that holds it, or choose another with --port",
        ) from None
    with contextlib.ExitStack() as ends:
        ends.callback(server.close)
        if settings.copies and settings.clock is None:
            ends.enter_context(each_day(store, clock))
        if settings.mqtt.embedded:
            broker = EmbeddedBroker(LOOPBACK, settings.mqtt.port, settings.folder)
            broker.start()
            ends.callback(broker.stop)
        subscriber.start()
        ends.callback(subscriber.stop)
        say(f"curewatch is up: http://{LOOPBACK}:{settings.port}")
        say(_heard(settings))
        _until_stopped(server.run)
    say("curewatch has stopped; everything told is stored.")


def _heard(settings: Settings) -> str:
    where = f"{settings.mqtt.host}:{settings.mqtt.port}"
    brought = "own broker" if settings.mqtt.embedded else "outside broker"
    return f"Readings are heard at mqtt://{where} ({brought}). Ctrl-C ends."


def _until_stopped(serve: Callable[[], None]) -> None:
    def stop(number: int, frame: FrameType | None) -> None:
        raise SystemExit(0)

    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, stop)
    with contextlib.suppress(KeyboardInterrupt, SystemExit):
        serve()


def with_options(
    settings: Settings,
    *,
    port: int | None,
    mqtt_port: int | None,
    no_broker: bool,
    no_copies: bool,
) -> Settings:
    """The settings with the command's options over them."""
    mqtt = settings.mqtt
    if no_broker:
        mqtt = replace(mqtt, embedded=False)
    if mqtt_port is not None:
        mqtt = replace(mqtt, port=mqtt_port)
    if mqtt.embedded:
        mqtt = replace(mqtt, host=LOOPBACK)
    return replace(
        settings,
        mqtt=mqtt,
        port=settings.port if port is None else port,
        copies=settings.copies and not no_copies,
    )
