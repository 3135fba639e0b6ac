"""A week's plan made by hand, to be said, kept and read."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from curewatch.errors import StepError
from curewatch.ways.answer import Hold
from curewatch.week.plan import LeftOut, PlannedPart, PlannedStep, WeekPlan
from tests.support.logbooks import BERLIN, NOW

BY = NOW + timedelta(days=3)
PART = PlannedPart(
    "wing, left", "car", "primed", BY, BY - timedelta(days=1), BY, 0.999, Hold("hands", "", 3.0)
)


def at(hours: float) -> datetime:
    """Some hours from now."""
    return NOW + timedelta(hours=hours)


def step(number: int, start_h: float, **how: object) -> PlannedStep:
    """A step of an hour."""
    start, end, latest = (at(start_h + more) for more in (0, 1, 2))
    plain = PlannedStep(
        part="wing, left",
        job="car",
        does="sand; shape\\it",
        kind="",
        product="",
        start=start,
        end=end,
        latest=latest,
        ready=None,
        waits_for="",
        again="",
        loud=True,
        clamps=0,
        number=number,
    )
    return replace(plain, **how)  # type: ignore[arg-type]


def week(*steps: PlannedStep, part: PlannedPart = PART) -> WeekPlan:
    """A plan of some steps."""
    out = LeftOut("sill", "", StepError("sill is structural", fix="follow the maker"))
    return WeekPlan(NOW, BERLIN, (), steps, (part,), (out,))


def week_shown() -> WeekPlan:
    """A plan of three steps, the last beyond the forecast."""
    primes = step(3, 26.0, does="prime", product="Epoxy primer (generic)", again="scuff")
    return week(step(2, 1.0), primes, step(4, 24 * 9.0))
