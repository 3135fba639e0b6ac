"""The log's pictures: valid for plotly, right by value, as high as the style sheet expects."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from urllib.parse import unquote
from zoneinfo import ZoneInfo

import numpy as np
import plotly.graph_objects as go
import pytest

from curewatch.climate.conditions import constant
from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.inputs import Mix
from curewatch.formats import ReaderFormat
from curewatch.logbook import predictions
from curewatch.logbook.courses import StepCourse, ages, course
from curewatch.products.sheet import generic_sheets
from curewatch.wording import log_words
from dashboard.figures import job, overlay, predicted
from dashboard.figures.palette import Screen, palette
from dashboard.figures.sizes import ROW_PX
from dashboard.figures.spark import spark
from tests.support.pages import EVENING, Garage, open_garage, weather

SAY = ReaderFormat(ZoneInfo("Europe/Berlin"))
ADHESIVE = "epoxy-panel-adhesive"
SCREENS = [
    Screen(theme, layout, width)
    for theme, layout, width in (
        ("dark", "garage", 1748.0),
        ("light", "desk", 1224.0),
        ("dark", "phone", 366.0),
    )
]


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garage]:
    """Three batches of one product, each looked at, the third not ready when last tested."""
    garage = open_garage(tmp_path_factory.mktemp("log"))
    garage.hear(weather(EVENING))
    for ago_min in (2000, 1500, 600):
        number = garage.mix(ADHESIVE, ago_min, part=f"part {ago_min}", job="corner")
        mixed = EVENING - timedelta(minutes=ago_min)
        garage.bench.witness(number, "tacky", now=mixed + timedelta(minutes=100))
        result = "not-yet" if ago_min == 600 else "reached"
        at = mixed + timedelta(minutes=500)
        garage.bench.test(number, result, now=at, milestone="clamp_time", sure=True)
    yield garage
    garage.store.close()


def courses(garage: Garage) -> list[StepCourse]:
    return [course(garage.bench, garage.bench.step(n), EVENING) for n in (1, 2, 3)]


@pytest.mark.parametrize("screen", SCREENS, ids=str)
def test_every_figure_of_the_log_is_valid_and_a_whole_number_of_rows_high(
    garage: Garage, screen: Screen
) -> None:
    told = predictions.of_product(garage.bench, ADHESIVE, EVENING)
    steps = garage.store.step_summaries()
    for drawn in (
        overlay.figure(courses(garage), False, SAY, screen),
        overlay.figure(courses(garage), True, SAY, screen),
        predicted.figure(told, screen),
        job.figure(steps, EVENING, lambda step: step.part, SAY, screen),
    ):
        found = go.Figure(drawn)
        assert found.layout.width == screen.width_px
        assert found.layout.height % ROW_PX == 0
        assert found.layout.font.size == screen.font_px


def test_steps_begin_together_and_what_was_found_stands_in_a_row_of_its_own(garage: Garage) -> None:
    drawn = overlay.figure(courses(garage), False, SAY, SCREENS[1])
    lines = [
        each for each in drawn["data"] if each["mode"] == "lines" and "fillgradient" not in each
    ]
    assert [line["x"][0] for line in lines] == [0.0, 0.0, 0.0]
    assert len({(line["line"]["color"], line["line"]["dash"]) for line in lines}) == 3
    seen = [
        each for each in drawn["data"] if isinstance(each.get("marker", {}).get("symbol"), list)
    ]
    symbols = [each["marker"]["symbol"] for each in seen]
    assert symbols == [["diamond"]] * 3 + [["circle"], ["circle"], ["triangle-up-open"]]
    assert seen[0]["text"] == ["dab tacky<br>1 h 40 after mixing"]
    rows = [each["y"][0] for each in seen]
    assert rows == sorted(set(rows))
    headings = [each["text"] for each in drawn["layout"]["annotations"]][1:3]
    assert headings == ["dab check", "clamps off"]


def test_at_the_label_s_temperature_the_equivalent_age_is_the_time(garage: Garage) -> None:
    """A limiting case: the Arrhenius factor is 1 at the reference temperature."""
    sheet = generic_sheets()[ADHESIVE]
    mix = Mix(EVENING)
    label_c = sheet.reference.temperature_c

    def aged(surface_c: float) -> tuple[FloatArray, FloatArray]:
        air = constant(EVENING, 600.0, surface_c=surface_c, humidity_pct=50.0)
        return ages(sheet, mix, air)

    times, age = aged(label_c)
    assert age == pytest.approx(times)
    assert np.all(aged(label_c - 5.0)[1][1:] < times[1:])


def test_along_its_age_a_step_shows_no_prediction_for_times_to_come(garage: Garage) -> None:
    step = garage.bench.step(1)
    young = replace(course(garage.bench, step, step.mixed_at + timedelta(hours=1)), marks=())

    def bands(by_age: bool) -> list[float]:
        drawn = overlay.figure([young], by_age, SAY, SCREENS[1])
        return [each["x"][0] for each in drawn["data"] if "fillgradient" in each]

    assert len(bands(False)) >= 2
    assert all(at > 1.0 for at in bands(False))
    assert bands(True) == []


def test_a_band_of_the_prediction_reaches_from_early_to_late_over_the_likely_time(
    garage: Garage,
) -> None:
    told = predictions.of_product(garage.bench, ADHESIVE, EVENING)
    points = predicted.tested(told)["clamp_time"]
    assert [point.step for point in points] == [1, 2, 3]
    first, last = points[0], points[-1]
    assert first.seen == 500 / (first.prediction.likely_min or 0)
    assert (last.seen, last.inside) == (None, False)
    drawn = predicted.figure(told, SCREENS[0])
    bands = [each for each in drawn["data"] if "fillgradient" in each]
    assert len(bands) == len(points)
    assert max(bands[0]["y"]) == pytest.approx(min(first.late, predicted.MOST))
    assert min(bands[0]["y"]) == pytest.approx(first.early)
    assert drawn["layout"]["xaxis"]["ticktext"] == ["step 1", "step 2", "step 3"]
    assert "2 tested: " in predicted.sentence(points, SAY)
    assert "it came 1.5 times as late as predicted." in log_words.hits([(0.5, 1.5, 2.0)], SAY)


def test_a_job_has_one_lane_a_part_and_its_steps_in_it(garage: Garage) -> None:
    steps = garage.store.step_summaries()
    drawn = job.figure(steps, EVENING, lambda step: step.part, SAY, SCREENS[2])
    assert [each["text"] for each in drawn["layout"]["annotations"]] == [
        "part 2000",
        "part 1500",
        "part 600",
    ]
    assert [each["text"] for each in drawn["data"]] == ["part 2000", "part 1500", "part 600"]


def test_a_part_s_name_stands_beside_its_bars_where_there_is_room(garage: Garage) -> None:
    """Across a wide figure the eye cannot follow a row from the name to a bar at its other end."""
    steps = garage.store.step_summaries()
    drawn = job.figure(steps, EVENING, lambda step: step.part, SAY, SCREENS[0])
    names = drawn["layout"]["annotations"]
    bars = drawn["data"]
    assert (names[0]["x"], names[0]["xanchor"]) == (max(bars[0]["x"]), "right")
    assert names[0]["y"] < min(bars[0]["y"]), "the first takes the width"
    for named, drawn_bar in list(zip(names, bars, strict=True))[1:]:
        beside = max if named["xanchor"] == "left" else min
        assert (named["xref"], named["x"]) == ("x", beside(drawn_bar["x"]))
        assert min(drawn_bar["y"]) < named["y"] < max(drawn_bar["y"])


def test_a_spark_shows_the_minimum_only_where_it_is_near() -> None:
    near = unquote(spark([(0.0, 12.0), (0.5, 9.0), (1.0, 11.0)], 10.0, "dark"))
    assert near.startswith("data:image/svg+xml,<svg ")
    assert palette("dark")["stop"] in near
    far = unquote(spark([(0.0, 21.0), (1.0, 22.0)], 10.0, "light"))
    assert palette("light")["stop"] not in far
    points = re.findall('points="(.*?)"', near)[0]
    heights = [float(point.partition(",")[2]) for point in points.split()]
    assert heights[1] == max(heights)
    assert spark([(0.0, 12.0)], 10.0, "dark") == ""
