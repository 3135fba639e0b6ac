"""Ten years in the file: what a year's drawing, the bench and each reading cost then.

Times are those of the processor, so that other programs do not count.
"""

from __future__ import annotations

import argparse
import shutil
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

import numpy as np

from curewatch.bench.bench import Bench, Details
from curewatch.bench.reader import BenchReader
from curewatch.climate.reading import Reading
from curewatch.files.backup import copy_to
from curewatch.products.sheet import generic_sheets
from curewatch.store.store import Store
from curewatch.units import minutes
from tests.bench.bench import NOW, timed

YEAR, DAY = timedelta(days=365), timedelta(days=1)
BATCH = 1000
PRODUCT, OLD_STEPS, LOOK = "epoxy-primer", 1000, timedelta(seconds=20)
PLACES = (
    ("panel", "surface_temperature", 12.0),
    ("air", "air_temperature", 13.0),
    ("air", "relative_humidity", 65.0),
    ("outdoors", "air_temperature", 9.0),
    ("shelf", "air_temperature", 16.0),
)
MOST_MS, MOST_RATIO, MOST_BYTES = 50.0, 1.2, 40.0


def readings(count: int, years: float, until: datetime = NOW) -> Iterator[list[Reading]]:
    """`count` readings of five sensors over the years before `until`, in batches as they come."""
    ticks = count // len(PLACES)
    every = years * YEAR / ticks
    noise = np.random.default_rng(4).normal(0, 1, ticks).round(2)
    batch: list[Reading] = []
    for tick in range(ticks):
        at = until - (ticks - tick) * every
        wave = 8 * np.sin(2 * np.pi * minutes(at - NOW) / 525_600)
        for place, quantity, mean in PLACES:
            value = round(mean + float(wave) + float(noise[tick]), 2)
            batch.append(Reading(place, quantity, value, at, f"probe-{place}"))  # type: ignore[arg-type]
        if len(batch) >= BATCH:
            yield batch
            batch = []
    yield batch


def filled(path: Path, count: int, years: float) -> Store:
    """A store with so many readings and twenty steps hardening, each looked at once."""
    store = Store(path)
    for batch in readings(count, years):
        store.add_readings(batch)
    bench = Bench(store)
    for number in range(20):
        mixed = NOW - timedelta(minutes=9 + 17 * number)
        step = bench.start(PRODUCT, now=mixed, details=Details(part=f"part {number}"))
        bench.witness(step, "workable", now=mixed + timedelta(minutes=2))
    return store


def line(what: str, ours: str, baseline: str, limit: str, kept: bool) -> None:
    """A row of the table."""
    print(f"| {what} | {ours} | {baseline} | {limit} | {'yes' if kept else 'NO'} |", flush=True)


def busy(work: Callable[[int], object], run: int) -> float:
    """How long the processor is busy with a run, whatever else the machine does. [ms]"""
    start = time.process_time()
    work(run)
    return 1000 * (time.process_time() - start)


def beside(
    first: Callable[[int], object], second: Callable[[int], object], repeat: int
) -> tuple[float, float]:
    """The medians of both, run in turn. [ms]"""
    pairs = [(busy(first, run), busy(second, run)) for run in range(repeat)]
    ours, theirs = zip(*pairs, strict=True)
    return statistics.median(ours), statistics.median(theirs)


def drawn(store: Store, repeat: int) -> None:
    """What a year costs: every place in some 500 points, one place in every hour."""
    for what, hours, place in (
        (f"a year of {len(PLACES)} series, 18 h a point", 18, None),
        ("a year of the panel, 1 h a point", 1, "panel"),
    ):
        ours, rows = beside(
            lambda _: store.measured_spans(NOW - YEAR, NOW, hours=hours, place=place),  # noqa: B023
            lambda _: store.readings(NOW - YEAR, NOW, bucket_s=hours * 3600 + 1),  # noqa: B023
            repeat,
        )
        line(what, f"{ours:.1f} ms", f"all from rows {rows:.0f} ms", "50 ms", ours < MOST_MS)


def alike(what: str, ours: float, day: float) -> None:
    """A row for what may cost no more than with a day in the file; both in [ms]."""
    ratio = ours / day
    baseline = f"a day's file {day:.2f} ms: {ratio:.2f}"
    line(what, f"{ours:.2f} ms", baseline, f"ratio {MOST_RATIO}", ratio <= MOST_RATIO)


def same_cost(long: Store, short: Store, repeat: int) -> None:
    """The bench, the latest readings and a batch stored, beside a file of one day."""
    for what, work in WORKS.items():
        for store in (long, short):
            work(store, -1)
        alike(what, *beside(partial(work, long), partial(work, short), repeat))


def old_steps(store: Store) -> None:
    """A thousand finished steps of the product on the bench, over the years before."""
    text = generic_sheets()[PRODUCT].text
    for number in range(OLD_STEPS):
        mixed = NOW - 10 * YEAR + number * 10 * YEAR / (OLD_STEPS + 1)
        after = mixed + timedelta(hours=1)
        texts = {"sheet_id": PRODUCT, "sheet_text": text}
        step = store.add_step(PRODUCT, mixed, mixed, texts)
        store.add_event(step, "witnessed", after, after, {"state": "tacky", "sample": "smear"})
        store.add_event(step, "finished", after, after, {})


def running(long: Store, short: Store, repeat: int) -> None:
    """The bench that has been up for a while, with a thousand steps in the log, beside a day's."""
    old_steps(long)
    desks = BenchReader(long), BenchReader(short)
    for reader in desks:
        reader.view(NOW)
    ours, day = beside(
        lambda n: desks[0].view(NOW + (n + 1) * LOOK),
        lambda n: desks[1].view(NOW + (n + 1) * LOOK),
        2 * repeat,
    )
    alike(f"the same, running, {OLD_STEPS} old steps", ours, day)


def new_batch(store: Store, run: int) -> int:
    """A thousand readings that follow those held; how many were new."""
    return store.add_readings(next(readings(1000, 0.0001, NOW + timedelta(hours=run + 2))))


WORKS: dict[str, Callable[[Store, int], object]] = {
    "bench of 20 steps": lambda store, _: BenchReader(store).view(NOW),
    "the latest of each series": lambda store, _: store.latest(),
    "the last day by minutes": lambda store, _: store.readings(NOW - DAY, NOW, bucket_s=60),
    "1,000 new readings stored": new_batch,
}


def main() -> None:
    """Fill the two files and print the table."""
    parser = argparse.ArgumentParser(prog="./tests/bench/run years", description=__doc__)
    parser.add_argument("--readings", type=int, default=10_000_000, help="how many (10,000,000)")
    parser.add_argument("--repeat", type=int, default=9, help="runs of each (9)")
    arguments = parser.parse_args()
    day = max(1000, arguments.readings // 3650)
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "years.sqlite"
        with (
            closing(filled(path, arguments.readings, 10)) as long,
            closing(filled(Path(name) / "day.sqlite", day, 1 / 365)) as short,
        ):
            print(f"{arguments.readings:,} readings in ten years beside {day:,} in a day")
            print("| what | curewatch | baseline | at most | kept |\n|---|---|---|---|---|")
            with closing(sqlite3.connect(path)) as other:
                other.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            size = path.stat().st_size / arguments.readings
            line(
                "bytes a reading", f"{size:.1f}", "8 + 8 in a bare array", "40", size <= MOST_BYTES
            )
            drawn(long, arguments.repeat)
            same_cost(long, short, arguments.repeat)
            running(long, short, arguments.repeat)
            took = timed(lambda: copy_to(path, Path(name) / "copy.sqlite"))
            plain = timed(lambda: shutil.copyfile(path, Path(name) / "plain.sqlite"))
            line(
                "a checked copy while in use",
                f"{took:.1f} s",
                f"file copy {plain:.1f} s",
                "-",
                True,
            )


if __name__ == "__main__":
    main()
