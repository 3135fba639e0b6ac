"""A product's times against the temperature: valid for plotly, and right by value."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import plotly.graph_objects as go
import pytest

from curewatch.cure.estimate import at_temperatures, estimate
from curewatch.formats import ReaderFormat
from curewatch.garage.shelf import find_sheet
from curewatch.plan.by_temperature import ByTemperature, by_temperature
from curewatch.products.sheet import generic_sheets, parse_sheet
from curewatch.wording import product_words
from dashboard.figures.by_temperature import ProductDrawing, figure
from dashboard.figures.palette import Screen
from tests.support.pages import EVENING, Garage, open_garage, weather

ADHESIVE = "epoxy-panel-adhesive"
SAY = ReaderFormat(ZoneInfo("Europe/Berlin"))
SCREENS = [
    Screen(theme, layout, width)
    for theme in ("dark", "light")
    for layout, width in (("garage", 1748.0), ("desk", 1224.0), ("phone", 366.0))
]


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garage]:
    """A day of weather, and a batch that was found over between two tests."""
    garage = open_garage(tmp_path_factory.mktemp("product"))
    garage.hear(weather(EVENING, hours=24))
    number = garage.mix(ADHESIVE, 300, part="door skin", amount_g=60.0)
    for result, after_min in (("still-works", 60), ("gone-off", 80)):
        at = EVENING - timedelta(minutes=300 - after_min)
        garage.bench.test(number, result, now=at, milestone="working_time")
    yield garage
    garage.store.close()


@pytest.fixture(scope="module")
def curve(garage: Garage) -> ByTemperature:
    return by_temperature(garage.bench, find_sheet(garage.store, ADHESIVE), "working_time", EVENING)


def drawn(screen: Screen = SCREENS[0], say: ReaderFormat = SAY) -> ProductDrawing:
    return ProductDrawing(EVENING, say, screen)


def trace(fig: dict[str, Any], name: str) -> dict[str, Any]:
    return next(each for each in fig["data"] if each.get("name") == name)


@pytest.mark.parametrize("screen", SCREENS, ids=str)
def test_the_figure_is_valid_on_every_screen(curve: ByTemperature, screen: Screen) -> None:
    found = go.Figure(figure(curve, drawn(screen)))
    assert found.layout.width == screen.width_px
    assert found.layout.font.size >= {"garage": 31, "desk": 16, "phone": 14}[screen.layout]


def test_the_line_is_what_the_model_says_at_that_temperature() -> None:
    sheet = generic_sheets()[ADHESIVE]
    times = estimate(sheet, temperature_c=20.0)["milestones"]
    working = next(time_ for time_ in times if time_["milestone"] == "working_time")
    (forecast,) = at_temperatures(sheet, (20.0,))
    assert forecast.by_name["working_time"].likely_min == pytest.approx(working["likely_min"])


def test_colder_is_slower_and_the_label_s_row_is_where_it_says(curve: ByTemperature) -> None:
    likely = [time.likely_min or 0.0 for time in curve.times]
    assert likely == sorted(likely, reverse=True)
    rows = trace(figure(curve, drawn()), "label")
    assert (rows["x"], rows["y"]) == ([21.0], [50.0])


def test_a_batch_is_a_dot_with_a_line_back_to_the_last_not_yet(curve: ByTemperature) -> None:
    (batch,) = curve.batches
    assert (batch.reached_min, batch.not_yet_min) == (80.0, 60.0)
    dots = trace(figure(curve, drawn()), "batches")
    assert dots["y"] == [80.0]
    assert dots["error_y"]["arrayminus"] == [20.0]
    assert "not yet at 1 h, working time found at 1 h 20" in dots["text"][0]


def test_the_forecast_and_the_surface_now_are_shown_in_the_reader_s_unit(
    curve: ByTemperature,
) -> None:
    assert curve.forecast_c is not None
    fig = figure(curve, drawn(say=replace(SAY, unit="F")))
    shade = fig["layout"]["shapes"][1]
    assert shade["x0"] == pytest.approx(curve.forecast_c[0] * 1.8 + 32)
    assert "°F" in fig["layout"]["annotations"][0]["text"]


def test_too_cold_is_said_instead_of_a_time(curve: ByTemperature) -> None:
    cold = replace(curve, surface_c=6.0)
    text = product_words.now_sentence(cold, SAY)
    assert text == "Too cold now: surface 6.0 °C, this product needs 10 °C."
    assert "type a reading" in product_words.now_sentence(replace(curve, surface_c=None), SAY)


def test_an_empty_garage_and_a_label_of_one_time_have_a_valid_figure(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    text = 'name = "x"\nkind = "primer"\nchemistry = "waterborne"\n[[times]]\n'
    sheet = parse_sheet(f'{text}temperature = "20 C"\nsand_ready = "2 h"\n', "x")
    alone = by_temperature(garage.bench, sheet, "sand_ready", EVENING)
    assert (alone.batches, alone.forecast_c, alone.surface_c) == ((), None, None)
    go.Figure(figure(alone, drawn()))
    garage.store.close()
