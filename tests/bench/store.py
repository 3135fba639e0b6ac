"""Readings stored beside plain sqlite3 executemany as careful of the disk, in the same run."""

from __future__ import annotations

import argparse
import random
import tempfile
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

from curewatch.climate.reading import Reading
from curewatch.quality.intake import Intake
from curewatch.store.store import Store
from curewatch.walltime import to_ms
from sensors.mqtt.writer import BATCH
from tests.bench.bench import batches, compare, plain_table

SIZES = (100, 200, 1000)
LEAST = 0.60
PLAIN = "INSERT OR IGNORE INTO reading VALUES (?, ?, ?, ?)"
Batches = list[list[Reading]]
Rows = list[tuple[int, int, float, None]]


def arrivals(size: int, count: int, repeat: int, any_order: bool) -> list[Batches]:
    """For each run, `count` new readings in batches; also in any order, as after an outage."""
    flat = [reading for batch in batches(count * repeat) for reading in batch]
    if any_order:
        random.Random(3).shuffle(flat)
    runs = [flat[first : first + count] for first in range(0, len(flat), count)]
    return [[run[first : first + size] for first in range(0, count, size)] for run in runs]


def as_rows(runs: Sequence[Batches]) -> list[list[Rows]]:
    """The same readings as numbers."""
    ids: dict[tuple[str, str], int] = {}
    return [
        [
            [
                (ids.setdefault((r.place, r.quantity), len(ids)), to_ms(r.at), r.value, None)
                for r in batch
            ]
            for batch in run
        ]
        for run in runs
    ]


def measure(
    folder: Path, size: int, count: int, repeat: int, any_order: bool, judged: bool = False
) -> str:
    """A row of the table; `judged`: through the door that every reading takes."""
    runs = arrivals(size, count, repeat, any_order)
    rows = as_rows(runs)
    with closing(Store(folder / "ours")) as store, closing(plain_table(folder / "plain")) as bare:

        def plain(run: int) -> None:
            for batch in rows[run]:
                bare.execute("BEGIN IMMEDIATE")
                bare.executemany(PLAIN, batch)
                bare.execute("COMMIT")

        keep = Intake(store).take if judged else store.add_readings
        result = compare(
            "stored",
            lambda run: [keep(batch) for batch in runs[run]],
            "executemany",
            plain,
            repeat,
        )
    share = result.baseline_s / result.ours_s
    rates = f"{count / result.ours_s:,.0f}/s | {count / result.baseline_s:,.0f}/s"
    order = "any order" if any_order else "in order"
    order += ", judged" if judged else ""
    kept = "yes" if share >= LEAST else "NO"
    return f"| {size} a transaction, {order} | {rates} | {share:.0%} | {kept} |"


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="./tests/bench/run store", description=__doc__)
    parser.add_argument("--readings", type=int, default=5000, help="how many a run (5,000)")
    parser.add_argument("--repeat", type=int, default=25, help="runs of each (25)")
    arguments = parser.parse_args()
    print("| readings | curewatch | executemany | share | at least 60 % |\n|---|---|---|---|---|")
    rows = [(size, any_order, False) for size in SIZES for any_order in (False, True)]
    for size, any_order, judged in [*rows, (BATCH, False, True)]:
        with tempfile.TemporaryDirectory() as folder:
            row = measure(
                Path(folder), size, arguments.readings, arguments.repeat, any_order, judged
            )
            print(row, flush=True)


if __name__ == "__main__":
    main()
