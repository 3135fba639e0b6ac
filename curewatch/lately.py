"""Steps taken off the bench a while ago whose solvent may still hang in the room."""

from __future__ import annotations

from datetime import datetime, timedelta

from curewatch import logbook
from curewatch.bench import Bench
from curewatch.heated import leaving
from curewatch.views import StepView

WITHIN = timedelta(hours=24)
MOST = 8


def closed_lately(bench: Bench, now: datetime) -> list[StepView]:
    """The steps with solvent that were closed in the last day."""
    return [
        bench.desk.step_view(step, step.closed_at)
        for step in logbook.steps(bench.store, most=MOST)
        if step.closed_at is not None
        and now - step.closed_at <= WITHIN
        and leaving(step.sheet) is not None
    ]
