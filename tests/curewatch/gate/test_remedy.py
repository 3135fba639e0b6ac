"""The heat that the gate asks for is enough: held so long, the test is due; and what it offers."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import Quantity, make_reading
from curewatch.garage.shelf import find_sheet
from curewatch.gate.gate import gate
from curewatch.gate.gather import ask
from curewatch.store.store import Store
from curewatch.wording.words import ReaderFormat

NOW = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")
SAY = ReaderFormat(BERLIN)
ADHESIVE, FILLER = "epoxy-panel-adhesive", "fibre-polyester-filler"


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """A cold garage: panel 3 C, air 6 C, 55 %, for three days."""
    store = Store(tmp_path / "curewatch.sqlite")
    hear(store, -72 * 60, -10, 10, surface_c=3.0)
    return Bench(store)


def hear(
    store: Store, first: int, last: int, every: int, surface_c: float, humidity_pct: float = 55.0
) -> None:
    """Readings between two instants [min from now]."""
    values: tuple[tuple[str, Quantity, float], ...] = (
        ("panel", "surface_temperature", surface_c),
        ("air", "air_temperature", 6.0),
        ("air", "relative_humidity", humidity_pct),
    )
    store.add_readings(
        [
            make_reading(place, quantity, value, NOW + timedelta(minutes=minute), "probe")
            for minute in range(first, last + 1, every)
            for place, quantity, value in values
        ]
    )


def remedy(bench: Bench, sheet: str, details: Details) -> str:
    answer = gate(ask(bench, sheet, NOW, details, zone=BERLIN), SAY)
    return next(check.change for check in answer.checks if check.question == "panel")


@pytest.mark.parametrize(
    ("sheet", "milestone", "details"),
    [
        (ADHESIVE, "clamp_time", Details(amount_g=60.0)),
        (FILLER, "sand_ready", Details(amount_g=35.0, hardener_pct=2.0)),
        ("solvent-primer-1k", "sand_ready", Details()),
    ],
)
def test_held_so_warm_and_so_long_the_test_is_due(
    bench: Bench, sheet: str, milestone: str, details: Details
) -> None:
    match = re.search(
        r"at (\d+) °C for (?:(\d+) h )?(\d+)(?: min)?, the latest time",
        remedy(bench, sheet, details),
    )
    assert match is not None
    warm_c, length = float(match[1]), 60 * int(match[2] or 0) + int(match[3])
    number = bench.start(sheet, now=NOW, details=details)
    hear(bench.store, 0, length, 1, surface_c=warm_c)
    there = NOW + timedelta(minutes=length)
    late = bench.step_view(number, there).by_name[milestone].late
    assert late is not None
    assert abs(late - there) <= timedelta(minutes=2 + length / 100)


def test_a_quarter_less_is_not_enough(bench: Bench) -> None:
    number = bench.start(ADHESIVE, now=NOW, details=Details(amount_g=60.0))
    match = re.search(r"for (\d+) h (\d+)", remedy(bench, ADHESIVE, Details(amount_g=60.0)))
    assert match is not None
    length = round(0.75 * (60 * int(match[1]) + int(match[2])))
    hear(bench.store, 0, length, 1, surface_c=21.0)
    late = bench.step_view(number, NOW + timedelta(minutes=length)).by_name["clamp_time"].late
    assert late is not None
    assert late > NOW + timedelta(minutes=length)


def own_winter_filler(bench: Bench) -> None:
    text = find_sheet(bench.store, FILLER).text
    text = re.sub(r"temperature *= *\[[^\]]*\]", 'temperature = ["0 C", "35 C"]', text, count=1)
    bench.store.save_sheet("winter-filler", text.replace("Fibre", "Winter fibre", 1), NOW)


def test_another_own_product_is_offered_where_it_would_cure(bench: Bench) -> None:
    own_winter_filler(bench)
    assert "Winter fibre" in remedy(bench, ADHESIVE, Details(amount_g=60.0))


def test_none_is_offered_on_a_panel_that_is_wet(bench: Bench) -> None:
    own_winter_filler(bench)
    hear(bench.store, -9, 0, 1, surface_c=3.0, humidity_pct=95.0)
    assert "Winter fibre" not in remedy(bench, ADHESIVE, Details(amount_g=60.0))
