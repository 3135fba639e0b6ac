"""The ribbons: where things stand, that words keep apart, that nothing leaves the drawing."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.views import BenchView
from curewatch.wording.words import ReaderFormat
from dashboard import axis, ribbons
from dashboard.axis import Axis
from dashboard.drawing import Size, cut, text_px
from dashboard.lettering import Word, divided, fitting, placed
from dashboard.segments import present, segments
from tests.support.bench_views import ADHESIVE, NOW, PRIMER, at, bench, milestone, step, track

MANNER = ReaderFormat(ZoneInfo("Europe/Berlin"))
GARAGE = Size(1740, 400, 26, 304)
PHONE = Size(366, 420, 13, 0)
SHEETS = ("epoxy-panel-adhesive", "epoxy-primer")
SVG = "{http://www.w3.org/2000/svg}"


def drawn(view: BenchView, size: Size = GARAGE, span: float | None = None) -> ET.Element:
    text = ribbons.bench(view, size, MANNER, axis.choose(view, span))
    return ET.fromstring(text.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))


def texts(root: ET.Element) -> list[str]:
    return [each.text or "" for each in root.iter(f"{SVG}text")]


def two_steps() -> BenchView:
    adhesive = step(1, "epoxy-panel-adhesive", -60, ADHESIVE)
    primer = step(2, "epoxy-primer", -20, PRIMER, part="roof seam")
    return bench(adhesive, primer, panel=track(dew=(300, 500)))


def test_an_adhesive_goes_from_workable_over_clamps_to_the_sand_test() -> None:
    held = segments(step(1, "epoxy-panel-adhesive", -60, ADHESIVE))
    assert [each.kind for each in held] == ["workable", "clamped", "setting", "ready", "cured"]
    assert held[1].word == "clamps on"
    assert held[3].word == "sand test"


def test_a_primer_has_a_recoat_window_that_shuts() -> None:
    held = segments(step(2, "epoxy-primer", -20, PRIMER))
    assert [each.kind for each in held] == ["workable", "setting", "window", "shut"]


def test_a_border_is_as_wide_as_early_to_late() -> None:
    held = segments(step(1, "epoxy-panel-adhesive", -60, ADHESIVE))
    assert held[2].start.early == at(4)
    assert held[2].start.late == at(14)
    assert held[1].end == held[2].start


def test_a_stalled_step_says_too_cold_and_never_cured() -> None:
    held = segments(step(1, "epoxy-panel-adhesive", -60, ADHESIVE, stalled_from=30))
    assert [each.kind for each in held] == ["workable", "stalled"]
    assert held[-1].word == "below its minimum"
    assert held[-1].end is None


def test_the_working_time_of_a_step_in_the_cold_is_drawn_to_its_end() -> None:
    cold = step(1, "epoxy-panel-adhesive", -60, ADHESIVE, stalled_from=0)
    wet = milestone("working_time", 20, 60, 110)
    held = segments(replace(cold, milestones=(wet, *cold.milestones[1:])))
    assert [each.kind for each in held] == ["workable", "stalled"]
    assert (held[1].start.early, held[1].start.late) == (wet.early, wet.late)


def test_a_step_says_in_a_word_what_it_does_now() -> None:
    assert present(step(1, "epoxy-panel-adhesive", -60, ADHESIVE), NOW) == "clamps on"


def test_the_drawing_holds_parts_words_and_the_time() -> None:
    said = texts(drawn(two_steps()))
    for wanted in ("lower corner patch", "roof seam", "workable", "clamps on", "19:42", "panel"):
        assert wanted in said
    assert not [text for text in said if re.search(r"\bready\b", text)]


def test_each_ribbon_is_a_link_with_a_name() -> None:
    links = {
        each.get("href"): each.get("aria-label", "") for each in drawn(two_steps()).iter(f"{SVG}a")
    }
    assert set(links) == {"/step/1", "/step/2"}
    assert links["/step/1"].startswith(
        "lower corner patch, Two-part epoxy panel adhesive: clamps on"
    )
    assert "clamps off between 19:46 and 19:56" in links["/step/1"]


def test_the_least_temperature_and_the_dew_are_drawn_under_the_ribbons() -> None:
    root = drawn(two_steps(), span=1440)
    assert "dew risk" in texts(root)
    assert any(text.startswith("10 °C: minimum of Two-part epoxy primer") for text in texts(root))
    assert root.find(f".//{SVG}polygon[@class='outlook']") is not None


def test_a_segments_pattern_differs_from_its_neighbours() -> None:
    filled = [each.get("fill") for each in drawn(two_steps()).iter(f"{SVG}rect")]
    assert {"url(#p-clamped)", "url(#p-setting)", "url(#p-window)"} <= set(filled)


@pytest.mark.parametrize(
    "size", [GARAGE, PHONE, Size(1160, 300, 17.6, 203), Size(1180, 420, 15, 200)]
)
@pytest.mark.parametrize("count", [1, 3, 6, 12])
def test_no_word_leaves_the_drawing_or_touches_another_in_its_row(size: Size, count: int) -> None:
    steps = [
        step(n, SHEETS[n % 2], -60 - n, (ADHESIVE, PRIMER)[n % 2]) for n in range(1, count + 1)
    ]
    root = drawn(bench(*steps, panel=track()), size)
    rows: dict[str, list[tuple[float, float]]] = {}
    for each in root.iter(f"{SVG}text"):
        if each.get("class") != "callout":
            continue
        left, font = float(each.get("x", "0")), float(each.get("font-size", "0"))
        right = left + text_px(each.text or "", font)
        assert left >= size.label_px - 0.1
        assert right <= size.width + 0.1
        rows.setdefault(each.get("y", ""), []).append((left, right))
    assert rows or size.height / count < 100
    for held in rows.values():
        for one, other in itertools.pairwise(sorted(held)):
            assert one[1] < other[0]


def test_more_than_six_steps_show_the_six_that_come_next() -> None:
    steps = [
        step(n, "epoxy-primer", -30, {"recoat_opens": (n * 10.0, n * 11.0, n * 12.0)})
        for n in range(12, 0, -1)
    ]
    shown = ribbons.lanes(bench(*steps))
    assert sorted(each.id for each in shown) == [1, 2, 3, 4, 5, 6]


@given(st.lists(st.floats(304, 1732), min_size=1, max_size=5))
def test_words_over_a_ribbon_never_touch(middles: list[float]) -> None:
    found = [Word("clamps on", "clamped", x - 1, x + 1) for x in sorted(middles)]
    starts = placed(found, 26, 304, 1732)
    wide = text_px("clamps on", 26)
    assert starts[-1] + wide <= 1732 + 0.01
    for one, other in itertools.pairwise(starts):
        assert one + wide < other


def test_the_axis_is_minutes_for_a_quick_adhesive_and_hours_for_a_slow_one() -> None:
    quick = step(
        1,
        "quick-methacrylate-adhesive",
        -2,
        {"working_time": (2, 3, 4), "clamp_time": (10, 13, 16)},
    )
    start, end = axis.choose(bench(quick))
    assert end - start == timedelta(minutes=30)
    start, end = axis.choose(two_steps())
    assert end - start >= timedelta(hours=6)
    assert start <= at(-60) <= NOW < end


def test_the_axis_stays_put_for_a_while_and_obeys_a_choice() -> None:
    view = two_steps()
    assert axis.choose(view, 60)[1] - axis.choose(view, 60)[0] == timedelta(minutes=60)
    assert axis.choose(view, 360) == axis.choose(view, 360)


def test_ticks_stand_on_the_readers_full_hours_and_name_midnight() -> None:
    held = Axis(at(-60), at(720), 300, 1700)
    labels = [label for _, label in axis.ticks(held, MANNER, 130)]
    assert labels[0] == "19:00" or labels[0] == "20:00"
    assert "Thu 15" in labels
    twelve = ReaderFormat(ZoneInfo("Europe/Berlin"), "C", 12)
    assert "8 pm" in [label for _, label in axis.ticks(held, twelve, 130)]


def test_instants_beyond_the_axis_are_held_to_its_ends() -> None:
    held = Axis(at(0), at(100), 10, 110)
    assert held.x(at(50)) == pytest.approx(60)
    assert held.x(at(-5)) == 10
    assert held.x(at(500)) == 110


def test_a_long_name_is_cut_with_an_ellipsis() -> None:
    assert cut("left rear rib", 20, 400) == "left rear rib"
    assert cut("a very long name of a part", 20, 120).endswith("…")


def test_where_a_row_is_too_short_the_narrowest_stretches_go_without_a_word() -> None:
    found = [Word("clamps on", "clamped", 10, 40), Word("setting", "setting", 40, 43)]
    assert fitting(found, 13, 100) == found[:1]
    assert fitting(found, 13, 400) == found


def test_words_inside_a_ribbon_keep_clear_of_each_other() -> None:
    found = [Word("setting", "setting", 100, 400), Word("sand test", "ready", 150, 410)]
    assert divided(found, 20) == (found[:1], found[1:])
    apart = [found[0], Word("sand test", "ready", 400, 800)]
    assert divided(apart, 20) == (apart, [])


def test_an_empty_bench_still_draws() -> None:
    assert "19:42" in texts(drawn(bench(panel=track())))


def test_a_name_cannot_break_the_drawing() -> None:
    root = drawn(bench(step(1, "epoxy-primer", -20, PRIMER, part='<script>"&')))
    assert '<script>"&' in texts(root)


@pytest.mark.parametrize("size", [GARAGE, PHONE])
def test_no_tick_s_label_reaches_left_of_the_axis(size: Size) -> None:
    for minutes in range(0, 60, 5):
        mixed = step(1, "epoxy-panel-adhesive", -42 - minutes, ADHESIVE)
        root = drawn(bench(mixed, panel=track()), size)
        found = [each for each in root.iter(f"{SVG}text") if each.get("class") == "tick"]
        found = [each for each in found if each.get("text-anchor") == "middle"]
        assert found
        for each in found:
            half = text_px(each.text or "", float(each.attrib["font-size"])) / 2
            assert float(each.attrib["x"]) - half >= size.label_px - 0.1


@pytest.mark.parametrize("mixed_min", [3, 42, 90, 300, 900])
def test_the_now_line_goes_through_no_word_of_the_least_temperature(mixed_min: int) -> None:
    mixed = step(1, "epoxy-primer", -mixed_min, PRIMER)
    root = drawn(bench(mixed, panel=track()), GARAGE)
    found = [each for each in root.iter(f"{SVG}text") if each.get("class") == "minimum-word"]
    line = next(each for each in root.iter(f"{SVG}g") if each.get("class") == "now")
    now = float(re.match(r"M([\d.]+)", line[0].attrib["d"])[1])  # type: ignore[index]
    assert found
    for each in found:
        left = float(each.attrib["x"])
        assert not left < now < left + text_px(each.text or "", float(each.attrib["font-size"]))


def test_the_axis_shows_what_is_next_large_and_days_only_when_nothing_is_nearer() -> None:
    near = {"clamp_time": (8.0, 10.0, 15.0), "sand_ready": (60.0, 80.0, 104.0)}
    far = {"recoat_closes": (1400.0, 1440.0, 1500.0)}
    patch = step(1, "epoxy-panel-adhesive", -119, near | {"full_cure": (900.0, 930.0, 950.0)})
    roof = step(2, "epoxy-primer", -330, far, part="roof seam")
    start, end = axis.choose(bench(patch, roof))
    assert end - start <= timedelta(hours=4)
    assert end >= at(104)
    start, end = axis.choose(bench(roof))
    assert end >= at(1400)


def test_an_axis_someone_looks_at_is_kept_until_now_nears_its_end() -> None:
    held, wanted = (at(-60), at(120)), (at(-30), at(600))
    assert axis.kept(at(0), held, wanted) == held
    assert axis.kept(at(100), held, wanted) == held
    assert axis.kept(at(110), held, wanted) == wanted
    assert axis.kept(at(-61), held, wanted) == wanted
    assert axis.kept(at(0), None, wanted) == wanted


@pytest.mark.parametrize(("height", "most"), [(400.0, 6), (280.0, 3), (220.0, 2)])
def test_a_low_drawing_has_fewer_ribbons_so_that_their_names_keep_apart(
    height: float, most: int
) -> None:
    steps = [step(n, "epoxy-primer", -30, PRIMER, part=f"part {n}") for n in range(1, 13)]
    view, size = bench(*steps, panel=track()), Size(1740, height, 26, 304)
    assert ribbons.most_lanes(view, size) == most
    root = drawn(view, size)
    names = [each for each in root.iter(f"{SVG}text") if (each.text or "").startswith("part ")]
    assert len(names) == most
    rows = sorted(float(each.get("y", "0")) for each in names)
    tall = float(names[0].get("font-size", "0"))
    assert all(two - one >= 0.8 * tall for one, two in itertools.pairwise(rows))


def test_the_outlook_is_named_where_it_is_clear_of_the_least_temperatures() -> None:
    for low_c in (2.0, 9.0, 13.9):
        root = drawn(bench(step(1, "epoxy-primer", -20, PRIMER), panel=track(low_c)))
        named = root.find(f".//{SVG}text[@class='tick outlook-word']")
        least = root.findall(f".//{SVG}text[@class='minimum-word']")
        if named is not None:
            for each in least:
                assert abs(float(each.get("y", "0")) - float(named.get("y", "0"))) > 8


@pytest.mark.parametrize("past_min", [0.5, 170.0])
def test_the_flag_of_now_stays_on_the_drawing(past_min: float) -> None:
    view = bench(panel=track())
    stretch = (at(-past_min), at(180 - past_min))
    text = ribbons.bench(view, PHONE, MANNER, stretch).replace(
        "<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1
    )
    flag = ET.fromstring(text).find(f".//{SVG}g[@class='now']/{SVG}rect")
    assert flag is not None
    left, wide = float(flag.get("x", "-1")), float(flag.get("width", "0"))
    assert left >= 0
    assert left + wide <= PHONE.width
