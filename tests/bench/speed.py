"""How fast the model is, beside the bare exponentials it needs and a general integrator."""

from __future__ import annotations

import math
import time
import tracemalloc
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
from scipy.integrate import solve_ivp

from curewatch.climate.conditions import resampled
from curewatch.climate.outlook import outlook
from curewatch.climate.psychrometrics import GAS_CONSTANT_KJ, KELVIN, FloatArray
from curewatch.climate.reading import Reading
from curewatch.cure.forecast import Forecast, forecast
from curewatch.cure.inputs import Mix, Sighting
from curewatch.cure.kinetics import inverse_temperature
from curewatch.cure.prior import EA_COUNT, energies
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.sheet import parse_sheet

STEPS, PAST_MIN, AHEAD_SAMPLES, PATHS = 20, 2880, 864, 3
REPEATS, LSODA_CURVES = 9, 6
REFERENCE_C = 21.0
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
    """A garage's panel as a sensor with 0.1 C of noise reports it. [C]; minutes [min]"""
    noise = np.random.default_rng(1).normal(0.0, 0.1, minutes.size)
    return 14.0 + 5.0 * np.sin(2 * np.pi * minutes / 1440) + np.round(noise, 1)


def readings() -> list[Reading]:
    """Two weeks of hours, then two days of minutes."""
    hours = np.arange(-336.0 * 60, -PAST_MIN, 60.0)
    minutes = np.concatenate((hours, np.arange(-float(PAST_MIN), 1.0)))
    return [
        Reading("panel", "surface_temperature", float(c), NOW + timedelta(minutes=float(m)))
        for m, c in zip(minutes, panel_c(minutes), strict=True)
    ]


def best(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Least time of a piece of work: the one least disturbed by others. [s]"""
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def lsoda_curve(
    past_c: list[float], ahead_c: list[float], energy_kj: float, tolerance: float
) -> float:
    """One equivalent-age curve over the same samples by scipy. [min]

    past_c by the minute, ahead_c every five minutes [C]; energy_kj [kJ/mol]; tolerance [-]: ours
    is within 2e-5 of the exact value; 1e-6 comes as near, 1e-3 is off by up to 0.1 %.
    """

    def speed(minute: float, _: FloatArray) -> float:
        samples, place = (past_c, minute)
        if minute >= PAST_MIN:
            samples, place = ahead_c, (minute - PAST_MIN) / 5
        i = min(int(place), len(samples) - 2)
        celsius = samples[i] + (place - i) * (samples[i + 1] - samples[i])
        inverse = 1 / (celsius + KELVIN) - 1 / (REFERENCE_C + KELVIN)
        return math.exp(-energy_kj / GAS_CONSTANT_KJ * inverse)

    span = (0.0, PAST_MIN + 72.0 * 60)
    found = solve_ivp(speed, span, [0.0], method="LSODA", rtol=tolerance, atol=tolerance)
    return float(found.y[0, -1])


def main() -> None:
    """Print times, ratios and memory beside their targets."""
    sheet = parse_sheet(SHEET, "bench")
    held = readings()
    start = NOW - timedelta(minutes=PAST_MIN)
    looks = (Sighting(1, 60.0, "workable"), Sighting(2, 320.0, "stringy"))
    past = resampled(held, start, NOW, assumed_c=21.0)
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
    before, after = past.surface_c.tolist(), ahead.likely_c.tolist()

    def lsoda_s(tolerance: float) -> float:
        one = best(lambda: [lsoda_curve(before, after, e, tolerance) for e in curves], 3)
        return one / len(curves) * STEPS * PATHS * EA_COUNT

    fine, rough = lsoda_s(1e-6), lsoda_s(1e-3)
    series = best(lambda: resampled(held, start, NOW, assumed_c=21.0))
    tracemalloc.start()
    bench()
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    print(f"\n{STEPS} steps of {PAST_MIN} minutes, two looks each, one outlook, all milestones")
    print(f"ours {1e3 * ours:.0f} ms; readings to an even series {1e3 * series:.1f} ms")
    verdict("bare exponentials of the grid: ours takes times", ours / bare, most=3.0)
    verdict(f"the same curves by LSODA, as exact, {fine:.0f} s: times", fine / ours, least=50.0)
    print(f"the same by LSODA to 0.1 %, {rough:.1f} s: times {rough / ours:.1f}")
    verdict("peak memory of the model, MB", peak, most=30.0)


def verdict(words: str, value: float, *, least: float = 0.0, most: float = math.inf) -> None:
    """Print a figure and whether it is within its target."""
    print(f"{words} {value:.1f}  {'met' if least <= value <= most else 'not met'}")


if __name__ == "__main__":
    main()
