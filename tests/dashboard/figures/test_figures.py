"""The pictures: valid for plotly, right by value, in our colours, for every screen."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import plotly.graph_objects as go
import pytest

from curewatch.climate.flag import Flag
from curewatch.climate.reading import Reading
from curewatch.formats import ReaderFormat
from curewatch.logbook.air_history import AirHistory, air_history
from curewatch.store.store import StepRow, StepSummary
from curewatch.walltime import to_ms
from curewatch.wording import air_words
from dashboard.figures.air import READER, AirDrawing, figure
from dashboard.figures.palette import Screen, palette
from dashboard.figures.steps import MOST_LANES, bars, lanes
from dashboard.figures.ticks import time_ticks
from tests.support.pages import EVENING, Garage, open_garage, weather

SAY = ReaderFormat(ZoneInfo("Europe/Berlin"))
DAY, HOUR = timedelta(days=1), timedelta(hours=1)
SCREENS = [
    Screen(theme, layout, width)
    for theme in ("dark", "light")
    for layout, width in (("garage", 1748.0), ("desk", 1224.0), ("phone", 366.0))
]


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garage]:
    """Two days of weather, a flagged reading and three steps."""
    garage = open_garage(tmp_path_factory.mktemp("figures"))
    garage.hear(weather(EVENING))
    flag = Flag("spike", gap=9.0, seconds=60.0)
    at = EVENING - 5 * HOUR - timedelta(minutes=3)
    garage.hear([Reading("panel", "surface_temperature", 24.0, at, "probe", flag)])
    for minutes in (300, 100, 20):
        garage.mix("epoxy-panel-adhesive", minutes, part="door skin", amount_g=60.0)
    yield garage
    garage.store.close()


def history(garage: Garage, days: float = 1.0, limit_c: float = 10.0) -> AirHistory:
    end = EVENING + (12 * HOUR if days <= 1 else timedelta())
    return air_history(garage.store, EVENING - days * DAY, end, limit_c=limit_c)


def drawing(garage: Garage, screen: Screen = SCREENS[0], say: ReaderFormat = SAY) -> AirDrawing:
    return AirDrawing(EVENING, garage.bench.view(EVENING).track, {}, say, screen)


def trace(fig: dict[str, Any], name: str) -> dict[str, Any]:
    return next(each for each in fig["data"] if each.get("name") == name)


@pytest.mark.parametrize("screen", SCREENS, ids=str)
def test_the_air_s_figure_is_valid_and_has_the_room_s_size(garage: Garage, screen: Screen) -> None:
    fig = figure(history(garage), drawing(garage, screen))
    found = go.Figure(fig)
    assert (found.layout.width, found.layout.height) == (screen.width_px, screen.height_px)
    assert found.layout.font.size >= {"garage": 31, "desk": 16, "phone": 14}[screen.layout]
    assert found.layout.dragmode == (False if screen.layout == "phone" else "zoom")


@pytest.mark.parametrize("days", [0.1, 1, 7, 30, 365, 3652])
def test_any_period_is_valid(garage: Garage, days: float) -> None:
    go.Figure(figure(history(garage, days), drawing(garage)))


def test_an_empty_garage_has_a_valid_figure_too(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    fig = figure(history(garage), drawing(garage))
    assert go.Figure(fig).layout.yaxis.range
    garage.store.close()


def test_a_moment_says_all_its_values_in_the_reader_s_way(garage: Garage) -> None:
    fig = figure(history(garage), drawing(garage))
    said = trace(fig, READER)["text"]
    assert "surface 16.0 °C" in said[-146]
    assert any(each.startswith("Wed 14 Oct, 19:") and "humidity 72 %" in each for each in said)
    assert "forecast" in said[-1]
    assert "(9 in 10)" in said[-1]
    american = replace(SAY, unit="F", hours=12, decimal=",")
    told = trace(figure(history(garage), drawing(garage, say=american)), READER)["text"]
    assert "surface 60,8 °F" in told[-146]
    assert "7:42 pm" in told[-146]


def test_spells_under_the_limit_are_shaded_and_said(garage: Garage) -> None:
    warm, cold = history(garage, limit_c=2.0), history(garage, limit_c=10.0)
    shaded = [
        each for each in figure(cold, drawing(garage))["layout"]["shapes"] if each["type"] == "rect"
    ]
    assert [each["x0"] for each in shaded] == [to_ms(interval.start) for interval in cold.below]
    assert "Never below 2 °C." in air_words.summary(warm, SAY)
    assert "Below 10 °C for 5 h 20 in all." in air_words.summary(cold, SAY)


def test_a_flagged_reading_is_a_cross_with_its_reason(garage: Garage) -> None:
    fig = figure(history(garage), drawing(garage))
    (cross,) = [each for each in fig["data"] if each.get("marker", {}).get("symbol") == "x-thin"]
    assert cross["y"] == [24.0]
    assert "flagged, not used: " in cross["text"][0]


def test_a_long_period_shades_each_line_from_least_to_most(garage: Garage) -> None:
    filled = [
        e for e in figure(history(garage, 7), drawing(garage))["data"] if e.get("fill") == "toself"
    ]
    names = [each for each in filled if each.get("hoveron") != "fills"]
    assert len(names) >= 3


def test_bars_of_steps_never_cover_one_another() -> None:
    def step(number: int, begun: float, ends: float | None) -> StepSummary:
        closed = None if ends is None else EVENING - ends * HOUR
        row = StepRow(number, "epoxy-primer", EVENING - begun * HOUR, closed)
        return StepSummary(row, "", "", "panel", False)

    steps = [step(n, 40 - n, 30 - n if n % 3 else None) for n in range(30)]
    found = lanes(steps, EVENING, timedelta(0))
    assert max(lane for lane, _ in found) == MOST_LANES - 1
    for lane in range(MOST_LANES):
        mine = [summary.row for at, summary in found if at == lane]
        for one, other in itertools.pairwise(mine):
            assert (one.closed_at or EVENING) <= other.mixed_at


@pytest.mark.parametrize(("hours", "named"), [(3.0, []), (12.0, ["lower corner patch"])])
def test_a_bar_has_no_name_where_only_its_first_letters_fit(hours: float, named: list[str]) -> None:
    row = StepRow(1, "epoxy-primer", EVENING - hours * HOUR, None)
    step = StepSummary(row, "lower corner patch", "", "panel", False)
    window = (EVENING - 24 * HOUR, EVENING + 12 * HOUR)
    screen = Screen("dark", "garage", 1740.0)
    names = bars([step], window, EVENING, lambda _: ("", ""), "y4", screen)[1]
    assert [name["text"] for name in names] == named


def labels(start: datetime, end: datetime, say: ReaderFormat = SAY) -> list[str]:
    return [text for _, text in time_ticks(start, end, 9, say)]


def test_marks_stand_on_the_wall_clock_over_a_clock_change() -> None:
    start, end = datetime(2026, 10, 24, 16, tzinfo=UTC), datetime(2026, 10, 26, 16, tzinfo=UTC)
    marks = time_ticks(start, end, 10, SAY)
    assert [text for _, text in marks] == [
        "18:00", "Sun 25", "06:00", "12:00", "18:00", "Mon 26", "06:00", "12:00",
    ]  # fmt: skip
    gaps = {(b - a) / 3_600_000 for (a, _), (b, _) in itertools.pairwise(marks)}
    assert gaps == {6.0, 7.0}


def test_marks_of_weeks_months_and_years_say_the_day_the_month_the_year() -> None:
    end = datetime(2026, 10, 14, 17, tzinfo=UTC)
    assert labels(end - 30 * DAY, end) == ["21 Sep", "28 Sep", "5 Oct", "12 Oct"]
    assert labels(end - 365 * DAY, end) == ["Nov", "2026", "Mar", "May", "Jul", "Sep"]
    assert labels(end - 3650 * DAY, end) == ["2018", "2020", "2022", "2024", "2026"]
    assert labels(end - 3 * HOUR, end, replace(SAY, hours=12))[0] == "4 pm"


def luminance(colour: str) -> float:
    parts = (int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_lines_keep_three_to_one_and_letters_four_and_a_half(theme: str) -> None:
    colours = palette(theme)
    for line in ("fg", "link", "amber", "dim", "outlook", "stop", "edge"):
        assert contrast(colours[line], colours["bg"]) >= 3, line
    for letters in ("fg", "dim", "stop"):
        assert contrast(colours[letters], colours["bg"]) >= 4.5, letters
    assert contrast("#14110a", colours["workable"]) >= 4.5
    assert contrast(colours["fg"], colours["cured"]) >= 4.5
