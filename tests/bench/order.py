"""The search for an order beside CP-SAT on drawn jobs, and its checker over many more.

CP-SAT is the referee only here and is not installed with the tests, for it and what it brings take
190 MB: .venv/bin/pip install ortools==9.15.6755
"""

from __future__ import annotations

import sys
import time
from importlib.util import find_spec

import numpy as np

from curewatch.order.anew import planned
from curewatch.order.check import broken
from curewatch.order.job import Workload, cost
from tests.support.drawn_jobs import drawn_job

JOBS, CHECKED, SECONDS = 12, 200, 60.0
DAYS = 7


def beside_the_referee(lines: int, jobs: int) -> None:
    """Print how often the search reaches what CP-SAT proves that nothing beats."""
    from tests.bench.referee import judged

    proved, reached, worst, costs = 0, 0, 0.0, []
    for seed in range(jobs):
        job = drawn_job(seed, lines, DAYS)
        began = time.process_time()
        plan = planned(job)
        costs.append(time.process_time() - began)
        if len(plan) < job.steps:
            continue
        verdict = judged(job, SECONDS, plan)
        if verdict.proved and verdict.cost is not None:
            assert not broken(job, verdict.plan), "the referee keeps the same rules"
            proved += 1
            reached += cost(job, plan) == verdict.cost
            worst = max(worst, cost(job, plan) / verdict.cost - 1)
    print(f"\n{jobs} drawn jobs of {lines} parts: {proved} proved by CP-SAT in {SECONDS:g} s each")
    print(f"  the search reaches {reached} of them; at most {100 * worst:.1f} % over")
    print(f"  the search: {np.median(costs):.2f} s of processor in the median")


def checked(jobs: int) -> None:
    """Print how many rules the plans of drawn jobs break, and how many steps they have."""
    faults, steps, costs = 0, [], []
    for seed in range(jobs):
        job: Workload = drawn_job(seed, 2 + seed % 4)
        began = time.process_time()
        plan = planned(job)
        costs.append(time.process_time() - began)
        faults += len(broken(job, plan))
        steps.append(job.steps)
    print(f"\n{jobs} drawn jobs of {min(steps)} to {max(steps)} steps: {faults} broken rules")
    print(f"  {np.median(costs):.2f} s of processor in the median, at most {max(costs):.2f}")


if __name__ == "__main__":
    checked(int(sys.argv[1]) if len(sys.argv) > 1 else CHECKED)
    if find_spec("ortools") is None:
        print("\nCP-SAT is not installed, so the search has no referee here")
    else:
        for many in (2, 3):
            beside_the_referee(many, JOBS)
