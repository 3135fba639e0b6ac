"""Pictures of every state at the three sizes, into .pictures/; `--demo` copies the best."""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

from playwright.sync_api import Browser

from curewatch.touched import touch
from tests.pages import EVENING, Garage, chromium, garage, served, watched, weather

FOLDER = Path(".pictures")
BEST = ("evening-garage.png", Path("demo/bench.png"))
SIZES = {
    "garage": ((1920, 1080), {}),
    "small": ((1280, 800), {}),
    "desk": ((1280, 800), {"layout": "desk"}),
    "phone": ((390, 844), {}),
}
PARTS = ("lower corner patch", "left rear rib", "roof seam", "door sill", "wheel arch", "front lip")
EYES = {
    "deuteranopia": "deuteranopia",
    "protanopia": "protanopia",
    "greyscale": "achromatopsia",
}


def evening(held: Garage) -> None:
    """An adhesive under clamps, a filler just spread, a primer waiting for its next coat."""
    held.hear(weather(EVENING))
    job = "camper corner"
    held.mix("epoxy-primer", 330, part="roof seam", job=job)
    held.mix("urethane-panel-adhesive", 119, part="lower corner patch", job=job, amount_g=60.0)
    held.mix("fibre-polyester-filler", 24, part="left rear rib", amount_g=35.0, hardener_pct=2.0)
    for step, minutes in ((1, 60), (2, 24), (3, 9)):
        seen = held.bench.step(step).mixed_at + timedelta(minutes=minutes)
        held.bench.test(step, "passed", now=seen, milestone="working_time")
    seen = held.bench.step(1).mixed_at + timedelta(minutes=280)
    held.bench.test(1, "passed", now=seen, milestone="recoat_opens")


def due(held: Garage) -> None:
    """Two tests wait, one for an hour."""
    evening(held)
    held.clock.at += timedelta(minutes=64)
    held.hear(weather(held.clock(), hours=1.1))


def cold(held: Garage) -> None:
    """Nothing can cure."""
    held.hear(weather(EVENING, base_c=3.0))
    held.mix("fibre-polyester-filler", 25, part="left rear rib", amount_g=35.0)


def old(held: Garage) -> None:
    """The sensors fell silent two hours ago."""
    held.hear(weather(EVENING - timedelta(hours=2)))
    held.mix("epoxy-panel-adhesive", 40, part="lower corner patch", amount_g=60.0)


def many(held: Garage) -> None:
    """Twelve steps at once."""
    held.hear(weather(EVENING))
    sheets = ("epoxy-panel-adhesive", "epoxy-primer", "urethane-panel-adhesive", "seam-sealer")
    for number in range(12):
        held.mix(sheets[number % 4], 3 + number, part=f"{PARTS[number % 6]} {number // 6 + 1}")


def quiet(held: Garage) -> None:
    """Readings, and nothing on the bench."""
    held.hear(weather(EVENING))


def reminders(held: Garage) -> None:
    """A filler mixed in a hurry: its reminders wait."""
    held.hear(weather(EVENING))
    held.bench.start("fibre-polyester-filler", now=held.clock())


def touched(held: Garage) -> None:
    """Mixed now was touched, what it was is not said yet; nothing else is on the bench."""
    held.hear(weather(EVENING))
    for number, sheet in enumerate(("epoxy-primer", "epoxy-panel-adhesive"), 1):
        held.mix(sheet, 3000, part="roof seam", amount_g=60.0)
        held.bench.finish(number, now=EVENING)
    touch(held.store, EVENING - timedelta(minutes=2))


def lately(held: Garage) -> None:
    """Nothing on the bench, two products used lately."""
    held.hear(weather(EVENING))
    for number, sheet in enumerate(("epoxy-primer", "epoxy-panel-adhesive"), 1):
        held.mix(sheet, 3000, part="roof seam", amount_g=60.0)
        held.bench.finish(number, now=EVENING)


def tools(held: Garage) -> None:
    """The working time is over, the cup was not told to be empty; a window shuts soon."""
    held.hear(weather(EVENING))
    held.mix("epoxy-primer", 23 * 60, part="roof seam")
    held.bench.emptied(1, now=EVENING)
    held.bench.test(1, "passed", now=EVENING, milestone="recoat_opens")
    held.mix("epoxy-panel-adhesive", 80, part="lower corner patch", amount_g=60.0)
    held.bench.test(2, "passed", now=EVENING, milestone="working_time")


def against(held: Garage) -> None:
    """Mixed with one touch though the panel is too cold: the reason is asked now."""
    held.hear(weather(EVENING, base_c=3.0))
    held.bench.start("epoxy-primer", now=EVENING - timedelta(minutes=4))
    stop = "Panel 7.1 °C is below the sheet's 10 °C: it would not cure."
    body = {"stops": [stop], "why": ""}
    held.store.add_event(1, "overridden", EVENING, EVENING, body)


def moved(held: Garage) -> None:
    """The garage door stood open: the clamps stay on longer."""
    held.hear(weather(EVENING - timedelta(minutes=14), base_c=18.0))
    held.mix("epoxy-panel-adhesive", 150, part="lower corner patch", amount_g=60.0)
    held.bench.test(1, "passed", now=held.clock(), milestone="working_time")
    held.hear(weather(held.clock(), base_c=13.0, hours=0.2))


def first(held: Garage) -> None:
    """A first start: no sensor, nothing told."""


STATES: dict[str, Callable[[Garage], None]] = {
    "evening": evening,
    "due": due,
    "cold": cold,
    "old": old,
    "many": many,
    "quiet": quiet,
    "reminders": reminders,
    "moved": moved,
    "touched": touched,
    "lately": lately,
    "tools": tools,
    "against": against,
    "first": first,
}
PAGES = {
    "mix": "/mix",
    "mix-sheet": "/mix/fibre-polyester-filler",
    "air": "/air",
    "shelf": "/shelf",
    "sheet": "/shelf/epoxy-primer",
    "new-sheet": "/shelf/new",
    "logbook": "/logbook",
    "step": "/step/2",
    "choices": "/choices",
}


def shoot(browser: Browser, address: str, name: str, size: str, **cookies: str) -> None:
    """One picture of one page at one size."""
    pixels, layout = SIZES[size]
    _, page = watched(browser, pixels, **layout, **cookies)
    page.goto(address)
    page.wait_for_timeout(900)
    page.screenshot(path=FOLDER / f"{name}-{size}.png", full_page=size == "phone")
    page.context.close()


def eyes(browser: Browser, address: str) -> None:
    """The bench as colour-blind eyes see it."""
    for name, kind in EYES.items():
        _, page = watched(browser, (1920, 1080))
        page.goto(address)
        page.wait_for_timeout(900)
        session = page.context.new_cdp_session(page)
        session.send("Emulation.setEmulatedVisionDeficiency", {"type": kind})
        page.screenshot(path=FOLDER / f"eyes-{name}.png")
        page.context.close()


def state(browser: Browser, name: str, build: Callable[[Garage], None]) -> None:
    """Every picture of one state."""
    with tempfile.TemporaryDirectory() as folder:
        held = garage(Path(folder))
        build(held)
        with served(held.app) as address:
            for size in SIZES:
                shoot(browser, address, name, size)
            if name == "cold":
                for size in ("garage", "phone"):
                    shoot(browser, f"{address}/mix/epoxy-primer", "stop", size)
            if name == "evening":
                shoot(browser, address, f"{name}-light", "garage", theme="light")
                for page, path in PAGES.items():
                    for size in ("garage", "desk", "phone"):
                        shoot(browser, address + path, page, size)
                eyes(browser, address)
        held.store.close()


def main() -> None:
    """Make them all, or those whose names are given."""
    FOLDER.mkdir(exist_ok=True)
    wanted = [each for each in sys.argv[1:] if each in STATES] or list(STATES)
    with chromium() as browser:
        for name in wanted:
            state(browser, name, STATES[name])
    if "--demo" in sys.argv:
        shutil.copyfile(FOLDER / BEST[0], BEST[1])
    print(f"Pictures are in {FOLDER}/.")


if __name__ == "__main__":
    main()
