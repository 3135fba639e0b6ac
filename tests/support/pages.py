"""A garage with its pages, and what a test does to them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

from flask import Flask
from playwright.sync_api import Page, Response

from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import Reading, make_reading
from curewatch.exchange.presses import Presses
from curewatch.settings.settings import Settings
from curewatch.store.store import Store
from dashboard.app import make_app
from tests.support.devices import chromium as chromium
from tests.support.devices import served as served
from tests.support.devices import watched as watched
from tests.support.devices import watched_afresh as watched_afresh

EVENING = datetime(2026, 10, 14, 17, 42, tzinfo=UTC)
ALL_REMINDERS = (
    "ventilation", "respirator", "air-fed", "isocyanate", "gloves", "ignition", "peroxide", "dust",
    "leftovers",
)  # fmt: skip
SETTINGS = Settings(zone="Europe/Berlin")
GARAGE, SMALL, PHONE = (1920, 1080), (1280, 800), (390, 844)
PARTS = ("lower corner patch", "left rear rib", "roof seam", "door skin", "wheel arch", "front lip")


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

    def mix(self, sheet: str, ago_min: float, **data: object) -> int:
        """Start a step some minutes ago, its reminders answered. [min]"""
        now = self.clock()
        return self.bench.start(
            sheet,
            now=now,
            mixed_at=now - timedelta(minutes=ago_min),
            details=Details(**data),
            acknowledged=ALL_REMINDERS,
        )

    def hear(self, readings: Sequence[Reading]) -> None:
        """Store what sensors said."""
        self.store.add_readings(readings)


def weather(now: datetime, base_c: float = 13.0, hours: float = 48.0) -> list[Reading]:
    """Two days of an unheated garage, up to now. [C]"""
    return list(_weather(now, base_c, hours))


@cache
def _weather(now: datetime, base_c: float, hours: float) -> tuple[Reading, ...]:
    readings: list[Reading] = []
    for back in range(0, round(hours * 60), 5):
        at = now - timedelta(minutes=back)
        hour = at.hour + at.minute / 60
        panel = round(base_c + 4 * math.sin((hour - 9) / 24 * 2 * math.pi), 1)
        readings += [
            make_reading("panel", "surface_temperature", panel, at, "mqtt"),
            make_reading("air", "air_temperature", panel + 1, at, "mqtt"),
            make_reading("air", "relative_humidity", 72, at, "mqtt"),
            make_reading("outdoors", "air_temperature", panel - 5, at, "mqtt"),
        ]
    return tuple(readings)


def open_garage(folder: Path, speed: float = 0.0, settings: Settings = SETTINGS) -> Garage:
    """An empty garage with its app."""
    store = Store(folder / "curewatch.db")
    bench, clock = Bench(store, settings.places), SteppedClock(speed=speed)
    presses = Presses()
    kept = replace(settings, folder=folder)
    app = make_app(bench, store, clock, kept, speed, presses=presses)
    return Garage(store, bench, clock, app, presses)


def fill(garage: Garage, steps: int) -> None:
    """Put steps on the bench, none of them due yet."""
    sheets = ("epoxy-panel-adhesive", "epoxy-primer", "urethane-panel-adhesive")
    for number in range(steps):
        garage.mix(
            sheets[number % 3], 1 + number % 3, part=f"{PARTS[number % 6]} {number // 6 + 1}"
        )


def overflow(page: Page) -> tuple[int, int]:
    """How far the page must be scrolled down and across. [px]"""
    across, down = page.evaluate(
        "() => { const r = document.documentElement;"
        "return [r.scrollWidth - r.clientWidth, r.scrollHeight - r.clientHeight]; }"
    )
    return int(down), int(across)


def opened(page: Page, address: str) -> None:
    """Open a page, and wait until Dash has drawn it where it is one of Dash's."""
    page.goto(address)
    if page.locator("#react-entry-point").count():
        page.locator("body.taken").wait_for()


SETTLED = """() => {
    const box = document.getElementById("ribbons"), plot = box?.querySelector(".js-plotly-plot");
    if (!document.body.classList.contains("taken") || !box) return false;
    if (!box.clientWidth) return true;
    const drawn = plot?._fullLayout, graph = box.querySelector(".lane-chart");
    const ends = (node) => node.getBoundingClientRect().right;
    if (!drawn || Math.abs(ends(graph) - ends(box)) > 2) return false;
    if (document.documentElement.dataset.layout === "phone") return drawn.width <= box.clientWidth;
    return Math.abs(drawn.height - box.clientHeight) < 2;
}"""


def settled(page: Page, path: str) -> None:
    """Open the bench and wait until Dash has drawn it in the room that it has."""
    with page.expect_response("**/state.json*"):
        page.goto(path)
    page.wait_for_function(SETTLED)


def resized(page: Page, size: tuple[int, int]) -> None:
    """Give the bench that is shown a room of another width, and wait until it is drawn in it."""
    with page.expect_response(_anew):
        page.set_viewport_size({"width": size[0], "height": size[1]})
    page.wait_for_function(SETTLED)


def renewed(page: Page) -> None:
    """Have the bench that is shown answered anew, as it asks by itself once in a while; what is
    new there is still to be waited for."""
    with page.expect_response(_anew):
        page.evaluate(
            "window.curewatch.fresh().then(() =>"
            " window.dash_clientside.set_props('again', { data: performance.now() }))"
        )


def _anew(answer: Response) -> bool:
    """Whether the whole bench was drawn anew by this answer."""
    text = answer.request.post_data or ""
    return "marks.data.." in text and '"again.data"' in text
