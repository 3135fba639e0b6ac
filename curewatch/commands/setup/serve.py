"""`curewatch up`: one process with the page, the broker and the subscriber."""

from __future__ import annotations

import contextlib
import ctypes
import logging
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from io import TextIOWrapper
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from curewatch.bench.bench import Bench
from curewatch.commands.setup.guide import command_topics
from curewatch.errors import ConfigError
from curewatch.exchange.announcements import Message, announced
from curewatch.exchange.buttons import ButtonActions
from curewatch.exchange.presses import Presses
from curewatch.files.private import shut
from curewatch.logbook.housekeeping import each_day, sweep
from curewatch.quality.clock import SteadyClock, kept
from curewatch.quality.tally import Tally
from curewatch.settings.credentials import FILE as DOOR_FILE
from curewatch.settings.credentials import LiveCredentials
from curewatch.settings.endpoints import lan_address, page_address
from curewatch.settings.settings import FILE as SETTINGS_FILE
from curewatch.settings.settings import Settings
from curewatch.store.store import Store
from curewatch.walltime import local_zone
from dashboard.access.login import AccessCheck
from dashboard.access.rate_limit import LoginRateLimit
from dashboard.access.server import PageServer
from dashboard.access.sessions import FILE as SESSIONS_FILE
from dashboard.access.sessions import Sessions
from dashboard.app import make_app
from sensors.broker.mosquitto import start_own
from sensors.broker.process import BrokerProcess
from sensors.mqtt.announcer import Announcer
from sensors.mqtt.buttons import Buttons
from sensors.mqtt.discovery import Discovery
from sensors.mqtt.subscriber import Subscriber
from sensors.mqtt.writer import Writer
from sensors.proxy.proxy import Gatekeeper

if TYPE_CHECKING:
    from curewatch.week.taken import PlanReminders

LOG = "curewatch.log"
_LOG_BYTES = 1_000_000
LOOPBACK, EVERYWHERE = "127.0.0.1", "0.0.0.0"
_MMAP_THRESHOLD, _ARENA_MAX = -3, -8  # mallopt(3), <malloc.h> of the GNU C library
_LARGE_BYTES, _ARENAS = 256 * 1024, 2


def _give_memory_back() -> None:
    """From now on a large piece of memory goes back to the system when it is freed.

    The GNU C library otherwise learns from the first such piece to keep them, in an arena for each
    thread. Another C library is left as it is. To be called before threads start.
    """
    with contextlib.suppress(OSError, AttributeError):
        library = ctypes.CDLL(None)
        library.gnu_get_libc_version  # noqa: B018  # whether this is the GNU C library
        library.mallopt(_MMAP_THRESHOLD, _LARGE_BYTES)
        library.mallopt(_ARENA_MAX, _ARENAS)


class _OwnLog(RotatingFileHandler):
    """A log that only its owner may read."""

    def _open(self) -> TextIOWrapper:
        os.close(os.open(self.baseFilename, os.O_WRONLY | os.O_CREAT, 0o600))
        return super()._open()


def keep_log(folder: Path) -> None:
    """What goes wrong inside is written to a file in the data folder, not to the terminal."""
    handler = _OwnLog(folder / LOG, maxBytes=_LOG_BYTES, backupCount=1, delay=True)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(handlers=[handler], level=logging.WARNING, force=True)


def run(
    store: Store,
    settings: Settings,
    clock: SteadyClock,
    say: Callable[[str], None],
) -> None:
    """Serve until Ctrl-C or SIGTERM; what was accepted by then is stored.

    Keeps daily copies where the settings ask for them, but not of a demonstration.
    """
    _give_memory_back()
    speed = settings.clock.speed if settings.clock else 1.0
    keep_log(settings.folder)
    shut(*(settings.folder / name for name in (SETTINGS_FILE, DOOR_FILE, SESSIONS_FILE)))
    sweep(store, datetime.now(UTC))
    bench = Bench(store, settings.places)
    access = _access(settings.folder) if settings.lan else None
    listener = Discovery(settings.mqtt, settings.folder)
    presses = Presses()
    with contextlib.ExitStack() as ends:
        broker = _own_broker(settings, ends)
        hearing = _hearing(broker, store, settings, clock.now, access)
        if isinstance(hearing, Gatekeeper):
            hearing.overhear = listener.overhear
        copies: Callable[[], str] = str
        if settings.clock is None:
            ends.enter_context(kept(store, clock))
        if settings.copies and settings.clock is None:
            copies = ends.enter_context(each_day(store, clock))
        app = make_app(
            bench,
            store,
            clock,
            settings,
            speed,
            lambda: hearing.state,
            copies=copies,
            access=access,
            presses=presses,
            listener=listener,
            went_back=clock.went_back,
            commands=command_topics,
        )
        host = EVERYWHERE if settings.lan else LOOPBACK
        server = PageServer(app, host, settings.port, settings.page, access)
        ends.callback(server.close)
        hearing.start()
        ends.callback(hearing.stop)
        ends.callback(listener.end)
        for part in _beyond(bench, settings, clock, presses, hearing.tally):
            ends.callback(part.start().stop)
        for sentence in _greeting(settings, server.scheme, broker):
            say(sentence)
        _until_stopped(server.run)
    say("curewatch has stopped; everything you entered is saved.")


def _greeting(settings: Settings, scheme: str, broker: BrokerProcess | None) -> Iterator[str]:
    """Where pages, data and broker are, for who started them."""
    yield f"curewatch is up: {scheme}://{LOOPBACK}:{settings.port}"
    if settings.lan:
        yield _from_outside(settings)
    yield f"Your data are in {settings.folder}."
    yield _broker_words(settings)
    if broker is not None and broker.instead:
        yield f"{broker.instead}."


def _beyond(
    bench: Bench,
    settings: Settings,
    clock: Callable[[], datetime],
    presses: Presses,
    tally: Tally,
) -> list[Announcer | Buttons]:
    """Who tells lamps and buzzers, and who hears buttons, where the settings ask for it."""
    from curewatch.week.taken import PlanReminders

    clients: list[Announcer | Buttons] = []
    zone, reminders = local_zone(settings.zone), PlanReminders(bench)
    if settings.mqtt.announce:
        topics = announced_topics(bench, clock, presses, zone, reminders)
        clients.append(Announcer(settings.mqtt, topics, presses.changed))
    if settings.buttons:
        hand = ButtonActions(
            bench, presses, settings.buttons, clock, settings.reader(zone), zone,
            tally.refuse, reminders.alarms,
        )  # fmt: skip
        names = settings.buttons.keys()
        clients.append(Buttons(settings.mqtt, names, hand.press, hand.refuse))
    return clients


def announced_topics(
    bench: Bench,
    clock: Callable[[], datetime],
    presses: Presses,
    zone: ZoneInfo,
    reminders: PlanReminders,
) -> Callable[[], Mapping[str, Message]]:
    """What every topic holds: the bench, and what a plan that was taken over reminds of."""
    from curewatch.week.taken_words import as_json

    def topics() -> Mapping[str, Message]:
        now = clock()
        plan = {"steps": as_json(reminders.now(now, zone), now)}
        heard = reminders.alarms(now, zone)
        return {**announced(bench.view(now), presses.last.silenced, heard), "plan": plan}

    return topics


def _own_broker(settings: Settings, ends: contextlib.ExitStack) -> BrokerProcess | None:
    """The broker we bring, running until the end; None where an outside one is used."""
    if not settings.mqtt.embedded:
        return None
    broker = start_own(settings.mqtt.broker, settings.folder)
    ends.callback(broker.stop)
    return broker


def _hearing(
    broker: BrokerProcess | None,
    store: Store,
    settings: Settings,
    clock: Callable[[], datetime],
    access: AccessCheck | None,
) -> Gatekeeper | Subscriber:
    """Who hears the sensors: the gatekeeper before our own broker, or a subscriber."""
    mqtt = settings.mqtt
    if broker is None:
        return Subscriber(mqtt.host, mqtt.port, store, settings, clock)
    writer = Writer(store, settings)
    if access is None:
        return Gatekeeper(LOOPBACK, mqtt.port, broker, writer, clock)
    checks = access.user_is, access.mark
    return Gatekeeper(EVERYWHERE, mqtt.port, broker, writer, clock, *checks)


def _access(folder: Path) -> AccessCheck:
    """Who may see the pages. Raises ConfigError where there is none yet."""
    live = LiveCredentials(folder)
    if live.now() is None:
        raise ConfigError(
            "the home network cannot come in yet: there is no passcode and no password for sensors",
            fix="make them with: curewatch access show",
        )
    return AccessCheck(
        live, Sessions(folder, lambda: datetime.now(UTC)), LoginRateLimit(time.monotonic)
    )


def _from_outside(settings: Settings) -> str:
    address = page_address(settings.port, encrypted=settings.page.certificate is not None)
    if address is None:
        return "This computer is not on a network now; the pages ask for the passcode here too."
    return f"On the home network, with the passcode: {address}"


def _broker_words(settings: Settings) -> str:
    own = lan_address() if settings.lan and settings.mqtt.embedded else None
    where = f"{own or settings.mqtt.host}:{settings.mqtt.port}"
    brought = "own broker" if settings.mqtt.embedded else "outside broker"
    return f"Sensors send to mqtt://{where} ({brought}). Ctrl-C ends."


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
    lan: bool,
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
        lan=settings.lan or lan,
    )
