"""Predicted bands against the published tables, drawn to demo/model.png."""

from __future__ import annotations

from pathlib import Path

import matplotlib as mpl
import numpy as np

mpl.use("Agg")

import matplotlib.pyplot as plt
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, LogLocator

from curewatch.cure.estimate import estimate
from tests.support.published_times import TABLES, Table, label_first, sheet_of

TARGET = Path(__file__).parents[2] / "demo" / "model.png"
BAND, LINE, POINT, LABEL = "#56B4E9", "#0072B2", "#D55E00", "#000000"
COLUMNS, SPAN_C, POINTS = 3, (4.0, 50.0), 70
PLAIN = FuncFormatter(lambda value, _: f"{value:g}")
UNITS = ((1440.0, "d"), (60.0, "h"), (1.0, "min"))


def curves(table: Table, rows: int) -> tuple[np.ndarray, np.ndarray]:
    """Temperatures [C], shape (n,), and early, likely, late times [min], shape (n, 3), nan where
    none can be given."""
    sheet = sheet_of(table, label_first(table, rows))
    temperatures = np.linspace(*SPAN_C, POINTS)
    told = [estimate(sheet, temperature_c=float(c))["milestones"][0] for c in temperatures]
    keys = ("early_min", "likely_min", "late_min")
    times = [[each[key] for key in keys] for each in told]
    return temperatures, np.array(times, dtype=np.float64)


def panel(axes: Axes, table: Table) -> None:
    """One table: the band from one label row, the likely line from two, and what was published."""
    temperatures, times = curves(table, 1)
    scale, unit = next((s, u) for s, u in UNITS if max(m for _, m in table.rows) >= 2 * s)
    axes.fill_between(
        temperatures, times[:, 0] / scale, times[:, 2] / scale, color=BAND, alpha=0.45, lw=0
    )
    axes.plot(temperatures, times[:, 1] / scale, color=LINE, lw=2)
    two = curves(table, 2)
    axes.plot(two[0], two[1][:, 1] / scale, color=LINE, lw=1.2, ls="--")
    held = [row for row in table.rows if row[0] <= SPAN_C[1]]
    axes.plot([c for c, _ in held], [m / scale for _, m in held], "o", color=POINT, ms=6)
    given = label_first(table, 1)[0]
    axes.plot(given[0], given[1] / scale, "s", color=LABEL, ms=8, mfc="none", mew=1.6)
    axes.axvline(40.0, color="0.6", lw=0.8, ls=":")
    axes.set_yscale("log")
    axes.set_title(f"{table.key}: {table.words.split(',')[0]}\n{table.source}", fontsize=7.5)
    axes.yaxis.set_major_formatter(PLAIN)
    axes.yaxis.set_minor_formatter(PLAIN)
    axes.yaxis.set_minor_locator(LogLocator(subs=(2.0, 5.0)))
    axes.set_xlabel("C", fontsize=8)
    axes.set_ylabel(unit, fontsize=8)
    axes.tick_params(which="both", labelsize=7)


def main() -> None:
    """Draw every table and say where."""
    rows = -(-len(TABLES) // COLUMNS)
    figure, grid = plt.subplots(rows, COLUMNS, figsize=(11, 2.9 * rows), layout="constrained")
    for axes, table in zip(grid.flat, TABLES, strict=True):
        panel(axes, table)
    figure.suptitle(
        "Published times (dots) and what one label row (square) predicts: early to late (band), "
        "likely (line);\nlikely from two rows (dashed); held above 40 C (dotted)",
        fontsize=10,
    )
    figure.savefig(TARGET, dpi=110, metadata={"Software": None})
    print(f"drawn: {TARGET.relative_to(TARGET.parents[1])}")


if __name__ == "__main__":
    main()
