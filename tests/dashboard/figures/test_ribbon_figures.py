"""The ribbons as plotly draws them: valid, at the right instants, readable, and they tell why."""

from __future__ import annotations

import itertools
from dataclasses import replace
from zoneinfo import ZoneInfo

import plotly.graph_objects as go
import pytest

from curewatch.bench.views import BenchView
from curewatch.formats import ReaderFormat
from curewatch.walltime import to_ms
from curewatch.wording.words import step_names
from dashboard.figures.palette import Figure, Screen, palette
from dashboard.figures.ribbons import axis
from dashboard.figures.ribbons.figure import RibbonPicture, picture
from dashboard.figures.ribbons.lanes import RibbonRoom, RibbonRow, rows
from dashboard.figures.ribbons.of_step import hover_of, lane_of, said_of
from dashboard.figures.sizes import text_px
from tests.support.bench_views import ADHESIVE, NOW, PRIMER, at, bench, step, track

SAY = ReaderFormat(ZoneInfo("Europe/Berlin"))
SHEETS = ("epoxy-panel-adhesive", "epoxy-primer")
GARAGE = RibbonRoom(1740, 420, Screen("dark", "garage", 1740))
ROOMS = [
    GARAGE,
    RibbonRoom(1108, 260, Screen("dark", "garage", 1108)),
    RibbonRoom(1220, 420, Screen("light", "desk", 1220)),
    RibbonRoom(366, 420, Screen("dark", "phone", 366)),
]


def many(count: int) -> BenchView:
    steps = [
        step(n, SHEETS[n % 2], -60 - n, (ADHESIVE, PRIMER)[n % 2], part=f"part {n}")
        for n in range(1, count + 1)
    ]
    return bench(*steps, panel=track(dew=(300, 500)))


def drawn(view: BenchView, room: RibbonRoom = GARAGE, span: float | None = None) -> RibbonPicture:
    names = step_names(view.steps, NOW, SAY)
    lanes = [lane_of(each, names[each.id], NOW, SAY) for each in view.steps]
    return picture(lanes, axis.choose(view, span), NOW, room, SAY, view.track)


def words(figure: Figure) -> list[str]:
    return [each["text"] for each in figure["layout"]["annotations"]]


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("count", [0, 1, 3, 6, 12])
def test_a_picture_is_one_that_plotly_takes(room: RibbonRoom, count: int) -> None:
    figure = drawn(many(count), room).figure
    go.Figure(figure)
    assert "19:42" in words(figure)
    assert figure["layout"]["width"] + room.names_px == pytest.approx(room.width, abs=1)


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("count", [1, 3, 6, 12])
def test_rows_keep_apart_and_their_letters_can_be_read(room: RibbonRoom, count: int) -> None:
    held = drawn(many(count), room).rows
    least = {"garage": 14.0, "desk": 16.0, "phone": 15.0}[room.screen.layout]
    for row, after in zip(held.rows, [*held.rows[1:], None], strict=True):
        assert row.font_px >= least
        assert row.top + row.height <= (after.top if after else held.height) + 0.1
        assert row.height >= row.font_px
    if room.screen.layout != "phone":
        assert held.height == room.height
        assert held.rows[-1].top + held.rows[-1].height <= room.height - room.axis_px + 0.1


def test_twelve_steps_have_letters_of_31_px_in_a_room_of_a_large_screen() -> None:
    room = RibbonRoom(1740, 480, Screen("dark", "garage", 1740))
    assert {round(ribbon_row.font_px) for ribbon_row in drawn(many(12), room).rows.rows} == {31}


def extents(figure: Figure) -> list[tuple[float, float, float]]:
    """Each written word: its height, its left and its right end. [px]"""
    layout = figure["layout"]
    begin, end = layout["xaxis"]["range"]
    placed = []
    for each in layout["annotations"]:
        font = each["font"]["size"]
        x = (each["x"] - begin) / (end - begin) * layout["width"]
        wide = text_px(each["text"], font) * 0.9
        left = x if each.get("xanchor") == "left" else x - wide / 2
        placed.append((each["y"], left, left + wide))
    return placed


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("count", [1, 3, 6, 12])
def test_no_word_leaves_the_picture_or_touches_another_in_its_row(
    room: RibbonRoom, count: int
) -> None:
    figure = drawn(many(count), room).figure
    placed = sorted(extents(figure))
    for one, other in itertools.pairwise(placed):
        if other[0] - one[0] < 1:
            assert one[2] <= other[1] + 0.5
    for _, left, right in placed:
        assert left >= -1
        assert right <= figure["layout"]["width"] + 1


def test_a_stretch_stands_at_its_instants_with_a_border_as_wide_as_its_band() -> None:
    view = bench(step(1, "epoxy-panel-adhesive", -60, ADHESIVE))
    colour = palette("dark")["setting"]
    assert colour == "#6d4a08"
    filled = [each for each in drawn(view).figure["data"] if "fillgradient" in each]
    setting = next(
        each for each in filled if each["fillgradient"]["colorscale"][-1][1] == "rgba(109,74,8,1)"
    )
    assert setting["x"][:2] == [to_ms(at(4)), to_ms(at(200))]
    stops = setting["fillgradient"]["colorscale"]
    assert stops[0] == [0, "rgba(109,74,8,0)"]
    assert stops[-2][0] == pytest.approx(10 / 196, abs=1e-4)


def test_neighbours_differ_in_pattern_too() -> None:
    found = drawn(many(2), span=1440).figure["data"]
    shown = {
        str(each["fillpattern"].get("shape", "own")) for each in found if "fillpattern" in each
    }
    assert {".", "/", "\\", "own"} <= shown


def test_a_touch_tells_when_how_sure_and_why_and_leads_to_the_step() -> None:
    held = step(7, "epoxy-panel-adhesive", -60, ADHESIVE)
    texts = hover_of(held, "roof <seam>", NOW, SAY)
    assert texts[1].startswith(
        "roof &lt;seam&gt;: clamps on<br>since between 19:12 and 19:32, until"
    )
    assert "between 19:46 and 19:56 (9 in 10)" in texts[1].replace("<br>", " ")
    assert "panel 13.5 °C" in texts[1]
    spots = [each for each in drawn(bench(held)).figure["data"] if each.get("hoveron") == "fills"]
    assert {spot["meta"] for spot in spots} == {"/step/7"}
    edges = [spot["x"] for spot in spots]
    assert all(one[1] == other[0] for one, other in itertools.pairwise(edges))


def test_two_batches_on_one_part_are_called_by_when_they_were_mixed() -> None:
    one, other = (step(n, "epoxy-primer", -10.0 * n, PRIMER, part="roof seam") for n in (1, 2))
    third = step(3, "epoxy-primer", -10, PRIMER, part="wheel arch")
    assert step_names((one, other, third), NOW, SAY) == {
        1: "roof seam, 19:32",
        2: "roof seam, 19:22",
        3: "wheel arch",
    }


def test_a_ribbon_has_a_sentence_for_those_who_do_not_see_it() -> None:
    text = said_of(step(1, "epoxy-panel-adhesive", -60, ADHESIVE), "door skin", NOW, SAY)
    assert text.startswith("door skin, Two-part epoxy panel adhesive: clamps on")
    assert "clamps off between 19:46 and 19:56" in text


def test_how_it_would_be_otherwise_stands_under_how_it_is() -> None:
    now, warm = (step(1, "epoxy-panel-adhesive", -60, ADHESIVE) for _ in range(2))
    lane = lane_of(now, "door skin", NOW, SAY, warm)
    found = picture([lane], axis.choose(bench(now)), NOW, GARAGE, SAY)
    tops = {each["y"][0] for each in found.figure["data"] if "fillgradient" in each}
    assert len(tops) == 2


def test_only_on_the_phone_the_axis_stays_where_it_is() -> None:
    for room in ROOMS:
        layout = drawn(many(2), room).figure["layout"]
        phone = room.screen.layout == "phone"
        assert layout["dragmode"] == (False if phone else "pan")
        assert layout["xaxis"]["fixedrange"] is phone


def test_the_least_temperature_and_the_dew_are_said_under_few_ribbons() -> None:
    figure = drawn(many(2), span=1440).figure
    assert "below 10 °C Two-part epoxy primer stops curing" in words(figure)
    assert "dew risk" in words(figure)
    reader = next(each for each in figure["data"] if each.get("name") == "reader")
    assert reader["text"][0] == "17:42: 16.0 °C"
    assert drawn(many(12)).rows.track is None


@pytest.mark.parametrize(("lanes", "high"), [(1, 203.0), (3, 310.0)])
def test_the_temperature_is_drawn_lower_where_a_question_takes_its_room(
    lanes: int, high: float
) -> None:
    """One step with a sentence over it, three steps with a question, both at 1920x1080."""
    found = drawn(many(lanes), replace(GARAGE, height=high)).rows
    assert found.track
    top, foot = found.track
    assert foot - top > 2 * GARAGE.font_px
    assert all(row.bar_height > 20 for row in found.rows)


def test_rows_without_lanes_are_none() -> None:
    ribbon_rows: tuple[RibbonRow, ...] = rows([], [], GARAGE, track=True).rows
    assert ribbon_rows == ()
