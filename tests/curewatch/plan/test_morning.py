"""The morning after, from the logbook: every step's night, bare metal's, and what is not known."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import make_reading
from curewatch.formats import ReaderFormat
from curewatch.garage import parts
from curewatch.plan import morning
from curewatch.plan.morning import is_morning, last_night
from curewatch.store.store import Store

VIENNA = ZoneInfo("Europe/Vienna")
SAY = ReaderFormat(VIENNA)
EVENING = datetime(2026, 11, 24, 19, 0, tzinfo=VIENNA)
DAWN = datetime(2026, 11, 25, 8, 0, tzinfo=VIENNA)
ADHESIVE = "epoxy-panel-adhesive"


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    store = Store(tmp_path / "curewatch.sqlite")
    yield Bench(store)
    store.close()


def panel(bench: Bench, celsius: list[float], air_c: float = 12.0, pct: float = 60.0) -> None:
    """The panel held at each temperature for an hour from the evening on, read every minute."""
    readings = []
    for minute in range(60 * len(celsius)):
        at = EVENING.astimezone(UTC) + timedelta(minutes=minute)
        readings += [
            make_reading("panel", "surface_temperature", celsius[minute // 60], at, "probe"),
            make_reading("air", "air_temperature", air_c, at, "probe"),
            make_reading("air", "relative_humidity", pct, at, "probe"),
        ]
    bench.store.add_readings(readings)


def night_lines(bench: Bench, now: datetime = DAWN) -> list[str]:
    """The only step's night in sentences."""
    (overnight,) = morning.morning(bench, now, VIENNA).steps
    return list(morning.step_lines(overnight, now, SAY))


COLD = [14.0, 13.0, 12.0, 11.0, 10.5, 10.1, 8.0, 6.0, 5.0, 6.0, 8.0, 10.5, 12.0]


def test_a_night_under_the_minimum_is_named_from_when_to_when(bench: Bench) -> None:
    bench.start(ADHESIVE, now=EVENING, details=Details(part="patch"))
    panel(bench, COLD)
    lines = night_lines(bench)
    assert "not curing from 01:00 to 06:00: below 10 °C" in lines
    assert "coldest 5.0 °C at 03:00" in lines
    assert lines[0].startswith("clamps off: probably past the 4 h at 21 °C it needs; ")
    (sand,) = [line for line in lines if line.startswith("sand-ready: 4 h ")]
    assert " of the 6 h at 21 °C it needs, 4 h " in sand
    assert sand.endswith("test from tomorrow 12:20")


def test_five_hours_of_standstill_add_nothing(bench: Bench) -> None:
    bench.start(ADHESIVE, now=EVENING)
    panel(bench, COLD)
    overnight = morning.morning(bench, DAWN - timedelta(hours=2, minutes=1), VIENNA).steps[0]
    before = morning.morning(bench, DAWN - timedelta(hours=6, minutes=59), VIENNA).steps[0]
    assert overnight.progress[0].age_min == pytest.approx(before.progress[0].age_min, abs=1.0)


def test_a_step_of_the_day_before_tells_the_night_s_part_of_it(bench: Bench) -> None:
    bench.start(ADHESIVE, now=EVENING - timedelta(hours=5))
    panel(bench, [15.0] * 13)
    (overnight,) = morning.morning(bench, DAWN, VIENNA).steps
    (first, *_) = overnight.progress
    assert 0 < first.gained_min < first.age_min


def test_without_any_temperature_no_coldest_hour_is_made_up(bench: Bench) -> None:
    bench.start(ADHESIVE, now=EVENING)
    lines = night_lines(bench)
    assert not [line for line in lines if "coldest" in line or "not curing" in line]
    assert any("no temperature reading" in line for line in lines)


def test_a_sensor_that_fell_silent_is_said(bench: Bench) -> None:
    bench.start(ADHESIVE, now=EVENING)
    panel(bench, [14.0, 13.0])
    assert any("the last reading of the panel is" in line for line in night_lines(bench))


def test_a_part_marked_structural_has_the_procedure_and_no_figure(bench: Bench) -> None:
    bench.start(ADHESIVE, now=EVENING, details=Details(part="patch", job="corner"))
    parts.mark(bench.store, "patch", "corner", "structural", now=EVENING)
    panel(bench, COLD)
    (line,) = night_lines(bench)
    assert "the maker's procedure" in line


def test_bare_metal_is_told_how_near_it_came_to_dew(bench: Bench) -> None:
    parts.bared(bench.store, "rib", "corner", now=EVENING)
    panel(bench, [12.0, 12.0, 4.0, 4.0, 12.0] + [14.0] * 8, air_c=14.0, pct=70.0)
    (night,) = morning.morning(bench, DAWN, VIENNA).bare
    lines = list(morning.bare_lines(night, DAWN, SAY))
    assert lines[0].startswith("bare since yesterday 19:00, 13 h, counts as ")
    assert "within 3.0 °C of the dew point from yesterday 21:00 to yesterday 23:00" in lines
    assert any("dew formed; look for rust" in line for line in lines)


def test_bare_metal_without_a_hygrometer_is_not_called_dry(bench: Bench) -> None:
    parts.bared(bench.store, "rib", "corner", now=EVENING)
    (night,) = morning.morning(bench, DAWN, VIENNA).bare
    lines = list(morning.bare_lines(night, DAWN, SAY))
    assert any("whether dew formed" in line for line in lines)


def test_what_was_mixed_in_the_morning_had_no_night(bench: Bench) -> None:
    bench.start(ADHESIVE, now=DAWN - timedelta(hours=1))
    assert morning.morning(bench, DAWN, VIENNA).steps == ()


@pytest.mark.parametrize(
    ("now", "hours"),
    [
        (datetime(2026, 10, 25, 11, 0, tzinfo=VIENNA), 17.0),
        (datetime(2026, 3, 29, 11, 0, tzinfo=VIENNA), 15.0),
        (datetime(2026, 11, 25, 11, 0, tzinfo=VIENNA), 16.0),
    ],
)
def test_a_night_over_a_clock_change_has_its_own_length(now: datetime, hours: float) -> None:
    start, end = last_night(now.astimezone(UTC), VIENNA)
    assert (end - start) == timedelta(hours=hours)


@pytest.mark.parametrize(("hour", "shown"), [(3, False), (4, True), (11, True), (12, False)])
def test_the_bench_tells_it_from_four_to_noon(hour: int, shown: bool) -> None:
    assert is_morning(datetime(2026, 11, 25, hour, 0, tzinfo=VIENNA), VIENNA) is shown
