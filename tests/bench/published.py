"""Published tables against what one or two label rows predict."""

from __future__ import annotations

import math
import statistics

from tests.support.published_charts import (
    AIMED_AT,
    COMPARED,
    MADE_WITH,
    READ_LATER,
    Stage,
    median_error,
    share_inside,
    stages_of,
)
from tests.support.published_times import TABLES, PublishedComparison, hold, label_first

TARGETS = {1: 0.15, 2: 0.08}
INSIDE = (0.85, 0.95)


def _line(row: PublishedComparison) -> str:
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
    for comparison in every:
        print(_line(comparison))
    counted = [held for held in every if held.counted]
    errors = [abs(math.log(held.likely_min / held.published_min)) for held in counted]
    inside = sum(held.inside for held in counted) / len(counted)
    for peer, per_ten_k in (("the label alone", 1.0), ("halving per 10 K", 2.0)):
        missed = statistics.median(peer_error(row, per_ten_k) for row in counted)
        print(f"baseline, {peer} from the row nearest 21 C: median |ln error| {missed:.3f}")
    return statistics.median(errors), inside, len(counted)


def peer_error(row: PublishedComparison, per_ten_k: float) -> float:
    """|ln error| of the label's time, divided by a factor for every 10 K warmer. [-]"""
    ((label_c, label_min),) = label_first(row.table, 1)
    told_min = label_min * per_ten_k ** ((label_c - row.temperature_c) / 10)
    return abs(math.log(told_min / row.published_min))


CHART_INSIDE = {1: (0.85, 0.97), 2: (0.90, 1.0)}


def _stage_line(stage: Stage) -> str:
    mark = "inside" if stage.inside else "OUTSIDE"
    return (
        f"{stage.chart.key:18} {stage.name:12} {stage.temperature_c:5.1f} "
        f"{stage.published_min:8.0f} {stage.early_min:8.0f} {stage.likely_min:8.0f} "
        f"{stage.late_min:8.0f} {stage.ln_error:+7.3f}  {mark}"
    )


def verdict(figure: float, low: float, high: float) -> str:
    """Whether a figure meets its target; an empty group has none."""
    if math.isnan(figure):
        return "none to compare"
    return "met" if low <= figure <= high else "not met"


def charts(use: str, rows: int) -> None:
    """Print the charts of several stages of one use, and their figures beside the targets."""
    print(f"\nSeveral stages, {use}, from {rows} label row{'s' if rows > 1 else ''}; minutes")
    print("chart              stage            C   published   early   likely     late  ln err")
    stages = stages_of(use, rows)
    for stage in stages:
        print(_stage_line(stage))
    early = median_error([stage for stage in stages if stage.is_early])
    hard = median_error([stage for stage in stages if not stage.is_early])
    low, high = CHART_INSIDE[rows]
    inside = share_inside(stages)
    print(f"inside {inside:.0%} of {len(stages)}, target {low:.0%} to {high:.0%}: ", end="")
    print(verdict(inside, low, high))
    which = "before hardness at most 15 %" if rows == 1 else "hardness at most 20 %"
    print(
        f"median |ln error| before hardness {early:.3f}, hardness {hard:.3f}; {which}: "
        f"{verdict(early if rows == 1 else hard, 0.0, 0.15 if rows == 1 else 0.20)}"
    )


def main() -> None:
    """Print the tables, their figures beside the targets."""
    for use in (AIMED_AT, READ_LATER, COMPARED, MADE_WITH):
        for count in CHART_INSIDE:
            charts(use, count)
    for rows, target in TARGETS.items():
        error, inside, count = report(rows)
        met = verdict(error, 0.0, target)
        print(f"median |ln error| {error:.3f} of {count} rows, target {target}: {met}")
        met = verdict(inside, *INSIDE)
        print(f"inside early..late {inside:.0%}, target {INSIDE[0]:.0%} to {INSIDE[1]:.0%}: {met}")


if __name__ == "__main__":
    main()
