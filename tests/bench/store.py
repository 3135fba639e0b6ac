"""Readings stored beside plain sqlite3 executemany as careful of the disk, in the same run."""

from __future__ import annotations

import argparse
import random
import tempfile
from pathlib import Path

from curewatch.reading import Reading
from curewatch.store import to_ms
from tests.bench.bench import batches, compare, store_ours, store_plain

BATCHES = (100, 200, 1000)
LEAST = 0.60
Plain = list[list[tuple[int, int, float, None]]]


def plain(held: list[list[Reading]]) -> Plain:
    """The same readings as rows of numbers."""
    series: dict[tuple[str, str], int] = {}
    return [
        [
            (series.setdefault((r.place, r.quantity), len(series)), to_ms(r.at), r.value, None)
            for r in batch
        ]
        for batch in held
    ]


def arrivals(count: int, size: int) -> dict[str, list[list[Reading]]]:
    """`count` readings in batches of a size: as measured, and after a day without network."""
    flat = [each for batch in batches(count) for each in batch]
    mixed = random.Random(3).sample(flat, len(flat))
    return {
        order: [rows[first : first + size] for first in range(0, count, size)]
        for order, rows in (("in order", flat), ("in any order", mixed))
    }


def measure(folder: Path, size: int, count: int, repeat: int) -> None:
    """A row for each order of arrival."""
    for order, held in arrivals(count, size).items():
        rows = plain(held)
        name = f"{size}-{order}".replace(" ", "-")
        found = compare(
            name,
            lambda n: store_ours(folder / f"{name}-ours-{n}", held),  # noqa: B023
            "executemany",
            lambda n: store_plain(folder / f"{name}-plain-{n}", rows),  # noqa: B023
            repeat,
        )
        share = found.baseline_s / found.ours_s
        rates = f"{count / found.ours_s:,.0f}/s | {count / found.baseline_s:,.0f}/s"
        kept = "yes" if share >= LEAST else "NO"
        print(f"| {size} a transaction, {order} | {rates} | {share:.0%} | {kept} |", flush=True)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="./tests/bench/run store", description=__doc__)
    parser.add_argument("--readings", type=int, default=20_000, help="how many a run (20,000)")
    parser.add_argument("--repeat", type=int, default=9, help="runs of each (9)")
    told = parser.parse_args()
    print("| readings | curewatch | executemany | share | at least 60 % |\n|---|---|---|---|---|")
    for size in BATCHES:
        with tempfile.TemporaryDirectory() as folder:
            measure(Path(folder), size, told.readings, told.repeat)


if __name__ == "__main__":
    main()
