"""What benchmarks of pages share: a server to look at, a browser that measures, rows of a table."""

from __future__ import annotations

import contextlib
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psutil
from playwright.sync_api import Browser, CDPSession, Page

from demo.garage import answers
from tests.support.brokers import free_port
from tests.support.devices import FLAGS, watched_afresh

START_S, FIRST_KB, REPEAT_KB, SHIFT = 60.0, 1800.0, 40.0, 0.02
DRAWN_S, COLD_RATIO = 2.5, 1.5
# as a person's browser is: what is compiled well, and each tab in a process of its own
AS_IT_IS = tuple(flag for flag in FLAGS if not flag.startswith(("--js-flags", "--process-per")))
SENDS = """
import sys
from pathlib import Path
from demo.garage import main
main(sys.argv[2:], Path(sys.argv[1]))
"""
SILENT = """
import demo.garage
demo.garage.readings_at = lambda _at: ()
"""
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
def demonstration(folder: Path, speed: float, sends: bool = True) -> Iterator[Server]:
    """The invented garage at some speed (dimensionless), in processes of its own; sends: whether
    its sensors do."""
    port, mqtt = free_port(), free_port()
    words = ["--speed", f"{speed:g}", "--port", str(port), "--mqtt-port", str(mqtt)]
    script = SENDS if sends else SILENT + SENDS
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
    _, page = watched_afresh(browser, (1920, 1080))
    page.add_init_script(INSTRUMENTS.replace("SELECTOR", selector))
    try:
        yield page
    finally:
        page.context.close()


def shown_ms(page: Page) -> float:
    """From the start of this navigation to the paint with what was waited for. [ms]"""
    page.wait_for_function("() => window.__bench.shown > 0")
    return float(page.evaluate("() => window.__bench.shown"))


def cold_s(browser: Browser, address: str, selector: str, repeat: int) -> float:
    """From a fresh device's asking to what is waited for, the median of some. [s]"""
    values = []
    for _ in range(repeat):
        with opened(browser, selector) as page:
            page.goto(address)
            values.append(shown_ms(page) / 1000)
    return statistics.median(values)


CHANGED = """async () => {
  const what = () => WHAT, before = what(), begun = performance.now();
  document.querySelector("SELECTOR").click();
  while (what() === before) await new Promise(requestAnimationFrame);
  return (await window.__bench.painted()) - begun;
}"""


def changed_ms(page: Page, selector: str, what: str) -> float:
    """From a touch on what a selector finds to the paint in which `what`, an expression of the
    page's scripts, has another value. [ms]"""
    return float(page.evaluate(CHANGED.replace("WHAT", what).replace("SELECTOR", selector)))


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


def bytes_of(browser: Browser, address: str, selector: str) -> tuple[float, float]:
    """A first load until what is waited for stands, and the next. [kB]"""
    with opened(browser, selector) as page:
        wire = Wire(page)

        def load() -> None:
            page.goto(address, wait_until="load")
            shown_ms(page)
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
