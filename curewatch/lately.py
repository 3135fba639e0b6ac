"""Steps taken off the bench a while ago whose solvent may still hang in the room."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import lru_cache

from curewatch import logbook
from curewatch.bench import Bench
from curewatch.heated import leaving
from curewatch.views import StepView

WITHIN = timedelta(hours=24)
MOST = 8


@lru_cache(maxsize=64)
def _view(bench: Bench, number: int, last_event: int, closed_at: datetime) -> StepView:
    """A closed step as it was when it was closed: it changes no more until an event is added."""
    return bench.step_view(number, closed_at)


def closed_lately(bench: Bench, now: datetime) -> list[StepView]:
    """The steps with solvent that were closed in the last day."""
    return [
        _view(bench, step.id, step.last_event, step.closed_at)
        for step in logbook.steps(bench, most=MOST)
        if step.closed_at is not None
        and now - step.closed_at <= WITHIN
        and leaving(step.sheet) is not None
    ]
