"""How fast and how quiet the bench page is in a real browser, beside an almost empty page.

    ./tests/bench/run page          three minutes of watching the heap
    ./tests/bench/run page 30       half an hour of it

The server is the demonstration's: a broker, sensors, a fortnight of readings and three steps
hardening. The empty page is its manifest, which the browser shows as text. Exits 1 where a bound
is missed.
"""

from __future__ import annotations

import argparse
import contextlib
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import psutil
from playwright.sync_api import Browser, CDPSession, Page

from demo.garage import answers
from tests.support.brokers import free_port
from tests.support.pages import chromium, watched

START_S, IDLE_S, SETTLE_S, SAMPLE_S, WARM_S = 60.0, 30.0, 5.0, 5.0, 120.0
DEMO_SPEED = 60
EMPTY = "manifest.webmanifest"
FIRST_COUNTDOWN_S, REFRESH_MS, SHIFT, IDLE_PCT = 1.5, 50.0, 0.02, 3.0
FIRST_KB, REPEAT_KB, HEAP_KB_IN_30_MIN = 1800.0, 60.0, 500.0
INSTRUMENTS = """
(() => {
  const held = window.__bench = { shown: 0, shift: 0 };
  const painted = (then) => requestAnimationFrame(() => {
    const channel = new MessageChannel();
    channel.port1.onmessage = () => then(performance.now());
    channel.port2.postMessage(0);
  });
  held.painted = () => new Promise(painted);
  const look = () => {
    const found = document.querySelector("SELECTOR");
    const box = found && found.getBoundingClientRect();
    if (box && box.height > 0 && found.textContent.trim()) painted((at) => { held.shown = at; });
    else requestAnimationFrame(look);
  };
  requestAnimationFrame(look);
  new PerformanceObserver((list) => {
    for (const each of list.getEntries()) if (!each.hadRecentInput) held.shift += each.value;
  }).observe({ type: "layout-shift", buffered: true });
})();
"""
REFRESH = """
async (all) => {
  const asked = (each) => each.name.includes(all ? "_dash-update-component" : "state.json");
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


@dataclass(frozen=True)
class PageRow:
    """One figure beside the baseline's and its bound, all in `unit`; most: None for no bound."""

    what: str
    ours: float
    baseline: float
    unit: str
    most: float | None = None

    @property
    def met(self) -> bool:
        """Whether it is within its bound."""
        return self.most is None or self.ours <= self.most

    def line(self) -> str:
        """A line of the table."""
        bound = "" if self.most is None else f"{self.most:g} {self.unit}"
        verdict = "" if self.most is None else "met" if self.met else "MISSED"
        ours, bare = f"{self.ours:.4g} {self.unit}", f"{self.baseline:.4g} {self.unit}"
        return f"| {self.what} | {ours} | {bare} | {bound} | {verdict} |"


@dataclass(frozen=True)
class Server:
    """A demonstration that runs: its address, and its process with the pages."""

    address: str
    process: psutil.Process


@contextlib.contextmanager
def demonstration(folder: Path, speed: float) -> Iterator[Server]:
    """The invented garage at some speed (dimensionless), in processes of its own."""
    port, mqtt = free_port(), free_port()
    words = ["--speed", f"{speed:g}", "--port", str(port), "--mqtt-port", str(mqtt)]
    script = "import sys; from pathlib import Path; from demo.garage import main; "
    script += "main(sys.argv[2:], Path(sys.argv[1]))"
    command = [sys.executable, "-c", script, str(folder), *words]
    running = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}/"
    until = time.monotonic() + START_S
    try:
        while not answers(address):
            assert running.poll() is None, "the demonstration did not start"
            assert time.monotonic() < until, "the demonstration does not answer"
            time.sleep(0.2)
        yield Server(address, _with_pages(running.pid))
    finally:
        running.terminate()
        running.wait(30)


def _with_pages(pid: int) -> psutil.Process:
    """The process `curewatch up` under the demonstration's."""
    return next(process for process in psutil.Process(pid).children() if "up" in process.cmdline())


@contextlib.contextmanager
def opened(browser: Browser, selector: str = "[data-down]") -> Iterator[Page]:
    """A page of a fresh device with our instruments; `selector` finds what it waits to see."""
    _, page = watched(browser, (1920, 1080))
    page.add_init_script(INSTRUMENTS.replace("SELECTOR", selector))
    try:
        yield page
    finally:
        page.context.close()


def shown_ms(page: Page) -> float:
    """From the start of this navigation to the paint with what was waited for. [ms]"""
    page.wait_for_function("() => window.__bench.shown > 0")
    return float(page.evaluate("() => window.__bench.shown"))


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


class Wire:
    """Bytes that a page takes over the wire, heads included."""

    def __init__(self, page: Page) -> None:
        self.taken = 0
        session: CDPSession = page.context.new_cdp_session(page)
        session.send("Network.enable")
        session.on("Network.loadingFinished", self._finished)

    def _finished(self, event: dict[str, Any]) -> None:
        self.taken += int(event["encodedDataLength"])

    def of(self, work: Callable[[], object]) -> float:
        """What a piece of work takes. [kB]"""
        before = self.taken
        work()
        return (self.taken - before) / 1000


def bytes_of(browser: Browser, address: str) -> tuple[float, float]:
    """A first load with everything it asks for, and the next. [kB]"""
    with opened(browser) as page:
        wire = Wire(page)

        def load() -> None:
            page.goto(address, wait_until="load")
            page.wait_for_timeout(1500)

        return wire.of(load), wire.of(load)


def renderers(browser: Browser) -> float:
    """Processor time of every process that draws pages, since it began. [s]"""
    session = browser.new_browser_cdp_session()
    held = session.send("SystemInfo.getProcessInfo")["processInfo"]
    session.detach()
    return sum(float(each["cpuTime"]) for each in held if each["type"] == "renderer")


def busy(process: psutil.Process) -> float:
    """Processor time of a process since it began. [s]"""
    times = process.cpu_times()
    return float(times.user + times.system)


def idle(browser: Browser, server: Server, address: str, selector: str) -> tuple[float, float]:
    """Load of a core by the page's process and by the server while nobody touches it. [%]"""
    with opened(browser, selector) as page:
        page.goto(address)
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
    """Everything that is measured at the clock's own speed."""
    median, bench, empty = statistics.median, server.address, server.address + EMPTY
    ours = median(reloads(browser, bench, "[data-down]", repeat))
    bare = median(reloads(browser, empty, "pre", repeat))
    yield PageRow("warm reload to the first countdown", ours, bare, "s", FIRST_COUNTDOWN_S)
    with opened(browser) as page:
        page.goto(bench)
        page.wait_for_timeout(3000)
        full = median(refreshes(page, True, repeat))
        yield PageRow(
            "answer to painted, all parts (none)",
            full,
            median(refreshes(page, False, repeat)),
            "ms",
            REFRESH_MS,
        )
    yield PageRow("layout shift", shift(browser, bench), shift(browser, empty), "", SHIFT)
    (first, again), (first_empty, again_empty) = bytes_of(browser, bench), bytes_of(browser, empty)
    yield PageRow("first load on the wire", first, first_empty, "kB", FIRST_KB)
    yield PageRow("repeat load on the wire", again, again_empty, "kB", REPEAT_KB)
    page_pct, server_pct = idle(browser, server, bench, "[data-down]")
    page_empty, server_empty = idle(browser, server, empty, "pre")
    yield PageRow("idle load of the page's process", page_pct, page_empty, "%", IDLE_PCT)
    yield PageRow("idle load of the server's process", server_pct, server_empty, "%")


def slow(browser: Browser, server: Server, minutes: float) -> Iterator[PageRow]:
    """The heap's trend at the demonstration's speed. minutes [min]"""
    with opened(browser) as ours, opened(browser, "pre") as empty:
        empty.goto(server.address + EMPTY)
        ours.goto(server.address)
        trend = growth(ours, minutes, WARM_S)
        bare = growth(empty, 0.5, SETTLE_S)
    what = f"heap's trend in 30 min, watched {minutes:g} min at {DEMO_SPEED} times"
    yield PageRow(what, trend, bare, "kB", HEAP_KB_IN_30_MIN)


def main() -> None:
    """Print the table; exit 1 where a bound is missed."""
    parser = argparse.ArgumentParser(prog="./tests/bench/run page", description=__doc__)
    parser.add_argument("minutes", nargs="?", type=float, default=3.0, help="of heap watched (3)")
    parser.add_argument("--repeat", type=int, default=10, help="runs of each (10)")
    arguments, met = parser.parse_args(), True
    print("| what | curewatch | empty page | bound | |\n|---|---|---|---|---|", flush=True)
    for speed in (1, DEMO_SPEED):
        with (
            tempfile.TemporaryDirectory() as folder,
            demonstration(Path(folder), speed) as server,
            chromium() as browser,
        ):
            slowly = speed == DEMO_SPEED
            rows = (
                slow(browser, server, arguments.minutes)
                if slowly
                else quick(browser, server, max(1, arguments.repeat))
            )
            for row in rows:
                print(row.line(), flush=True)
                met = met and row.met
    sys.exit(0 if met else 1)


if __name__ == "__main__":
    main()
