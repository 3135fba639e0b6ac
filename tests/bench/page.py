"""How fast and how quiet the bench page is in a real browser, beside an almost empty page.

    ./tests/bench/run page          three minutes of watching the heap
    ./tests/bench/run page 30       half an hour of it

The server is the demonstration's: a broker, sensors, a fortnight of readings and three steps
hardening. The empty page is its manifest, which the browser shows as text; of what is seen first by
a fresh device it is the guide's contents, which has the frame of every page and no figure. Exits 1
where a bound is missed.
"""

from __future__ import annotations

import argparse
import contextlib
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser, Page

from tests.bench.browser import (
    AS_IT_IS,
    COLD_RATIO,
    DRAWN_S,
    FIRST_KB,
    REPEAT_KB,
    SHIFT,
    PageRow,
    Server,
    busy,
    bytes_of,
    cold_s,
    demonstration,
    opened,
    renderers,
    shown_ms,
)
from tests.support.pages import chromium

IDLE_S, SETTLE_S, SAMPLE_S, WARM_S = 60.0, 12.0, 5.0, 120.0
DEMO_SPEED, TABS, TOUCHES = 60, 5, 12
EMPTY, PLAIN = "manifest.webmanifest", "guide"
COUNTDOWN, DRAWN = "[data-down]", "#ribbons .js-plotly-plot .xtick text"
FIRST_COUNTDOWN_S, REFRESH_MS, TOUCH_MS = 1.5, 60.0, 150.0
PAGE_IDLE_PCT, SERVER_IDLE_PCT, SERVER_TABS_PCT = 4.0, 1.0, 3.0
HEAP_KB_IN_30_MIN = 2000.0
REFRESH = """
async (all) => {
  /* beside the bench Dash asks for a plan, to which there is mostly nothing to answer */
  const asked = (each) => all
    ? each.name.includes("_dash-update-component") && each.decodedBodySize > 2000
    : each.name.includes("state.json");
  const set = (id, data) => window.dash_clientside?.set_props(id, { data });
  performance.clearResourceTimings();
  if (all) { set("marks", {}); set("again", Math.random()); } else await window.curewatch.fresh();
  for (;;) {
    const found = performance.getEntriesByType("resource").filter(asked).pop();
    if (found?.responseEnd) return (await window.__bench.painted()) - found.responseEnd;
    await new Promise((resolve) => setTimeout(resolve, 5));
  }
}
"""


TOUCH = """
async () => {
  const toast = document.getElementById("toast"), undo = document.querySelector("#undo button");
  const said = (text) => new Promise((then) => {
    const watcher = new MutationObserver(() => {
      if (!text.test(toast.textContent)) return;
      watcher.disconnect();
      then();
    });
    watcher.observe(toast, { childList: true, characterData: true, subtree: true });
  });
  const begun = performance.now(), recorded = said(/^Dab/);
  document.querySelector("#asks .doing button").click();
  await recorded;
  const took = (await window.__bench.painted()) - begun, undone = said(/./);
  undo.click();
  await undone;
  return took;
}
"""


def reloads(browser: Browser, address: str, selector: str, repeat: int) -> list[float]:
    """Each of some warm reloads, from its start to what was waited for. [s]"""
    with opened(browser, selector) as page:
        page.goto(address)
        shown_ms(page)
        values = []
        for _ in range(repeat):
            page.reload()
            values.append(shown_ms(page) / 1000)
        return values


def refreshes(page: Page, everything: bool, repeat: int) -> list[float]:
    """From the server's answer to the painted frame, with every part new or none. [ms]"""
    values = []
    for _ in range(repeat):
        values.append(float(page.evaluate(REFRESH, everything)))
        page.wait_for_timeout(300)
    return values


def shift(browser: Browser, address: str) -> float:
    """Sum of the layout shifts of a first load and ten seconds of watching. [-]"""
    with opened(browser) as page:
        page.goto(address)
        page.wait_for_timeout(10_000)
        return float(page.evaluate("() => window.__bench.shift"))


def touches(browser: Browser, address: str) -> float:
    """From a touch on the dab to the painted sentence that says it is recorded, the median of
    some, each undone. [ms]"""
    with opened(browser, DRAWN) as page:
        page.goto(address)
        shown_ms(page)
        values = []
        for _ in range(TOUCHES):
            page.wait_for_timeout(1000)
            values.append(float(page.evaluate(TOUCH)))
        return statistics.median(values)


def idle(
    browser: Browser, server: Server, address: str, selector: str, tabs: int = 1
) -> tuple[float, float]:
    """Load of a core by the pages' process and by the server while nobody touches them. [%]"""
    with contextlib.ExitStack() as stack:
        for _ in range(tabs):
            page = stack.enter_context(opened(browser, selector))
            page.goto(address)
            shown_ms(page)
        page.wait_for_timeout(SETTLE_S * 1000)
        before = renderers(browser), busy(server.process)
        page.wait_for_timeout(IDLE_S * 1000)
        after = renderers(browser), busy(server.process)
    return (
        100 * (after[0] - before[0]) / IDLE_S,
        100 * (after[1] - before[1]) / IDLE_S,
    )


class Heap:
    """What a page holds after everything left over was collected."""

    def __init__(self, page: Page) -> None:
        self._session = page.context.new_cdp_session(page)
        self._session.send("Performance.enable")

    def sample(self) -> float:
        """Bytes in use. [kB]"""
        self._session.send("HeapProfiler.collectGarbage")
        held = self._session.send("Performance.getMetrics")["metrics"]
        return next(float(e["value"]) for e in held if e["name"] == "JSHeapUsedSize") / 1000


def growth(page: Page, minutes: float, warm_s: float) -> float:
    """The heap's trend once a page is warm, over half an hour. [kB]; minutes [min], warm_s [s]

    The median slope between two samples, so that one compilation is no trend.
    """
    from scipy.stats import theilslopes  # takes two seconds, and tests import this module

    heap, found = Heap(page), list[tuple[float, float]]()
    page.wait_for_timeout(warm_s * 1000)
    begun = time.monotonic()
    while (passed := (time.monotonic() - begun) / 60) < minutes:
        found.append((passed, heap.sample()))
        page.wait_for_timeout(SAMPLE_S * 1000)
    at, held = np.array(found).T
    return float(theilslopes(held, at)[0] * 30)


def quick(browser: Browser, server: Server, repeat: int) -> Iterator[PageRow]:
    """What is measured at the clock's own speed while five readings a second come in."""
    median, bench, empty = statistics.median, server.address, server.address + EMPTY
    plain = cold_s(browser, server.address + PLAIN, "main a", repeat)
    cold = cold_s(browser, bench, COUNTDOWN, repeat)
    yield PageRow("first countdown, cold", cold, plain, "s", COLD_RATIO * plain)
    yield PageRow("ribbons drawn, cold", cold_s(browser, bench, DRAWN, repeat), plain, "s", DRAWN_S)
    ours = median(reloads(browser, bench, COUNTDOWN, repeat))
    bare = median(reloads(browser, empty, "pre", repeat))
    yield PageRow("warm reload to the first countdown", ours, bare, "s", FIRST_COUNTDOWN_S)
    with opened(browser, DRAWN) as page:
        page.goto(bench)
        shown_ms(page)
        full = median(refreshes(page, True, repeat))
        none = median(refreshes(page, False, repeat))
    yield PageRow("answer to painted, all parts (none)", full, none, "ms", REFRESH_MS)
    yield PageRow("touch to toast", touches(browser, bench), 0.0, "ms", TOUCH_MS)
    yield PageRow("layout shift", shift(browser, bench), shift(browser, empty), "", SHIFT)
    first, again = bytes_of(browser, bench, DRAWN)
    first_empty, again_empty = bytes_of(browser, empty, "pre")
    yield PageRow("first load on the wire", first, first_empty, "kB", FIRST_KB)
    yield PageRow("repeat load on the wire", again, again_empty, "kB", REPEAT_KB)
    page_pct, server_pct = idle(browser, server, bench, DRAWN)
    page_empty, server_empty = idle(browser, server, empty, "pre")
    yield PageRow("idle load of the page's process", page_pct, page_empty, "%")
    yield PageRow("idle load of the server's process", server_pct, server_empty, "%")


def silent(browser: Browser, server: Server) -> Iterator[PageRow]:
    """What page and server take while no sensor sends."""
    bench, what = server.address, "idle load, no sensor sending, of the"
    page_empty, server_empty = idle(browser, server, bench + EMPTY, "pre")
    page_pct, server_pct = idle(browser, server, bench, DRAWN)
    yield PageRow(f"{what} page's process", page_pct, page_empty, "%", PAGE_IDLE_PCT)
    yield PageRow(f"{what} server's process", server_pct, server_empty, "%", SERVER_IDLE_PCT)
    _, tabs_pct = idle(browser, server, bench, DRAWN, TABS)
    yield PageRow(
        f"{what} server's process, {TABS} tabs", tabs_pct, server_empty, "%", SERVER_TABS_PCT
    )


def slow(browser: Browser, server: Server, minutes: float) -> Iterator[PageRow]:
    """The heap's trend at the demonstration's speed. minutes [min]"""
    with opened(browser) as ours, opened(browser, "pre") as empty:
        empty.goto(server.address + EMPTY)
        ours.goto(server.address)
        trend = growth(ours, minutes, WARM_S)
        bare = growth(empty, 0.5, SETTLE_S)
    what = f"heap's trend in 30 min, watched {minutes:g} min at {DEMO_SPEED} times"
    yield PageRow(what, trend, bare, "kB", HEAP_KB_IN_30_MIN)


@contextlib.contextmanager
def looked_at(speed: float, sends: bool) -> Iterator[tuple[Browser, Server]]:
    """A browser, and a demonstration of its own."""
    with (
        tempfile.TemporaryDirectory() as folder,
        demonstration(Path(folder), speed, sends) as server,
        chromium(AS_IT_IS) as browser,
    ):
        yield browser, server


def rows(minutes: float, repeat: int) -> Iterator[PageRow]:
    """The whole table. minutes of heap watched [min]"""
    with looked_at(1, True) as (browser, server):
        yield from quick(browser, server, repeat)
    with looked_at(1, False) as (browser, server):
        yield from silent(browser, server)
    with looked_at(DEMO_SPEED, True) as (browser, server):
        yield from slow(browser, server, minutes)


def main() -> None:
    """Print the table; exit 1 where a bound is missed."""
    parser = argparse.ArgumentParser(prog="./tests/bench/run page", description=__doc__)
    parser.add_argument("minutes", nargs="?", type=float, default=3.0, help="of heap watched (3)")
    parser.add_argument("--repeat", type=int, default=10, help="runs of each (10)")
    arguments, met = parser.parse_args(), True
    print("| what | curewatch | empty page | bound | |\n|---|---|---|---|---|", flush=True)
    for row in rows(arguments.minutes, max(1, arguments.repeat)):
        print(row.line(), flush=True)
        met = met and row.met
    sys.exit(0 if met else 1)


if __name__ == "__main__":
    main()
