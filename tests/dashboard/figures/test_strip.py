"""The week's strip: evenings wide and nights narrow on one axis, every step where its time is."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import plotly.graph_objects as go
import pytest

from curewatch.formats import ReaderFormat
from dashboard.figures.palette import Screen
from dashboard.figures.ribbons.folded import FoldedAxis, FoldedSpell
from dashboard.figures.ribbons.strip import (
    StripCourse,
    StripDrawing,
    StripPart,
    StripStep,
    figure,
)

NOW = datetime(2026, 10, 14, 12, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
SPELLS = [
    FoldedSpell(NOW + at * HOUR, NOW + (at + long) * HOUR, NOW + (at + 2) * HOUR)
    for at, long in ((4, 4.5), (28, 4.5), (68, 9))
]
SAY = ReaderFormat(ZoneInfo("Europe/Berlin"))
DESK = Screen("light", "desk", 1240.0)


def drawing(**more: Any) -> StripDrawing:
    """An evening's work on two parts."""
    start = SPELLS[0].start
    ready = (start + 3 * HOUR, start + 5 * HOUR, start + 9 * HOUR)
    steps = [
        StripStep(0, 1, "", start, start + HOUR, start + 0.5 * HOUR, (), "sand"),
        StripStep(1, 2, "adhesive", start + HOUR, start + 2 * HOUR, start + HOUR, ready, "bond"),
        StripStep(0, 3, "primer", SPELLS[1].start, SPELLS[1].end, SPELLS[1].end, (None,) * 3, "x"),
    ]
    times = [NOW + n * HOUR for n in range(0, 78, 2)]
    course = StripCourse(times, [15.0] * 39, [12.0] * 39, [18.0] * 39)
    parts = [StripPart("Rear corner", SPELLS[1].end), StripPart("Lid", None)]
    least = [("below 10 °C 2 products stop curing", 10.0)]
    return StripDrawing(NOW, SPELLS, parts, steps, course, least, SAY, more.get("screen", DESK))


def test_time_runs_to_the_right_and_a_night_is_narrower_than_an_evening() -> None:
    axis = FoldedAxis(NOW, SPELLS, 100.0, 1100.0)
    places = [axis.x(NOW + n * HOUR / 4) for n in range(-8, 400)]
    assert places == sorted(places)
    assert (places[0], places[-1]) == (100.0, 1100.0)
    widths = {stretch.spell: stretch.right - stretch.left for stretch in axis.stretches}
    night = widths.pop(None)
    assert all(width > 3 * night for width in widths.values())
    assert axis.x(SPELLS[1].start) == pytest.approx(
        next(stretch.left for stretch, spell in axis.there() if spell == SPELLS[1])
    )


def test_somebody_who_is_there_now_has_no_night_before() -> None:
    spell = FoldedSpell(NOW, NOW + HOUR, NOW)
    (stretch,) = FoldedAxis(NOW, [spell], 0.0, 10.0).stretches
    assert (stretch.left, stretch.right, stretch.spell) == (0.0, 10.0, spell)


@pytest.mark.parametrize("theme", ["dark", "light"])
def test_the_strip_is_a_figure_whose_steps_can_be_read_in_order(theme: str) -> None:
    drawn = drawing(screen=Screen(theme, "desk", 1240.0))
    picture = figure(drawn)
    go.Figure(picture)
    reader = picture["data"][-1]
    assert reader["text"] == ["1. sand", "2. bond", "3. x"]
    axis = drawn.axis
    assert [axis.x(SPELLS[0].start) < x < axis.x(SPELLS[0].end) for x in reader["x"]] == [
        True, True, False,
    ]  # fmt: skip
    assert picture["layout"]["height"] % 120 == 0


def test_names_days_and_the_least_temperature_stand_beside_it_in_words() -> None:
    said = [note["text"] for note in figure(drawing())["layout"]["annotations"]]
    for text in ("Wed 14", "Thu 15", "Sat 17", "18:00 to 22:30", "Rear corner", "Lid", "1", "3",
                 "may be loud", "below 10 °C 2 products stop curing"):  # fmt: skip
        assert text in said
    assert not any("<" in text for text in said)  # the page's policy takes no style in a text


def test_what_cures_fades_from_its_earliest_to_its_latest_end() -> None:
    drawn = drawing()
    shades = [
        shape for shape in figure(drawn)["layout"]["shapes"]
        if shape["type"] == "rect" and shape["y1"] == drawn.row_y(1, 0.95)
    ]  # fmt: skip
    assert len(shades) == 5
    lasts = [float(shape["fillcolor"].rpartition(",")[2].strip(")")) for shape in shades]
    assert lasts == sorted(lasts, reverse=True)
