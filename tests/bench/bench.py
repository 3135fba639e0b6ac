"""Benchmarks, each beside a baseline in the same run; the ratio is what to watch."""

from __future__ import annotations

import argparse
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from unittest import mock

import numpy as np

from curewatch.bench.bench import Bench, Details
from curewatch.bench.reader import BenchReader
from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import Reading
from curewatch.cure.equivalent_age import speeds
from curewatch.products.sheet import generic_sheets
from curewatch.store.store import Store
from curewatch.walltime import to_ms
from demo.weather import readings_at

NOW = datetime(2026, 10, 17, 16, 42, tzinfo=UTC)
STEPS, READINGS, BATCH = 20, 10_000, 100


@dataclass(frozen=True)
class Result:
    """One benchmark: ours and the baseline, in seconds [s], each the median of its runs."""

    what: str
    ours_s: float
    baseline: str
    baseline_s: float

    def row(self) -> str:
        """A line of the table."""
        ratio = self.ours_s / self.baseline_s
        ours, bare = 1000 * self.ours_s, 1000 * self.baseline_s
        return f"| {self.what} | {ours:.1f} ms | {self.baseline} | {bare:.1f} ms | {ratio:.1f} |"


def timed(work: Callable[[], object]) -> float:
    """How long a piece of work takes. [s]"""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def compare(
    what: str,
    ours: Callable[[int], object],
    baseline_name: str,
    baseline: Callable[[int], object],
    repeat: int,
) -> Result:
    """Run both in turn, so that both see the same machine; each gets the number of its run."""
    pairs = [
        (timed(lambda: ours(n)), timed(lambda: baseline(n)))  # noqa: B023
        for n in range(repeat)
    ]
    first, second = zip(*pairs, strict=True)
    return Result(what, statistics.median(first), baseline_name, statistics.median(second))


def week(until: datetime) -> list[Reading]:
    """A week of the invented garage, every five minutes."""
    return [
        reading
        for back in range(7 * 288, 0, -1)
        for reading in readings_at(until - back * timedelta(minutes=5))
    ]


def full_bench(folder: Path) -> Store:
    """A store with a week of readings and twenty steps hardening, each looked at once."""
    store = Store(folder / "bench.sqlite")
    store.add_readings(week(NOW))
    bench = Bench(store)
    sheets = sorted(generic_sheets())
    for number in range(STEPS):
        mixed = NOW - timedelta(minutes=9 + 17 * number)
        details = Details(part=f"part {number}", amount_g=40.0)
        step = bench.start(sheets[number % len(sheets)], now=mixed, details=details)
        bench.witness(step, "workable", now=mixed + timedelta(minutes=2))
    return store


def grids(work: Callable[[], object]) -> list[tuple[FloatArray, FloatArray]]:
    """The inverse temperatures [mol/kJ] and energies [kJ/mol] that a piece of work asks for."""
    asked = []

    def noted(inverse: FloatArray, ea_kj: FloatArray, gate: FloatArray) -> FloatArray:
        asked.append((inverse, ea_kj))
        return speeds(inverse, ea_kj, gate)

    with mock.patch("curewatch.cure.equivalent_age.speeds", noted):
        work()
    return asked


def bare(asked: Sequence[tuple[FloatArray, FloatArray]]) -> None:
    """The same exponentials by numpy, and nothing else."""
    for inverse, ea_kj in asked:
        np.exp(-ea_kj[None, :, None] * inverse[:, None, :])


def recomputed(folder: Path, repeat: int) -> Result:
    """A bench of twenty steps, worked out with nothing remembered."""
    store = full_bench(folder)
    asked = grids(lambda: BenchReader(store).view(NOW))
    return compare(
        f"bench of {STEPS} steps recomputed",
        lambda _: BenchReader(store).view(NOW),
        "the same exponentials, bare numpy",
        lambda _: bare(asked),
        repeat,
    )


def batches(count: int) -> list[list[Reading]]:
    """`count` readings as a lively garage sends them, in batches."""
    start = NOW - timedelta(days=2)
    rows = [
        reading
        for second in range(count // 5)
        for reading in readings_at(start + timedelta(seconds=second))
    ]
    return [rows[first : first + BATCH] for first in range(0, len(rows), BATCH)]


def plain_table(path: Path) -> sqlite3.Connection:
    """A bare table of the same shape, as careful of the disk as the store."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute(
        "CREATE TABLE reading (series INTEGER, at_ms INTEGER, value REAL, doubt TEXT, "
        "PRIMARY KEY (series, at_ms)) WITHOUT ROWID"
    )
    return connection


def store_plain(path: Path, rows: Sequence[Sequence[tuple[int, int, float, None]]]) -> None:
    """The same rows by executemany, a transaction for each batch."""
    connection = plain_table(path)
    for batch in rows:
        connection.execute("BEGIN IMMEDIATE")
        connection.executemany("INSERT OR IGNORE INTO reading VALUES (?, ?, ?, ?)", batch)
        connection.execute("COMMIT")
    connection.close()


def store_ours(path: Path, held: Sequence[Sequence[Reading]]) -> None:
    """The readings through the store, a batch at a time."""
    store = Store(path)
    for batch in held:
        store.add_readings(batch)
    store.close()


def stored(folder: Path, repeat: int) -> Result:
    """Ten thousand readings, on disk when each batch returns."""
    held = batches(READINGS)
    series = {reading.place + reading.quantity: index for index, reading in enumerate(held[0][:5])}
    rows = [
        [
            (series[reading.place + reading.quantity], to_ms(reading.at), reading.value, None)
            for reading in batch
        ]
        for batch in held
    ]
    return compare(
        f"{READINGS:,} readings stored, {BATCH} a transaction",
        lambda n: store_ours(folder / f"ours-{n}.sqlite", held),
        "sqlite3 executemany, WAL, synchronous FULL",
        lambda n: store_plain(folder / f"plain-{n}.sqlite", rows),
        repeat,
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="./tests/bench/run", description=__doc__)
    parser.add_argument("--repeat", type=int, default=7, help="runs of each (7)")
    repeat = max(1, parser.parse_args().repeat)
    print("| what | curewatch | baseline | baseline's | ratio |\n|---|---|---|---|---|")
    for benchmark in (recomputed, stored):
        with tempfile.TemporaryDirectory() as folder:
            print(benchmark(Path(folder), repeat).row(), flush=True)


if __name__ == "__main__":
    main()
