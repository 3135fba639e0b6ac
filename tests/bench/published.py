"""Published tables against what one or two label rows predict."""

from __future__ import annotations

import math
import statistics

from tests.support.published_times import TABLES, Held, hold

TARGETS = {1: 0.15, 2: 0.08}
INSIDE = (0.85, 0.95)


def _line(row: Held) -> str:
    error = math.log(row.likely_min / row.published_min)
    mark = "inside" if row.inside else "OUTSIDE"
    counted = "" if row.counted else "  (not counted)"
    return (
        f"{row.table.key:12} {row.temperature_c:6.1f} {row.published_min:8.0f} "
        f"{row.early_min:8.0f} {row.likely_min:8.0f} {row.late_min:8.0f} {error:+7.3f}  "
        f"{mark}{counted}"
    )


def report(rows: int) -> tuple[float, float, int]:
    """Print every row; median |ln error|, share inside and how many were counted. [-]"""
    print(f"\nFrom {rows} label row{'s' if rows > 1 else ''} (nearest 21 C first); minutes")
    print("table          C   published   early   likely     late  ln err")
    every = [held for table in TABLES for held in hold(table, rows)]
    for held in every:
        print(_line(held))
    counted = [held for held in every if held.counted]
    errors = [abs(math.log(held.likely_min / held.published_min)) for held in counted]
    inside = sum(held.inside for held in counted) / len(counted)
    return statistics.median(errors), inside, len(counted)


def main() -> None:
    """Print the tables, their figures beside the targets."""
    for rows, target in TARGETS.items():
        error, inside, count = report(rows)
        met = "met" if error <= target else "not met"
        print(f"median |ln error| {error:.3f} of {count} rows, target {target}: {met}")
        met = "met" if INSIDE[0] <= inside <= INSIDE[1] else "not met"
        print(f"inside early..late {inside:.0%}, target {INSIDE[0]:.0%} to {INSIDE[1]:.0%}: {met}")


if __name__ == "__main__":
    main()
