"""What a plan of thirty steps over a fortnight takes, from the logbook to its chances."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from curewatch.bench.bench import Bench
from curewatch.order.search import planned
from curewatch.week import kept
from curewatch.week.gather import wanted, week_plan
from curewatch.week.lived import done_by_week
from tests.support.logbooks import BERLIN, NOW
from tests.support.wishes import wished

WAYS = ("bond-a-patch", "fill-a-dent", "fill-a-dent", "bond-a-patch", "fill-a-dent")
ROUNDS, LATER = 5, timedelta(minutes=20)
WHOLE_S, ANEW_S, MEMORY_MB = 1.0, 0.1, 40.0


def _least_s(work: Callable[[], object]) -> float:
    """What it takes of the processor, the least of some rounds. [s]"""
    costs = []
    for _ in range(ROUNDS):
        began = time.process_time()
        work()
        costs.append(time.process_time() - began)
    return min(costs)


def _peak_mb(work: Callable[[], object]) -> float:
    tracemalloc.start()
    work()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def _line(what: str, measured: float, bound: float | None = None, unit: str = "s") -> None:
    met = "" if bound is None else f"  ({bound:g}: {'met' if measured <= bound else 'NOT MET'})"
    print(f"  {what}: {measured:.2f} {unit}{met}", flush=True)


def report(bench: Bench) -> None:
    """Print it, whole and by its pieces."""
    laid = wanted(bench, NOW, BERLIN).laid()
    plan = planned(laid.job)
    print(f"{laid.job.steps} steps over {laid.job.count} samples:")
    _line(
        "readings, outlook, draws and tables", _least_s(lambda: wanted(bench, NOW, BERLIN).laid())
    )
    _line("the search", _least_s(lambda: planned(laid.job)))
    _line("lived through the drawn weeks", _least_s(lambda: done_by_week(laid, plan)))
    _line("the whole plan", _least_s(lambda: week_plan(bench, NOW, BERLIN)), WHOLE_S)
    _line("memory at its peak", _peak_mb(lambda: week_plan(bench, NOW, BERLIN)), MEMORY_MB, "MB")
    kept.keep(bench.store, week_plan(bench, NOW, BERLIN))
    _line("anew 20 min later", _least_s(lambda: week_plan(bench, NOW + LATER, BERLIN)), ANEW_S)


if __name__ == "__main__":
    with TemporaryDirectory() as folder:
        wishes = {
            f"part {number}": (way, NOW + timedelta(days=4 + number) if number % 2 else None)
            for number, way in enumerate(WAYS)
        }
        report(wished(Path(folder), wishes))
