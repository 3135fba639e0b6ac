"""What a room's own heating evenings taught: how much warmer than foretold the panel got."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from curewatch.bench.bench import Bench
from curewatch.units import minutes
from curewatch.warmth.owned import Heater, Run, room_runs
from curewatch.warmth.room import HeatedEvening, RoomTerms, taught

LOOKED_BACK = timedelta(days=90)
AFTER = timedelta(hours=2)
EVERY_MIN = 15
MOST_EVENINGS = 10
LEAST = timedelta(minutes=30)


def _evening(
    bench: Bench, place: str, heater: Heater, run: Run, now: datetime, assumed_c: float
) -> HeatedEvening | None:
    """A told evening against the outlook as it was when the heater went on; None where the panel
    was not measured then."""
    end = min(run.end + AFTER, now)
    snapshot = bench.reader.snapshot(run.start, run.start)
    ahead = bench.reader.ahead(snapshot, place, assumed_c)
    readings = bench.reader.snapshot(run.start, end).readings
    conditions = bench.reader.at(readings, place, run.start, end, assumed_c)
    if conditions.source not in ("surface", "air") or ahead.method == "assumed":
        return None
    grid = np.arange(0.0, minutes(end - run.start) + 1e-9, EVERY_MIN)
    measured = np.interp(
        grid, np.arange(conditions.surface_c.size) * conditions.step_s / 60, conditions.surface_c
    )
    foretold = np.interp(grid, np.arange(ahead.likely_c.size) * ahead.step_s / 60, ahead.likely_c)
    hours = minutes(run.end - run.start) / 60
    return HeatedEvening(heater.watts / 1000, hours, grid / 60, measured - foretold)


def room_of(bench: Bench, place: str, now: datetime, assumed_c: float) -> RoomTerms:
    """The room's terms by the evenings of the last three months, at most ten.

    assumed_c: where nothing was measured [C].
    """
    runs = [
        (heater, run)
        for heater, run in room_runs(bench.store)
        if now - LOOKED_BACK <= run.start and run.end - run.start >= LEAST and run.end <= now
    ]
    latest = sorted(runs, key=lambda pair: pair[1].start)[-MOST_EVENINGS:]
    evenings = [_evening(bench, place, *pair, now, assumed_c) for pair in latest]
    return taught([evening for evening in evenings if evening is not None])
