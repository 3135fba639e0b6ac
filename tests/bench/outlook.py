"""The outlook on a year of open weather through a garage that lags six hours."""

from __future__ import annotations

from datetime import timedelta
from functools import cache

import numpy as np

from curewatch.climate.outlook import outlook
from curewatch.climate.psychrometrics import FloatArray
from tests.support.weather import hourly, year

HORIZONS_H = (1, 3, 6, 12, 24)
TARGETS_C = (0.25, 0.65, 1.10, 1.75, 2.40)
BETTER = {3: 0.25, 6: 0.25, 12: 0.25}
ORIGIN_STEP_H, HISTORY_H = 7, 336


@cache
def errors(with_outdoors: bool) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Errors of the outlook and of persistence [K] and whether the band held, (origins, 5)."""
    weather = year()
    ours, held, inside = [], [], []
    for origin in range(HISTORY_H, weather.garage_c.size - 25, ORIGIN_STEP_H):
        now = weather.start + timedelta(hours=origin)
        first = origin - HISTORY_H
        readings = hourly(
            weather.garage_c, first, origin, weather.start, "panel", "surface_temperature"
        )
        if with_outdoors:
            readings += hourly(
                weather.outdoors_c, first, origin, weather.start, "outdoors", "air_temperature"
            )
        told = outlook(readings, now, assumed_c=20.0, hours=24.5)
        at = np.array(HORIZONS_H) * round(3600 / told.step_s)
        true = weather.garage_c[origin + np.array(HORIZONS_H)]
        ours.append(told.likely_c[at] - true)
        held.append(weather.garage_c[origin] - true)
        inside.append((told.cool_c[at] <= true) & (true <= told.warm_c[at]))
    return np.array(ours), np.array(held), np.array(inside)


def table(with_outdoors: bool) -> None:
    """Print mean absolute errors beside persistence and the targets."""
    ours, held, inside = errors(with_outdoors)
    kind = "with an outdoor sensor" if with_outdoors else "panel only"
    print(f"\nOutlook, {kind}, {len(ours)} origins; mean absolute error in K")
    print("  h   outlook  persistence  better   in band   target")
    for i, (hours, target) in enumerate(zip(HORIZONS_H, TARGETS_C, strict=True)):
        mine, peer = float(np.abs(ours[:, i]).mean()), float(np.abs(held[:, i]).mean())
        share, better = float(inside[:, i].mean()), 1 - mine / peer
        met = mine <= target and better >= BETTER.get(hours, -1.0) and 0.85 <= share <= 0.95
        print(
            f"{hours:3d}  {mine:8.2f} {peer:12.2f} {better:7.0%} {share:9.0%} {target:8.2f}"
            f"  {'met' if met else 'not met'}"
        )


def main() -> None:
    """Print both tables."""
    table(False)
    table(True)


if __name__ == "__main__":
    main()
