"""The search for an order beside CP-SAT on drawn jobs, and its checker over many more.

CP-SAT is the referee only here and is not installed with the tests, for it and what it brings take
190 MB: .venv/bin/pip install ortools==9.15.6755
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from itertools import count, islice

import numpy as np

from curewatch.order.check import broken
from curewatch.order.job import Placed, Workload, cost
from curewatch.order.search import planned
from tests.support.drawn_jobs import drawn_job

CHECKED = 1000
JUDGED, STEPS, SECONDS = 55, (12, 34), 60.0
LARGE_PARTS, LARGE_DAYS, LARGE_S = 19, 42, 3.0
BEST_KNOWN = {
    29: 44335,
    33: 31952,
    53: 39513,
    59: 31676,
    75: 37652,
    107: 38513,
    115: 39735,
    126: 53830,
}
"""What the best plan costs that any search found for drawn jobs of 103 steps, wider ones and those
by another ranking among them; nobody proved that there is no less."""
WITHIN = ((0.8, 0.85), (3.0, 0.95))
MOST_OVER, LARGE_OVER = 0.05, 0.07


@dataclass(frozen=True)
class Planning:
    """A job's plan and what it took [s of processor]."""

    job: Workload
    plan: tuple[Placed, ...]
    cost_s: float

    @property
    def whole(self) -> bool:
        """Whether every step is in it."""
        return len(self.plan) == self.job.steps


def _planning(job: Workload) -> Planning:
    began = time.process_time()
    plan = planned(job)
    return Planning(job, plan, time.process_time() - began)


def _middling() -> Iterator[Workload]:
    """Jobs of three to five parts within a fortnight."""
    for seed in count():
        job = drawn_job(seed, 3 + seed % 3)
        if STEPS[0] <= job.steps <= STEPS[1]:
            yield job


def beside_the_referee(jobs: int) -> None:
    """Print how often the search reaches what CP-SAT proves that nothing beats."""
    from tests.bench.referee import judged

    proved, over, whole, steps = 0, [], 0, []
    for job in islice(_middling(), jobs):
        search = _planning(job)
        verdict = judged(job, SECONDS, search.plan if search.whole else ())
        steps.append(job.steps)
        whole += search.whole
        proved += verdict.proved
        if verdict.proved and verdict.cost is not None:
            assert not broken(job, verdict.plan), "the referee keeps the same rules"
            over.append((cost(job, search.plan) / verdict.cost - 1, search.cost_s))
        elif verdict.proved:
            assert not search.whole, "the referee says that there is no whole plan"
    print(f"\n{jobs} drawn jobs of {min(steps)} to {max(steps)} steps: {proved} proved by CP-SAT,")
    print(f"  {whole} with a plan of every step, {len(over)} with an optimum")
    for seconds, share in WITHIN:
        reached = sum(more <= 0 and cost_s <= seconds for more, cost_s in over)
        met = "met" if reached >= share * len(over) else "NOT MET"
        print(f"  {reached} at the optimum within {seconds:g} s of processor ({share:g}: {met})")
    worst, costs = max(more for more, _ in over), [cost_s for _, cost_s in over]
    met = "met" if worst <= MOST_OVER else "NOT MET"
    print(f"  at most {100 * worst:.1f} % over ({100 * MOST_OVER:g}: {met})")
    print(f"  {np.median(costs):.2f} s in the median, at most {max(costs):.2f}", flush=True)


def large() -> None:
    """Print how far the plans of large jobs are over the best that is known."""
    for seed, best in BEST_KNOWN.items():
        search = _planning(drawn_job(seed, LARGE_PARTS, LARGE_DAYS))
        assert not broken(search.job, search.plan), "the search keeps every rule"
        over = cost(search.job, search.plan) / best - 1
        met = "met" if over <= LARGE_OVER and search.cost_s <= LARGE_S else "NOT MET"
        print(f"\n{search.job.steps} steps of {LARGE_PARTS} parts: {search.cost_s:.2f} s,")
        print(
            f"  {100 * over:.1f} % over the best known ({100 * LARGE_OVER:g} %: {met})", flush=True
        )


def checked(jobs: int) -> None:
    """Print how many rules the plans of drawn jobs break, and how many steps they have."""
    faults, whole, steps, costs = 0, 0, [], []
    for seed in range(jobs):
        search = _planning(drawn_job(seed, 2 + seed % 4))
        faults += len(broken(search.job, search.plan))
        whole += search.whole
        steps.append(search.job.steps)
        costs.append(search.cost_s)
    print(f"\n{jobs} drawn jobs of {min(steps)} to {max(steps)} steps: {faults} broken rules")
    print(f"  {whole} with a plan of every step")
    print(f"  {np.median(costs):.2f} s of processor in the median, at most {max(costs):.2f}")


if __name__ == "__main__":
    checked(int(sys.argv[1]) if len(sys.argv) > 1 else CHECKED)
    if find_spec("ortools") is None:
        print("\nCP-SAT is not installed, so the search has no referee here")
    else:
        beside_the_referee(JUDGED)
    large()
