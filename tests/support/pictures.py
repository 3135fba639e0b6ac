"""Pictures of every state and page at the three sizes, dark and light, into .pictures/.

    ./tests/run pictures [NAME ...]     all of them, or the states and pages named
    ./tests/run pictures --demo         only those of the README, into demo/

The bench is also shown as colour-blind eyes see it and without colour (eyes-*).
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, Page, Route

from tests.support.pages import Garage, chromium, open_garage, served, watched
from tests.support.protected_pages import protected_garage
from tests.support.scenes import STATES, dawn, everything

FOLDER = Path(".pictures")
SIZES = {
    "garage": ((1920, 1080), "garage"),
    "small": ((1280, 800), "garage"),
    "desk": ((1280, 800), "desk"),
    "phone": ((390, 844), "phone"),
}
THEMES = ("dark", "light")
EYES = {
    "deuteranopia": "deuteranopia",
    "protanopia": "protanopia",
    "greyscale": "achromatopsia",
}
SEEN_BY_EYES = ("evening", "due", "old", "many", "cold")
PAGES = {
    "mix": "/mix",
    "mix-sheet": "/mix/fibre-polyester-filler",
    "mix-recoat": "/mix/epoxy-primer",
    "rehearse": "/mix/epoxy-panel-adhesive/rehearse",
    "air": "/air",
    "sensors": "/air/sensors",
    "air-out": "/air/out",
    "listen": "/air/listen",
    "masks": "/air/masks",
    "salt": "/air/salt",
    "shelf": "/shelf",
    "sheet": "/shelf/epoxy-primer",
    "new-sheet": "/shelf/new",
    "sheet-edit": "/shelf/epoxy-primer/edit",
    "parts": "/parts",
    "logbook": "/logbook",
    "found": "/logbook?find=skin",
    "product": "/log/product/epoxy-panel-adhesive",
    "compare": "/log/compare?steps=4.6",
    "step": "/step/2",
    "photographs": "/step/4",
    "history": "/step/4/history",
    "choices": "/choices",
    "missing": "/nowhere",
}
BEST = (
    ("evening", "/", "garage", "dark", "demo/bench.png"),
    ("due", "/", "garage", "dark", "demo/due.png"),
    ("cold", "/mix/epoxy-primer", "garage", "dark", "demo/gate.png"),
    ("due", "/", "phone", "dark", "demo/phone.png"),
)
Build = Callable[[Garage], None]


@contextmanager
def opened(build: Build) -> Iterator[str]:
    """The address of a garage in some state."""
    with tempfile.TemporaryDirectory() as folder:
        garage = open_garage(Path(folder))
        build(garage)
        with served(garage.app) as address:
            yield address
        garage.store.close()


@contextmanager
def device(browser: Browser, size: str, theme: str) -> Iterator[Page]:
    """A page at one size in one theme."""
    pixels, layout = SIZES[size]
    _, page = watched(browser, pixels, layout=layout, theme=theme)
    try:
        yield page
    finally:
        page.context.close()


def visit(page: Page, address: str) -> None:
    """Open a page and wait until it stands still."""
    page.goto(address, wait_until="networkidle")
    page.wait_for_timeout(150)


def shoot(page: Page, path: Path, size: str) -> None:
    """One picture; on a phone, where one scrolls, as if its screen were as long as the page."""
    wide, high = SIZES[size][0]
    if size == "phone":
        long = int(page.evaluate("() => document.documentElement.scrollHeight"))
        page.set_viewport_size({"width": wide, "height": max(high, long)})
    page.screenshot(path=path)
    page.set_viewport_size({"width": wide, "height": high})


def each_device(browser: Browser, small: bool) -> Iterator[tuple[Page, str, str]]:
    """Every size in both themes, each with the ending of its picture's name."""
    for size in SIZES:
        for theme in THEMES if size != "small" else THEMES[:1]:
            if size == "small" and not small:
                continue
            with device(browser, size, theme) as page:
                yield page, size, f"{size}-{theme}"


def states(browser: Browser, wanted: Sequence[str]) -> None:
    """The bench in each state."""
    for name in wanted:
        with opened(STATES[name]) as address:
            for page, size, ending in each_device(browser, small=True):
                visit(page, address)
                shoot(page, FOLDER / f"{name}-{ending}.png", size)
            if name in SEEN_BY_EYES:
                eyes(browser, address, name)


def eyes(browser: Browser, address: str, name: str) -> None:
    """The bench as colour-blind eyes see it, dark and light."""
    for theme in THEMES:
        with device(browser, "garage", theme) as page:
            session = page.context.new_cdp_session(page)
            visit(page, address)
            for eye, kind in EYES.items():
                session.send("Emulation.setEmulatedVisionDeficiency", {"type": kind})
                shoot(page, FOLDER / f"eyes-{name}-{theme}-{eye}.png", "garage")


def pages(browser: Browser, wanted: Sequence[str]) -> None:
    """Every other page, with something on each."""
    with opened(everything) as address:
        for page, size, ending in each_device(browser, small=False):
            for name in wanted:
                visit(page, address + PAGES[name])
                shoot(page, FOLDER / f"page-{name}-{ending}.png", size)


def stop(browser: Browser) -> None:
    """A mix that the gate stops, and the same once it was sent without a reason."""
    with opened(STATES["cold"]) as address:
        for page, size, ending in each_device(browser, small=False):
            visit(page, f"{address}/mix/epoxy-primer")
            shoot(page, FOLDER / f"stop-{ending}.png", size)


def mixed(browser: Browser) -> None:
    """What was it that was mixed, asked after one touch."""
    with opened(STATES["touched"]) as address:
        for page, size, ending in each_device(browser, small=False):
            visit(page, f"{address}/mixed/1")
            shoot(page, FOLDER / f"page-mixed-{ending}.png", size)


def morning(browser: Browser) -> None:
    """The page of the last night, and the bench beside it."""
    with opened(dawn) as address:
        for page, size, ending in each_device(browser, small=False):
            for name, path in (("page-morning", "/morning"), ("morning", "/")):
                visit(page, address + path)
                shoot(page, FOLDER / f"{name}-{ending}.png", size)


def gone(browser: Browser) -> None:
    """The server fell silent."""

    def silent(route: Route) -> None:
        route.abort()

    with opened(STATES["evening"]) as address:
        for page, size, ending in each_device(browser, small=False):
            visit(page, address)
            page.route("**/state.json*", silent)
            page.locator("#away").wait_for(state="visible", timeout=20_000)
            shoot(page, FOLDER / f"gone-{ending}.png", size)


def login(browser: Browser) -> None:
    """The page that asks for the passcode."""
    with tempfile.TemporaryDirectory() as folder:
        for held in protected_garage(Path(folder)):
            with served(held.app) as address:
                for page, size, ending in each_device(browser, small=False):
                    visit(page, f"{address}/login")
                    shoot(page, FOLDER / f"page-login-{ending}.png", size)


def others(browser: Browser, wanted: Sequence[str]) -> None:
    """What needs more than a garage in a state."""
    for name, make in OTHERS.items():
        if name in wanted:
            make(browser)


OTHERS: dict[str, Callable[[Browser], None]] = {
    "stop": stop,
    "mixed": mixed,
    "morning": morning,
    "gone": gone,
    "login": login,
}


def best(browser: Browser) -> None:
    """The README's."""
    for name, path, size, theme, file in BEST:
        with opened(STATES[name]) as address, device(browser, size, theme) as page:
            visit(page, address + path)
            page.screenshot(path=file)


def main() -> None:
    """Make them all, or those whose names are given, or the README's."""
    words = [text for text in sys.argv[1:] if not text.startswith("-")]
    unknown = [word for word in words if word not in {*STATES, *PAGES, *OTHERS}]
    if unknown:
        sys.exit(f"no state or page is called {unknown[0]}; use {', '.join([*STATES, *PAGES])}")
    with chromium() as browser:
        if "--demo" in sys.argv:
            best(browser)
            return
        FOLDER.mkdir(exist_ok=True)
        states(browser, [name for name in STATES if not words or name in words])
        others(browser, words or list(OTHERS))
        named = [name for name in PAGES if not words or name in words]
        if named:
            pages(browser, named)
    print(f"Pictures are in {FOLDER}/.")


if __name__ == "__main__":
    main()
