"""A garage, its pages served on a free port, and a browser to look at them."""

from __future__ import annotations

import contextlib
import math
import shutil
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from flask import Flask
from playwright.sync_api import Browser, Page, expect, sync_playwright
from waitress.channel import HTTPChannel
from waitress.server import BaseWSGIServer, create_server

from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import Reading, make_reading
from curewatch.exchange.presses import Presses
from curewatch.settings.settings import Settings
from curewatch.store.store import Store
from dashboard.app import make_app

EVENING = datetime(2026, 10, 14, 17, 42, tzinfo=UTC)
# the one without a window takes a quarter of the other's processor time for a fresh device
CHROMIUMS = ("chromium-headless-shell", "chromium")
WAIT_MS = 30_000
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)
ALL_REMINDERS = (
    "ventilation", "respirator", "air-fed", "isocyanate", "gloves", "ignition", "peroxide", "dust",
    "leftovers",
)  # fmt: skip
SETTINGS = Settings(zone="Europe/Berlin")
GARAGE, SMALL, PHONE = (1920, 1080), (1280, 800), (390, 844)
PARTS = ("lower corner patch", "left rear rib", "roof seam", "door skin", "wheel arch", "front lip")

expect.set_options(timeout=WAIT_MS)


@dataclass
class SteppedClock:
    """A clock that a test moves, running from there at some speed (dimensionless)."""

    at: datetime = EVENING
    speed: float = 0.0
    begun: datetime = field(default_factory=lambda: datetime.now(UTC))

    def __call__(self) -> datetime:
        return self.at + self.speed * (datetime.now(UTC) - self.begun)


@dataclass
class Garage:
    """A store, a bench and its pages."""

    store: Store
    bench: Bench
    clock: SteppedClock
    app: Flask
    presses: Presses

    def mix(self, sheet: str, ago_min: float, **told: object) -> int:
        """Start a step some minutes ago, its reminders answered. [min]"""
        now = self.clock()
        return self.bench.start(
            sheet,
            now=now,
            mixed_at=now - timedelta(minutes=ago_min),
            details=Details(**told),
            acknowledged=ALL_REMINDERS,
        )

    def hear(self, readings: Sequence[Reading]) -> None:
        """Store what sensors said."""
        self.store.add_readings(readings)


def weather(now: datetime, base_c: float = 13.0, hours: float = 48.0) -> list[Reading]:
    """Two days of an unheated garage, up to now. [C]"""
    found = []
    for back in range(0, round(hours * 60), 5):
        at = now - timedelta(minutes=back)
        hour = at.hour + at.minute / 60
        panel = round(base_c + 4 * math.sin((hour - 9) / 24 * 2 * math.pi), 1)
        found += [
            make_reading("panel", "surface_temperature", panel, at, "mqtt"),
            make_reading("air", "air_temperature", panel + 1, at, "mqtt"),
            make_reading("air", "relative_humidity", 72, at, "mqtt"),
            make_reading("outdoors", "air_temperature", panel - 5, at, "mqtt"),
        ]
    return found


def garage(folder: Path, speed: float = 0.0, settings: Settings = SETTINGS) -> Garage:
    """An empty garage with its app."""
    store = Store(folder / "curewatch.db")
    bench, clock = Bench(store, settings.places), SteppedClock(speed=speed)
    presses = Presses()
    kept = replace(settings, folder=folder)
    app = make_app(bench, store, clock, kept, speed, presses=presses)
    return Garage(store, bench, clock, app, presses)


@contextlib.contextmanager
def served(app: Flask, port: int = 0) -> Iterator[str]:
    """The app on that port, or a free one; gives its address."""
    server = create_server(app, host="127.0.0.1", port=port, threads=4)
    assert isinstance(server, BaseWSGIServer)
    assert server.socket
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.socket.getsockname()[1]}"
    finally:
        stop_serving(server, thread)


def stop_serving(server: BaseWSGIServer, thread: threading.Thread) -> None:
    """End waitress and the thread that runs it.

    Nothing is closed before that thread has left its loop: a handle closed under it fails the
    `select` it is about to enter.
    """
    running: Any = server  # waitress has no word of its own for this
    held: list[Any] = []

    def leave() -> None:
        held.extend(running._map.values())
        running._map.clear()

    running.task_dispatcher.shutdown()
    running.trigger.pull_trigger(leave)
    thread.join(30)
    assert not thread.is_alive()
    for opened in held:  # what a browser left half read waits in a file, which close() leaves open
        (opened.handle_close if isinstance(opened, HTTPChannel) else opened.close)()


@contextlib.contextmanager
def chromium() -> Iterator[Browser]:
    """Debian's browser, without a window."""
    found = next(filter(None, map(shutil.which, CHROMIUMS)))
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=list(FLAGS))
        try:
            yield browser
        finally:
            browser.close()


@dataclass
class Watched:
    """A page and everything it asked for or complained of."""

    page: Page
    asked: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def watched(
    browser: Browser, size: tuple[int, int] = (1920, 1080), **cookies: str
) -> tuple[Watched, Page]:
    """A fresh device of that size with these cookies; what it asks and says is kept."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]})
    for name, value in cookies.items():
        context.add_cookies([{"name": name, "value": value, "url": "http://127.0.0.1"}])
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    held = Watched(page)
    page.on("request", lambda asked: held.asked.append(asked.url))
    page.on("console", lambda line: held.said.append(line.text))
    page.on("pageerror", lambda error: held.said.append(str(error)))
    return held, page


def fill(held: Garage, steps: int) -> None:
    """Put steps on the bench, none of them due yet."""
    sheets = ("epoxy-panel-adhesive", "epoxy-primer", "urethane-panel-adhesive")
    for number in range(steps):
        held.mix(sheets[number % 3], 1 + number % 3, part=f"{PARTS[number % 6]} {number // 6 + 1}")


def overflow(page: Page) -> tuple[int, int]:
    """How far the page must be scrolled down and across. [px]"""
    across, down = page.evaluate(
        "() => { const r = document.documentElement;"
        "return [r.scrollWidth - r.clientWidth, r.scrollHeight - r.clientHeight]; }"
    )
    return int(down), int(across)


def settled(page: Page, path: str) -> None:
    """Open a page of the bench and wait for its first word from the server."""
    with page.expect_response("**/state.json*"):
        page.goto(path)
    page.wait_for_timeout(60)
