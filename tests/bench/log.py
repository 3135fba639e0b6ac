"""The logbook's page with thousands of steps, beside bare SQL over the same file; and when a fresh
browser has painted it, and its next page after a touch, beside the guide's contents."""

from __future__ import annotations

import argparse
import random
import sqlite3
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from playwright.sync_api import Browser

from curewatch.bench.bench import Bench
from curewatch.events.events import Event
from curewatch.products.sheet import Sheet, generic_sheets
from curewatch.settings.settings import Settings
from curewatch.store.store import Store
from dashboard.app import make_app
from demo.weather import readings_at
from tests.bench.bench import compare
from tests.bench.browser import AS_IT_IS, PageRow, changed_ms, cold_s, opened, shown_ms
from tests.support.pages import chromium, served

STEPS, MOST_S, PAINTED_S = 10_000, 0.3, 1.0
DRAWN, NEXT = "#page tbody tr", "#page a[href*='page=2']"
FIRST_ROW = "document.querySelector('#page tbody tr')?.textContent"
START = datetime(2016, 10, 17, 16, 42, tzinfo=UTC)
APART = timedelta(hours=8)
PARTS = (
    "skin",
    "roof seam",
    "left rear rib",
    "门板",
    "крыло",
    "lower corner patch",
    "Türschweller",
)
WORDS = ("thin", "sagged", "squeeze-out", "wiped", "heated", "coat", "grün", "rain")
PAGES = {
    "the newest": "/logbook",
    "far back": "/logbook?page=240",
    "by part": "/logbook?sort=part",
    "a word": "/logbook?find=sag",
    "two words of a note": "/logbook?find=squee+wip",
    "a common word": "/logbook?find=batch",
    "one job": "/logbook?job=job+7",
    "a product in a month": "/logbook?product=epoxy-primer&from=2018-03-01&to=2018-03-31",
}
_PLAIN = """SELECT event.body FROM step JOIN event ON event.step = step.id
    WHERE step.id IN (SELECT id FROM step ORDER BY id DESC LIMIT 40)"""


def story(number: int, chance: random.Random, sheets: Sequence[Sheet]) -> list[Event]:
    """The events of one step, told as they happened."""
    sheet = chance.choice(sheets)
    mixed = START + number * APART
    told: list[tuple[str, int, dict[str, Any]]] = [
        ("started", 0, {
            "sheet_id": sheet.id, "sheet_text": sheet.text, "part": chance.choice(PARTS),
            "job": f"job {number // 40}", "batch": f"batch A-{number % 300}", "amount_g": 60.0,
        }),
        ("witnessed", 40, {"state": "tacky", "sample": "smear"}),
        ("noted", 60, {"text": " ".join(chance.sample(WORDS, 3))}),
        ("amended", 90, {"who": "me", "grit": "P80"}),
        ("finished", 300, {}),
    ]  # fmt: skip
    return [
        Event(0, number, kind, at := mixed + timedelta(minutes=after), at, body)
        for kind, after, body in told
    ]


def filled(folder: Path, steps: int) -> Store:
    """A logbook of so many steps, with the readings of its last month."""
    store, chance = Store(folder / "log.sqlite"), random.Random(7)
    sheets = list(generic_sheets().values())
    for first in range(0, steps, 5000):
        store.merge(
            [story(n, chance, sheets) for n in range(first, min(steps, first + 5000))], [], {}
        )
    end = START + steps * APART
    for day in range(30, 0, -1):
        marks = [end - timedelta(days=day, minutes=-10 * count) for count in range(144)]
        store.add_readings([reading for at in marks for reading in readings_at(at)])
    return store


def pages_of(store: Store, steps: int) -> Flask:
    """Its pages, a day after the last step."""
    now = START + (steps + 3) * APART
    return make_app(Bench(store), store, lambda: now, Settings(zone="Europe/Berlin"))


def painted(browser: Browser, home: str, repeat: int) -> Iterator[PageRow]:
    """What a browser shows of it, and when."""
    log, bare = f"{home}/logbook", cold_s(browser, f"{home}/guide", "main li a", repeat)
    for what, selector in (("read from the server's page", "main tbody tr"), ("drawn", DRAWN)):
        taken = cold_s(browser, log, selector, repeat)
        yield PageRow(f"newest steps {what}, a fresh device", taken, bare, "s", PAINTED_S)
    with opened(browser, DRAWN) as page:
        page.goto(log)
        shown_ms(page)
        taken = changed_ms(page, NEXT, FIRST_ROW) / 1000
        yield PageRow("touch on the next page to painted", taken, 0.0, "s", PAINTED_S)


def asked(reader: FlaskClient, address: str) -> Callable[[int], object]:
    """Asking for a page, which must answer."""

    def ask(_: int) -> object:
        answer = reader.get(address)
        assert answer.status_code == 200
        return answer

    return ask


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="./tests/bench/run log", description=__doc__)
    parser.add_argument("--steps", type=int, default=STEPS, help="how many (10,000)")
    parser.add_argument("--repeat", type=int, default=9, help="runs of each (9)")
    arguments = parser.parse_args()
    print("| page | curewatch | baseline | | times | under 300 ms |\n|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as name:
        store = filled(Path(name), arguments.steps)
        app = pages_of(store, arguments.steps)
        reader = app.test_client()
        with closing(sqlite3.connect(store.path)) as bare:
            for what, address in PAGES.items():
                result = compare(
                    what,
                    asked(reader, address),
                    "40 steps by SQL",
                    lambda _: bare.execute(_PLAIN).fetchall(),
                    arguments.repeat,
                )
                kept = "yes" if result.ours_s < MOST_S else "NO"
                print(f"{result.row()} {kept} |", flush=True)
        print("\n| what | log | guide | bound | |\n|---|---|---|---|---|", flush=True)
        with served(app) as home, chromium(AS_IT_IS) as browser:
            for row in painted(browser, home, arguments.repeat):
                print(row.line(), flush=True)
        store.close()


if __name__ == "__main__":
    main()
