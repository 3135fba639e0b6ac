"""What is told of a step beside its mix: coats, clamps, film."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Any

from curewatch.bench import Bench, check_time
from curewatch.errors import StepError
from curewatch.quantities import format_film

MARKS = {"coat": "coated", "clamps-on": "clamped", "clamps-off": "unclamped"}
MOST_UM = 100_000


def check_film(film_um: float | None) -> None:
    """A measured film. [um] Raises StepError."""
    if film_um is not None and not (math.isfinite(film_um) and 0 < film_um <= MOST_UM):
        raise StepError(f"a film of {format_film(film_um)} cannot be", fix="write it like '120 um'")


def mark(
    bench: Bench,
    number: int,
    what: str,
    *,
    now: datetime,
    at: datetime | None = None,
    film_wet_um: float | None = None,
) -> int:
    """Record a coat, or that the clamps went on or off, with its time; returns the event's number.

    film_wet_um: as measured on this coat [um].
    """
    step = bench.mixed(number)
    if what not in MARKS:
        raise StepError(f"{what[:40]!r} is nothing to mark", fix=f"use {', '.join(MARKS)}")
    check_film(film_wet_um)
    then = check_time(at or now, now, "it")
    if then < step.mixed_at:
        raise StepError("that lies before the mixing", fix="check how long ago it was")
    body: dict[str, Any] = {} if film_wet_um is None else {"film_wet_um": film_wet_um}
    if what == "coat":
        body["coat"] = len(step.of("coated")) + 1
    return bench.store.add_event(number, MARKS[what], then, now, body)
