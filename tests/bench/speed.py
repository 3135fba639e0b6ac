"""How fast the model is, beside the bare exponentials it needs and a general integrator."""

from __future__ import annotations

import statistics
import time
import tracemalloc
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
from scipy.integrate import solve_ivp

from curewatch.air import FloatArray
from curewatch.belief import EA_COUNT, Sighting, energies
from curewatch.chemistry import CHEMISTRIES, inverse_temperature
from curewatch.conditions import regular
from curewatch.course import Mix
from curewatch.milestone import Forecast, forecast
from curewatch.outlook import outlook
from curewatch.reading import Reading
from curewatch.sheet import parse_sheet

STEPS, PAST_MIN, AHEAD_SAMPLES, PATHS = 20, 2880, 864, 3
MOST_TIMES_EXPONENTIALS, LEAST_TIMES_LSODA, MOST_MB = 3.0, 50.0, 30.0
REPEATS, LSODA_CURVES = 7, 6
NOW = datetime(2026, 10, 17, 18, 0, tzinfo=UTC)
SHEET = """
name = "bench"
kind = "adhesive"
chemistry = "epoxy-amine"
[[times]]
temperature = "21 C"
working_time = "50 min"
clamp_time = "4 h"
sand_ready = "6 h"
recoat_opens = "6 h"
full_cure = "24 h"
"""


def panel_c(minutes: FloatArray) -> FloatArray:
    """A garage's panel. [C]; minutes [min]"""
    return 14.0 + 5.0 * np.sin(2 * np.pi * minutes / 1440)


def readings() -> list[Reading]:
    """Two weeks of hours, then two days of minutes."""
    hours = np.arange(-336.0 * 60, -PAST_MIN, 60.0)
    minutes = np.concatenate((hours, np.arange(-float(PAST_MIN), 1.0)))
    return [
        Reading("panel", "surface_temperature", float(c), NOW + timedelta(minutes=float(m)))
        for m, c in zip(minutes, panel_c(minutes), strict=True)
    ]


def best(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Median time of a piece of work. [s]"""
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def lsoda_curve(energy_kj: float) -> float:
    """One equivalent-age curve over past and outlook by scipy. [min]; energy_kj [kJ/mol]"""

    def speed(minute: float, _: FloatArray) -> FloatArray:
        inverse = inverse_temperature(panel_c(np.array([minute])), 21.0)
        return np.exp(-energy_kj * inverse)

    span = (0.0, PAST_MIN + 72.0 * 60)
    found = solve_ivp(speed, span, [0.0], method="LSODA", rtol=1e-6, atol=1e-6)
    return float(found.y[0, -1])


def main() -> None:
    """Print times, ratios and memory beside their targets."""
    sheet = parse_sheet(SHEET, "bench")
    held = readings()
    start = NOW - timedelta(minutes=PAST_MIN)
    looks = (Sighting(1, 60.0, "workable"), Sighting(2, 320.0, "stringy"))
    past = regular(held, start, NOW, assumed_c=21.0)
    ahead = outlook(held, NOW, assumed_c=21.0)

    def bench() -> list[Forecast]:
        fresh = outlook(held, NOW, assumed_c=21.0)
        return [forecast(sheet, Mix(start), past, fresh, looks) for _ in range(STEPS)]

    surfaces = np.concatenate((past.surface_c, ahead.likely_c[1:]))
    inverse = np.tile(inverse_temperature(surfaces, 21.0), (PATHS, 1))[:, None, :]
    grid = energies(CHEMISTRIES["epoxy-amine"])[None, :, None]

    def exponentials() -> None:
        for _ in range(STEPS):
            np.exp(-grid * inverse)

    bench()
    ours, bare = best(bench), best(exponentials)
    curves = [float(e) for e in energies(CHEMISTRIES["epoxy-amine"])[:: EA_COUNT // LSODA_CURVES]]
    one = best(lambda: [lsoda_curve(e) for e in curves], 1) / len(curves)
    lsoda = one * STEPS * PATHS * EA_COUNT
    series = best(lambda: regular(held, start, NOW, assumed_c=21.0))
    tracemalloc.start()
    bench()
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    print(f"\n{STEPS} steps of {PAST_MIN} minutes, two looks each, one outlook, all milestones")
    print(f"ours {1e3 * ours:.0f} ms; readings to an even series {1e3 * series:.1f} ms")
    for words, ratio, good in (
        (
            f"bare exponentials of the grid {1e3 * bare:.0f} ms: ours takes times",
            ours / bare,
            ours / bare <= MOST_TIMES_EXPONENTIALS,
        ),
        (
            f"the same curves by LSODA {lsoda:.1f} s: ours is faster by times",
            lsoda / ours,
            lsoda / ours >= LEAST_TIMES_LSODA,
        ),
        ("peak memory of the model, MB", peak, peak <= MOST_MB),
    ):
        print(f"{words} {ratio:.1f}  {'met' if good else 'not met'}")


if __name__ == "__main__":
    main()
