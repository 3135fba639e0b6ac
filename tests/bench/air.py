"""The air page beside the sensors page, which the server alone draws, and its ten years.

    ./tests/bench/run air           two minutes

Processor time of the server for each period of a logbook with ten years of five series; bytes on
the wire, layout shift and what is seen when, in a real browser. Exits 1 where a bound is missed.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

from flask.testing import FlaskClient
from playwright.sync_api import Browser
from werkzeug.test import TestResponse

from tests.bench.bench import NOW
from tests.bench.browser import (
    AS_IT_IS,
    COLD_RATIO,
    DRAWN_S,
    FIRST_KB,
    REPEAT_KB,
    SHIFT,
    PageRow,
    bytes_of,
    changed_ms,
    cold_s,
    opened,
    shown_ms,
)
from tests.bench.years import readings
from tests.support.dash_pages import arriving, send
from tests.support.pages import Garage, chromium, open_garage, served

PER_HOUR, YEARS, REPEAT = 1, 10, 5
SERVER_MS, PAINTED_MS = 100.0, 500.0
FIGURE = ".chart .js-plotly-plot .xtick text"
PLOT = ".chart .js-plotly-plot"
RANGE = f"JSON.stringify(document.querySelector('{PLOT}')?._fullLayout?.xaxis?.range)"


def filled(folder: Path) -> Garage:
    """A garage with ten years of readings up to now."""
    garage = open_garage(folder)
    garage.clock.at = NOW
    for batch in readings(5 * 8766 * YEARS * PER_HOUR, YEARS):
        garage.store.add_readings(batch)
    minutes = (n for n in range(24 * 60, 0, -2))
    for number in minutes:
        held = next(readings(5, 1 / 525_600, NOW - timedelta(minutes=number)))
        garage.store.add_readings(held)
    return garage


def busy_ms(garage: Garage, address: str, search: str | None = None) -> float:
    """Processor time of a page, or of the callback that draws it at an address; the median of
    some. [ms]"""
    client, taken = garage.app.test_client(), []
    for _ in range(REPEAT):
        begun = time.process_time()
        assert (client.get(address) if search is None else asked(client, search)).status_code == 200
        taken.append(1000 * (time.process_time() - begun))
    return statistics.median(taken)


def asked(client: FlaskClient, search: str) -> TestResponse:
    """What Dash asks for to draw the page."""
    return send(client, arriving("/air", search))


def periods(garage: Garage) -> Iterator[PageRow]:
    """The whole page for each period, and the plain one."""
    plain = busy_ms(garage, "/air/sensors")
    for name in ("24h", "7d", "30d", "year", "all"):
        first = busy_ms(garage, f"/air?span={name}")
        drawn = busy_ms(garage, "/air", f"?span={name}")
        yield PageRow(
            f"server's processor for the first page, {name}", first, plain, "ms", SERVER_MS
        )
        yield PageRow(f"the same for its figure, {name}", drawn, plain, "ms", SERVER_MS)


def shift(browser: Browser, address: str) -> float:
    """Sum of the layout shifts of a first load until the figure stands, and five seconds. [-]"""
    with opened(browser, "main") as page:
        page.goto(address)
        page.wait_for_timeout(5000)
        return float(page.evaluate("() => window.__bench.shift"))


def painted_ms(browser: Browser, address: str, name: str) -> float:
    """From a touch on a period of that name to its painted figure, the median of some. [ms]"""
    values = []
    with opened(browser, FIGURE) as page:
        page.goto(address)
        shown_ms(page)
        for _ in range(REPEAT):
            for period in ("24h", name):
                taken = changed_ms(page, f".spans a[href*='span={period}']", RANGE)
                page.wait_for_timeout(500)
            values.append(taken)
    return statistics.median(values)


def in_browser(browser: Browser, home: str) -> Iterator[PageRow]:
    """What a browser takes and shows of either page."""
    air, plain = f"{home}/air", f"{home}/air/sensors"
    first, again = bytes_of(browser, air, FIGURE)
    first_plain, again_plain = bytes_of(browser, plain, "main td")
    yield PageRow("first load on the wire", first, first_plain, "kB", FIRST_KB)
    yield PageRow("repeat load on the wire", again, again_plain, "kB", REPEAT_KB)
    value = cold_s(browser, air, ".figure b", REPEAT)
    bare = cold_s(browser, plain, "main td", REPEAT)
    drawn = cold_s(browser, air, FIGURE, REPEAT)
    yield PageRow("first value to be read, cold", value, bare, "s", COLD_RATIO * bare)
    yield PageRow("figure drawn, cold", drawn, bare, "s", DRAWN_S)
    for name in ("year", "all"):
        touched = painted_ms(browser, f"{air}?span=7d", name)
        yield PageRow(f"touch on its period to painted, {name}", touched, 0.0, "ms", PAINTED_MS)
    yield PageRow("layout shift", shift(browser, air), shift(browser, plain), "", SHIFT)


def main() -> None:
    """Print the table; exit 1 where a bound is missed."""
    met = True
    print("| what | air | sensors | bound | |\n|---|---|---|---|---|", flush=True)
    with tempfile.TemporaryDirectory() as folder, chromium(AS_IT_IS) as browser:
        garage = filled(Path(folder))
        with served(garage.app) as home:
            for row in (*periods(garage), *in_browser(browser, home)):
                print(row.line(), flush=True)
                met = met and row.met
        garage.store.close()
    sys.exit(0 if met else 1)


if __name__ == "__main__":
    main()
