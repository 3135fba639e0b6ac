"""Published charts of several stages of one product by temperature, each with where it was read."""

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
    """Times [min] of several stages by temperature [C]; use: what the chart was used for."""

    key: str
    words: str
    source: str
    chemistry: str
    use: str
    temperatures_c: tuple[float, ...]
    stages: Mapping[str, tuple[float, ...]]

    def minutes(self, row: int) -> dict[str, float]:
        """Every stage at one temperature. [min]"""
        return {name: times[row] for name, times in self.stages.items()}


def _h(*hours: float) -> tuple[float, ...]:
    return tuple(60.0 * each for each in hours)


CHECK, DESIGN, KEPT_BACK = "check", "design", "kept back"
F = tuple(celsius(f) for f in range(40, 110, 10))
CHARTS = (
    Chart(
        "C10",
        "epoxy coating by hand: gel, dry, Shore D 65 and 75 (measured at 25 C)",
        "a maker's chart on a document-sharing site, document 708897795; read as a stored page",
        "epoxy-amine",
        CHECK,
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
        CHECK,
        (20.0, 25.0, 40.0),
        {"clamp_time": _h(12, 7, 2), "full_cure": _h(15, 12, 3)},
    ),
    Chart(
        "C10 spray",
        "the same epoxy sprayed at 60 C: gel, dry, Shore D 65 and 75 (measured at 25 C)",
        "as C10",
        "epoxy-amine",
        KEPT_BACK,
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
        DESIGN,
        (10.0, 15.0, 23.0, 40.0),
        {"clamp_time": _h(4, 2.5, 1, 0.25), "full_cure": _h(60, 15, 8, 4)},
    ),
    Chart(
        "epoxy primer",
        "zinc phosphate epoxy primer: pot life, drying, cured for use",
        "a maker's page on a two-pack zinc phosphate primer; read as a stored page",
        "epoxy-amine",
        DESIGN,
        (10.0, 20.0),
        {
            "pot_life": _h(48, 24),
            "recoat_opens": _h(24, 16),
            "full_cure": _h(7 * 24, 5 * 24),
        },
    ),
    Chart(
        "epoxy paint",
        "anticorrosive epoxy paint: least time to recoat with itself",
        "a maker's product data sheet of 13 January 2017; read as a stored page",
        "epoxy-amine",
        DESIGN,
        (10.0, 23.0, 35.0),
        {"recoat_opens": _h(12, 4, 2)},
    ),
    Chart(
        "epoxy anchor",
        "epoxy for setting bars: full cure, bands of 5-9, 20-29, 30-39 C at their midpoint",
        "a trade page on anchoring epoxies; read as a stored page",
        "epoxy-amine",
        DESIGN,
        (7.0, 24.5, 34.5, 40.0),
        {"full_cure": _h(90, 18, 7, 5)},
    ),
)


def sheet_of(chart: Chart, rows: Sequence[int]) -> Sheet:
    """A sheet that knows only the given rows of a chart; the first is the reference."""
    written = "".join(
        f'[[times]]\ntemperature = "{chart.temperatures_c[row]:.6f} C"\n'
        + "".join(f'{name} = "{each:.3f} min"\n' for name, each in chart.minutes(row).items())
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
            name = each["milestone"]
            times = (each["early_min"], each["likely_min"], each["late_min"])
            stages.append(Stage(chart, name, temperature_c, chart.stages[name][row], *times))
    return stages


def stages_of(use: str, rows: int) -> list[Stage]:
    """Every stage of the charts of one use, as long as two label rows leave something over."""
    return [stage for chart in CHARTS if chart.use == use for stage in hold_chart(chart, rows)]


def median_error(stages: Sequence[Stage]) -> float:
    """Median of |ln error|. [-]"""
    return statistics.median(abs(stage.ln_error) for stage in stages)


def share_inside(stages: Sequence[Stage]) -> float:
    """Share of the stages inside their band. [-]"""
    return statistics.mean(stage.inside for stage in stages)
