"""The pictures of the night, of vapour and of each sensor's day: valid, right by value."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

import plotly.graph_objects as go
import pytest

from curewatch.climate.flag import Flag
from curewatch.climate.reading import Reading
from curewatch.formats import ReaderFormat
from curewatch.garage import parts
from curewatch.garage.shelf import find_sheet
from curewatch.logbook.air_history import air_history
from curewatch.plan.morning import Morning, morning
from curewatch.plan.night_course import night_courses
from curewatch.protection.airing import Airing, airing, course, level_lines
from curewatch.protection.ventilation import Room
from curewatch.walltime import to_ms
from dashboard.figures import night, sensor_days, vapour
from dashboard.figures.night import NightDrawing
from dashboard.figures.palette import Screen, palette
from dashboard.figures.sensor_days import DAY, SensorDrawing
from dashboard.figures.vapour import VapourDrawing
from tests.support.pages import EVENING, Garage, open_garage, weather

BERLIN = ZoneInfo("Europe/Berlin")
SAY = ReaderFormat(BERLIN)
SCREENS = [
    Screen(theme, layout, width)
    for theme in ("dark", "light")
    for layout, width in (("garage", 1748.0), ("desk", 1224.0), ("phone", 366.0))
]
HOUR = timedelta(hours=1)


@pytest.fixture(scope="module")
def garage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Garage]:
    """A morning after a night that was too cold from midnight: a step that got part of what it
    needs, one that got enough before, a bare part; a flagged reading."""
    garage = open_garage(tmp_path_factory.mktemp("night"))
    garage.hear(weather(EVENING))
    garage.mix("epoxy-panel-adhesive", 20, part="lower patch")
    garage.mix("urethane-panel-adhesive", 100, part="left rear rib")
    garage.mix("epoxy-panel-adhesive", 20, part="seat mount")
    parts.mark(garage.store, "seat mount", "", "structural", now=EVENING)
    parts.bared(garage.store, "door skin", "", now=EVENING, since=EVENING - HOUR)
    garage.clock.at += timedelta(hours=10, minutes=48)
    garage.hear(weather(garage.clock.at, 11.0, hours=11))
    flag = Flag("spike", gap=9.0, seconds=60.0)
    garage.hear([Reading("panel", "surface_temperature", 40.0, EVENING, "probe", flag)])
    yield garage
    garage.store.close()


def last_night(garage: Garage, screen: Screen = SCREENS[0]) -> NightDrawing:
    found: Morning = morning(garage.bench, garage.clock(), BERLIN)
    air = air_history(garage.store, found.start, found.end, limit_c=10.0)
    return NightDrawing(found, night_courses(garage.bench, found), air, SAY, screen)


def texts(fig: dict[str, Any]) -> list[str]:
    return [note["text"] for note in fig["layout"]["annotations"]]


def letters_px(fig: dict[str, Any], screen: Screen) -> None:
    """No letter is smaller than its layout's least."""
    least = {"garage": 31, "desk": 16, "phone": 14}[screen.layout] * 0.9 - 0.01
    found = go.Figure(fig)
    assert found.layout.font.size >= least
    for note in fig["layout"]["annotations"]:
        assert note.get("font", {}).get("size", least) >= least
    assert found.layout.width == screen.width_px


@pytest.mark.parametrize("screen", SCREENS, ids=str)
def test_the_night_s_figure_is_valid_with_letters_to_read(garage: Garage, screen: Screen) -> None:
    drawn = last_night(garage, screen)
    fig = night.figure(drawn)
    letters_px(fig, screen)
    assert fig["layout"]["height"] == round(night.height_em(3) * screen.font_px)


def test_each_step_s_lane_ends_with_what_the_morning_s_lines_say(garage: Garage) -> None:
    drawn = last_night(garage)
    assert [getattr(lane, "structural", False) for lane in drawn.lanes] == [False] * 3
    first = drawn.courses[1]
    assert first.shares[0] == pytest.approx(0, abs=0.001)
    assert first.shares[-1] == pytest.approx(first.progress.age_min / first.progress.needed_min)
    assert list(first.shares) == sorted(first.shares)
    said = texts(night.figure(drawn))
    assert f"clamps off: {100 * first.shares[-1]:.0f} %" in said
    assert "clamps off: probably enough" in said
    assert "bare metal: stayed dry" in said


def test_a_spell_of_cold_is_striped_where_it_was(garage: Garage) -> None:
    fig = night.figure(last_night(garage))
    striped = [each for each in fig["data"] if "fillpattern" in each]
    (spell,) = morning(garage.bench, garage.clock(), BERLIN).steps[0].night.stalled
    assert striped[0]["x"][:2] == [to_ms(spell.start), to_ms(spell.end)]
    assert striped[0]["fillpattern"]["fgcolor"] == palette("dark")["stalled-mark"]
    assert "not curing" in striped[0]["text"]


def test_the_keys_read_what_every_step_had_got_at_a_moment(garage: Garage) -> None:
    fig = night.figure(last_night(garage))
    reader = next(each for each in fig["data"] if each.get("name") == night.READER)
    assert "surface " in reader["text"][-1]
    assert "lower patch 6" in reader["text"][-1]
    assert "left rear rib enough" in reader["text"][-1]
    assert "lower patch" not in reader["text"][0]


def test_a_night_without_anything_is_valid_too(garage: Garage) -> None:
    found = Morning(EVENING, EVENING - HOUR, EVENING, (), ())
    air = air_history(garage.store, EVENING - 900 * DAY, EVENING - 899 * DAY, limit_c=10.0)
    go.Figure(night.figure(NightDrawing(found, {}, air, SAY, SCREENS[0])))


def primed(garage: Garage, amount_g: float = 300.0) -> Airing:
    return airing(
        Room(60, 300), find_sheet(garage.store, "epoxy-primer"), amount_g=amount_g, over_min=30
    )


def smelt(garage: Garage, screen: Screen = SCREENS[0]) -> VapourDrawing:
    found = primed(garage)
    assert found.level
    return VapourDrawing(found, found.level, SAY, screen)


def test_vapour_builds_up_to_the_level_said_and_clears_as_the_purge_says(garage: Garage) -> None:
    found = primed(garage)
    times, values, still = course(found)
    assert found.level
    assert found.purge
    assert max(values) == pytest.approx(found.level.ppm)
    assert times[values.index(max(values))] == 30
    assert values[-1] == pytest.approx(0.01 * max(values))
    assert times[-1] == pytest.approx(30 + found.purge["99"])
    assert len(times) == len(values) == len(still)
    assert still[-1] / max(values) == pytest.approx(found.level.still_mg_m3 / found.level.mg_m3)


def test_the_vapour_is_said_as_a_share_of_what_can_explode(garage: Garage) -> None:
    """Xylene's lower explosive limit is 0.9 % in air, 9,000 ppm (NIOSH, May 1994)."""
    found = primed(garage)
    assert found.level
    assert found.level.ppm
    text = " ".join(level_lines(found, SAY))
    share = f"{found.level.ppm / 9000 * 100:.2g} % of the lower explosive limit"
    assert f"{share}; the fire limit is 10 % of it, 900 ppm" in text


@pytest.mark.parametrize("screen", SCREENS, ids=str)
def test_the_vapour_s_figure_is_valid_and_shows_both_limits(garage: Garage, screen: Screen) -> None:
    fig = vapour.figure(smelt(garage, screen))
    letters_px(fig, screen)
    assert {"50 ppm exposure limit", "900 ppm, a tenth of the explosive limit"} <= {*texts(fig)}
    heights = [shape["y0"] for shape in fig["layout"]["shapes"] if shape["type"] == "line"]
    assert heights == [50, pytest.approx(900)]
    least, most = fig["layout"]["yaxis"]["range"]
    assert 10**least < 50 < 900 < 10**most


def test_the_keys_read_how_far_above_the_limit_the_room_is(garage: Garage) -> None:
    drawn = smelt(garage)
    assert drawn.hover(30, 380.6) == "30 min: about 380 ppm<br>7.6 times the limit"
    assert drawn.hover(90, 40.0) == "1 h after the last: about 40 ppm"


def test_a_solvent_without_a_limit_is_drawn_without_one(garage: Garage) -> None:
    text = find_sheet(garage.store, "epoxy-primer").text.replace('"xylene"', '"turpentine"')
    garage.store.save_sheet("odd", text, EVENING)
    found = airing(Room(60, 300), find_sheet(garage.store, "odd"), amount_g=300.0)
    assert found.level
    drawn = VapourDrawing(found, found.level, SAY, SCREENS[0])
    assert drawn.unit == "mg/m³"
    fig = vapour.figure(drawn)
    go.Figure(fig)
    assert not any("limit" in text for text in texts(fig))


@pytest.mark.parametrize("screen", SCREENS, ids=str)
def test_every_sensor_s_day_is_a_lane_of_its_own(garage: Garage, screen: Screen) -> None:
    now = garage.clock()
    days = sensor_days.sensor_days(
        garage.store.latest(now),
        garage.store.readings(now - DAY, now, bucket_s=600),
        garage.store.flagged(now - DAY, now, DAY / 96, 200),
    )
    fig = sensor_days.figure(SensorDrawing(now, days, SAY, screen))
    letters_px(fig, screen)
    assert len(days) == 5
    said = texts(fig)
    assert "air temperature" in said, "its topic stands in the table"
    assert "none used" in said
    assert "72 %" in said
    twin = replace(days[0], last=replace(days[0].last, source="spare"))
    alike = texts(sensor_days.figure(SensorDrawing(now, [*days, twin], SAY, screen)))
    assert any(text.endswith(", mqtt") for text in alike)
    assert any(text.endswith(", spare") for text in alike)
    crosses = [each for each in fig["data"] if each["mode"] == "markers"]
    assert len(crosses) == 1
    assert "40.0 °C, not used: jumped, and came back" in crosses[0]["text"][0]
