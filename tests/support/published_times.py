"""Published cure times, as printed, each with where it was read. Bands stand at their midpoint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from curewatch.cure.estimate import estimate
from curewatch.products.sheet import Sheet, parse_sheet


def celsius(fahrenheit: float) -> float:
    """Degrees Fahrenheit in Celsius. [C]"""
    return (fahrenheit - 32) * 5 / 9


@dataclass(frozen=True)
class Table:
    """Times [min] by temperature [C] of one product; resin: counted in the accuracy; milestone:
    the one whose law the published time follows. The end of a recoat window is taken for its
    opening, which the model does not cap at the label's own time."""

    key: str
    words: str
    source: str
    chemistry: str
    rows: tuple[tuple[float, float], ...]
    resin: bool = True
    humidity_pct: float = 50.0
    milestone: str = "working_time"


BANDS_F = (65.0, 75.5, 85.5, 95.5, 105.5, 115.5)


def _hours(
    temperatures_f: Sequence[float], hours: Sequence[float]
) -> tuple[tuple[float, float], ...]:
    return tuple((celsius(f), 60 * h) for f, h in zip(temperatures_f, hours, strict=True))


TABLES = (
    Table(
        "C1 max",
        "epoxy tack coat, recoat maximum (columns to bands inferred)",
        "UFGS 09971, p. 28",
        "epoxy-amine",
        _hours(BANDS_F, (96, 72, 48, 36, 24, 16)),
        milestone="recoat_opens",
    ),
    Table(
        "C1 min",
        "epoxy tack coat, recoat minimum (columns to bands inferred)",
        "UFGS 09971, p. 28",
        "epoxy-amine",
        _hours(BANDS_F, (24, 24, 16, 12, 10, 8)),
        milestone="recoat_opens",
    ),
    Table(
        "C2",
        "two-part structural adhesive, alternative cures",
        "US Army TM 1-1520-240-BD, p. 90, adhesive system 5",
        "epoxy-amine",
        _hours((70, 104, 120, 170, 200), (24, 11, 8, 2, 0.75)),
        milestone="full_cure",
    ),
    Table(
        "C3 urethane",
        "polyurethane paint, pot life; room temperature taken as 70 F, not stated",
        "US Army PS Magazine 396, p. 19",
        "urethane-2k",
        _hours((70, 100), (8, 2)),
    ),
    Table(
        "C3 epoxy",
        "epoxy paint, pot life; room temperature taken as 70 F, not stated",
        "US Army PS Magazine 396, p. 19",
        "epoxy-amine",
        _hours((70, 100), (15, 6)),
    ),
    Table(
        "C4 epoxy",
        "epoxy primer, pot life halves for each 10 C",
        "UFGS 09971 p. 26, UFGS 09970 p. 27",
        "epoxy-amine",
        ((11.0, 480.0), (21.0, 240.0), (31.0, 120.0)),
    ),
    Table(
        "C4 urethane",
        "polyurethane topcoat, pot life halves for each 10 C",
        "UFGS 09971 p. 26, UFGS 09970 p. 27",
        "urethane-2k",
        ((11.0, 240.0), (21.0, 120.0), (31.0, 60.0)),
    ),
    Table(
        "C5",
        "two-part elastomer repair compound, usable life",
        "US Army TM 10-8110-201-14&P, change 3, p. 5-14",
        "urethane-2k",
        ((5.0, 20.0), (15.0, 15.0), (25.0, 10.0)),
        resin=False,
    ),
    Table(
        "C6",
        "polyurethane, recoat maximum",
        "UFGS 09971, p. 28",
        "urethane-2k",
        _hours(BANDS_F, (48, 48, 36, 24, 12, 2)),
        resin=False,
        milestone="recoat_opens",
    ),
)
IN_REACH_C = (5.0, 40.0)


def sheet_of(table: Table, given: Sequence[tuple[float, float]]) -> Sheet:
    """A sheet that knows only the given rows of a table; the first is the reference."""
    rows = "".join(
        f'[[times]]\ntemperature = "{c:.6f} C"\n{table.milestone} = "{minutes:g} min"\n'
        for c, minutes in given
    )
    text = f'name = "published"\nkind = "adhesive"\nchemistry = "{table.chemistry}"\n{rows}'
    return parse_sheet(text + '[limits]\ntemperature = ["0 C", "60 C"]\n', "published")


def label_first(table: Table, rows: int) -> list[tuple[float, float]]:
    """The row nearest 21 C, then (for two) the one farthest from it within reach."""
    near = min(table.rows, key=lambda row: abs(row[0] - 21.0))
    if rows == 1:
        return [near]
    reach = [row for row in table.rows if IN_REACH_C[0] <= row[0] <= IN_REACH_C[1] and row != near]
    return [near, max(reach, key=lambda row: abs(row[0] - near[0]))]


@dataclass(frozen=True)
class PublishedComparison:
    """One published row against the prediction; all times [min]."""

    table: Table
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
    def counted(self) -> bool:
        """Whether the row belongs to the resin sets within 5 to 40 C."""
        return self.table.resin and IN_REACH_C[0] <= self.temperature_c <= IN_REACH_C[1]


def hold(table: Table, rows: int) -> list[PublishedComparison]:
    """Every row of a table not on its label, against what the label's rows predict."""
    given = label_first(table, rows)
    sheet = sheet_of(table, given)
    comparisons = []
    for temperature_c, minutes in table.rows:
        if (temperature_c, minutes) in given:
            continue
        data = estimate(sheet, temperature_c=temperature_c, humidity_pct=table.humidity_pct)
        times = data["milestones"][0]
        comparisons.append(
            PublishedComparison(
                table,
                temperature_c,
                minutes,
                times["early_min"],
                times["likely_min"],
                times["late_min"],
            )
        )
    return comparisons
