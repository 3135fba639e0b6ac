"""Published charts of several stages of one product by temperature, each with where it was read.

What each was used for stands beside it:

- AIMED_AT: what the model had to reach was laid down on these, and their slow hardness in the cold
  was seen before the steeper law was written.
- COMPARED: the same product as one of them, sprayed. It was looked at while the law was made.
- MADE_WITH: levels and weights of the steeper law were chosen with these in view.
- READ_LATER: found and read when the law was written and its figures were fixed. Nothing was
  changed after them.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from curewatch.cure.estimate import estimate
from curewatch.products.sheet import Sheet, parse_sheet
from tests.support.published_times import celsius

EARLY = ("pot_life", "working_time", "recoat_opens")
IN_REACH_C = (10.0, 40.0)


@dataclass(frozen=True)
class Chart:
    """Times [min] of several stages by temperature [C], None where the chart has none; use: what
    the chart was used for."""

    key: str
    words: str
    source: str
    chemistry: str
    use: str
    temperatures_c: tuple[float, ...]
    stages: Mapping[str, tuple[float | None, ...]]

    def minutes(self, row: int) -> dict[str, float]:
        """Every stage at one temperature that the chart gives there. [min]"""
        given = {name: times[row] for name, times in self.stages.items()}
        return {name: minutes for name, minutes in given.items() if minutes is not None}


def _h(*hours: float | None) -> tuple[float | None, ...]:
    return tuple(None if value is None else 60.0 * value for value in hours)


AIMED_AT, COMPARED = "aimed at", "compared while it was made"
MADE_WITH, READ_LATER = "made with", "read after it was made"
F = tuple(celsius(f) for f in range(40, 110, 10))
CHARTS = (
    Chart(
        "C10",
        "epoxy coating by hand: gel, dry, Shore D 65 and 75 (measured at 25 C)",
        "a maker's chart on a document-sharing site, document 708897795; read as a stored page",
        "epoxy-amine",
        AIMED_AT,
        F,
        {
            "working_time": (180, 110, 62, 52, 30, 25, 18),
            "recoat_opens": (540, 360, 240, 180, 120, 90, 55),
            "sand_ready": _h(96, 75, 20, 8, 4.75, 2 + 50 / 60, 2),
            "full_cure": _h(120, 95, 28, 10, 5.5, 4 + 20 / 60, 2 + 50 / 60),
        },
    ),
    Chart(
        "C11",
        "epoxy adhesive: handling strength and least cure",
        "a maker's sheet on a document-sharing site, document 749058189; read as a stored page",
        "epoxy-amine",
        AIMED_AT,
        (20.0, 25.0, 40.0),
        {"clamp_time": _h(12, 7, 2), "full_cure": _h(15, 12, 3)},
    ),
    Chart(
        "C10 spray",
        "the same epoxy sprayed at 60 C: gel, dry, Shore D 65 and 75 (measured at 25 C)",
        "as C10",
        "epoxy-amine",
        COMPARED,
        F,
        {
            "working_time": (130, 50, 39, 31, 29, 21, 17),
            "recoat_opens": (480, 300, 210, 135, 105, 60, 45),
            "sand_ready": _h(80, 60, 16, 6.25, 4 + 10 / 60, 2, 1 + 31 / 60),
            "full_cure": _h(97, 72, 19, 7 + 20 / 60, 5 + 10 / 60, 3.25, 2),
        },
    ),
    Chart(
        "urethane adhesive",
        "two-part urethane adhesive: lap shear over 1 and over 10 N/mm2",
        "a maker's sheet on a document-sharing site, document 8362870; read as a stored page",
        "urethane-2k",
        MADE_WITH,
        (10.0, 15.0, 23.0, 40.0),
        {"clamp_time": _h(4, 2.5, 1, 0.25), "full_cure": _h(60, 15, 8, 4)},
    ),
    Chart(
        "epoxy primer",
        "zinc phosphate epoxy primer: pot life, drying, cured for use",
        "bluraychemical.com/epoxy-zinc-phosphate-primer-two-pack; read as a stored page",
        "epoxy-amine",
        MADE_WITH,
        (10.0, 20.0),
        {
            "pot_life": _h(48, 24),
            "recoat_opens": _h(24, 16),
            "full_cure": _h(7 * 24, 5 * 24),
        },
    ),
    Chart(
        "epoxy mastic",
        "epoxy primer that cures in the cold too: pot life, recoat, dry to handle, full cure",
        "a maker's manual on a document-sharing site, document 376985593; read as a stored page",
        "epoxy-amine",
        READ_LATER,
        (10.0, 20.0, 30.0, 40.0),
        {
            "pot_life": _h(12, 5, 4, 2),
            "recoat_opens": _h(4, 3, 2, 2),
            "clamp_time": _h(12, 6, 4, 3),
            "full_cure": _h(6 * 24, 4 * 24, 3 * 24, 2 * 24),
        },
    ),
    Chart(
        "epoxy high build",
        "high-build epoxy paint: pot life, drying, cured for use",
        "bluraychemical.com/?p=413; read as a stored page",
        "epoxy-amine",
        READ_LATER,
        (10.0, 20.0, 30.0),
        {
            "pot_life": _h(22, 6, None),
            "recoat_opens": _h(23, 18, 10),
            "full_cure": _h(7 * 24, 4 * 24, 3 * 24),
        },
    ),
)


def sheet_of(chart: Chart, rows: Sequence[int]) -> Sheet:
    """A sheet that knows only the given rows of a chart; the first is the reference."""
    written = "".join(
        f'[[times]]\ntemperature = "{chart.temperatures_c[row]:.6f} C"\n'
        + "".join(f'{name} = "{value:.3f} min"\n' for name, value in chart.minutes(row).items())
        for row in rows
    )
    text = f'name = "published"\nkind = "adhesive"\nchemistry = "{chart.chemistry}"\n{written}'
    return parse_sheet(text + '[limits]\ntemperature = ["0 C", "60 C"]\n', "published")


def label_rows(chart: Chart, rows: int) -> list[int]:
    """The row nearest 21 C; for two also the one at 10 C, else the coldest other one."""
    order = range(len(chart.temperatures_c))
    near = min(order, key=lambda row: abs(chart.temperatures_c[row] - 21.0))
    if rows == 1:
        return [near]
    cold = min(
        (row for row in order if row != near and chart.temperatures_c[row] >= IN_REACH_C[0] - 0.01),
        key=lambda row: chart.temperatures_c[row],
    )
    return [near, cold]


@dataclass(frozen=True)
class Stage:
    """One published stage at one temperature against the prediction; all times [min]."""

    chart: Chart
    name: str
    temperature_c: float
    published_min: float
    early_min: float
    likely_min: float
    late_min: float

    @property
    def inside(self) -> bool:
        """Whether the published time lies between early and late."""
        return self.early_min <= self.published_min <= self.late_min

    @property
    def ln_error(self) -> float:
        """ln(likely/published). [-]"""
        return math.log(self.likely_min / self.published_min)

    @property
    def is_early(self) -> bool:
        """Whether the stage lies at the gel or at the surface, before hardness."""
        return self.name in EARLY


def hold_chart(chart: Chart, rows: int) -> list[Stage]:
    """Every stage from 10 to 40 C that is not on the label, against what the label predicts."""
    given = label_rows(chart, rows)
    sheet = sheet_of(chart, given)
    stages = []
    for row, temperature_c in enumerate(chart.temperatures_c):
        if row in given or not IN_REACH_C[0] - 0.01 <= temperature_c <= IN_REACH_C[1]:
            continue
        for each in estimate(sheet, temperature_c=temperature_c)["milestones"]:
            published_min = chart.minutes(row).get(each["milestone"])
            times = (each["early_min"], each["likely_min"], each["late_min"])
            if published_min is not None:
                stages.append(Stage(chart, each["milestone"], temperature_c, published_min, *times))
    return stages


def stages_of(use: str, rows: int) -> list[Stage]:
    """Every stage of the charts of one use, as long as two label rows leave something over."""
    return [stage for chart in CHARTS if chart.use == use for stage in hold_chart(chart, rows)]


def median_error(stages: Sequence[Stage]) -> float:
    """Median of |ln error|, nan of none. [-]"""
    return statistics.median([abs(stage.ln_error) for stage in stages] or [math.nan])


def share_inside(stages: Sequence[Stage]) -> float:
    """Share of the stages inside their band. [-]"""
    return statistics.mean(stage.inside for stage in stages)
