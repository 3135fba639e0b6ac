"""The ribbons: where stretches begin and end, the axis they stand on, and that words keep apart."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.views import BenchView
from curewatch.wording.words import ReaderFormat
from dashboard.figures.ribbons import axis
from dashboard.figures.ribbons.axis import Axis
from dashboard.figures.ribbons.lettering import Word, divided, fitting, placed
from dashboard.figures.ribbons.segments import present, segments
from dashboard.figures.sizes import cut, text_px
from tests.support.bench_views import ADHESIVE, NOW, PRIMER, at, bench, milestone, step, track

MANNER = ReaderFormat(ZoneInfo("Europe/Berlin"))


def two_steps() -> BenchView:
    adhesive = step(1, "epoxy-panel-adhesive", -60, ADHESIVE)
    primer = step(2, "epoxy-primer", -20, PRIMER, part="roof seam")
    return bench(adhesive, primer, panel=track(dew=(300, 500)))


def test_an_adhesive_goes_from_workable_over_clamps_to_the_sand_test() -> None:
    held = segments(step(1, "epoxy-panel-adhesive", -60, ADHESIVE))
    assert [segment.kind for segment in held] == [
        "workable",
        "clamped",
        "setting",
        "ready",
        "cured",
    ]
    assert held[1].word == "clamps on"
    assert held[3].word == "sand test"


def test_a_primer_has_a_recoat_window_that_shuts() -> None:
    held = segments(step(2, "epoxy-primer", -20, PRIMER))
    assert [segment.kind for segment in held] == ["workable", "setting", "window", "shut"]


def test_a_border_is_as_wide_as_early_to_late() -> None:
    held = segments(step(1, "epoxy-panel-adhesive", -60, ADHESIVE))
    assert held[2].start.early == at(4)
    assert held[2].start.late == at(14)
    assert held[1].end == held[2].start


def test_a_stalled_step_says_too_cold_and_never_cured() -> None:
    held = segments(step(1, "epoxy-panel-adhesive", -60, ADHESIVE, stalled_from=30))
    assert [segment.kind for segment in held] == ["workable", "stalled"]
    assert held[-1].word == "below its minimum"
    assert held[-1].end is None


def test_the_working_time_of_a_step_in_the_cold_is_drawn_to_its_end() -> None:
    cold = step(1, "epoxy-panel-adhesive", -60, ADHESIVE, stalled_from=0)
    wet = milestone("working_time", 20, 60, 110)
    held = segments(replace(cold, milestones=(wet, *cold.milestones[1:])))
    assert [segment.kind for segment in held] == ["workable", "stalled"]
    assert (held[1].start.early, held[1].start.late) == (wet.early, wet.late)


def test_a_step_says_in_a_word_what_it_does_now() -> None:
    assert present(step(1, "epoxy-panel-adhesive", -60, ADHESIVE), NOW) == "clamps on"


@given(st.lists(st.floats(304, 1732), min_size=1, max_size=5))
def test_words_over_a_ribbon_never_touch(middles: list[float]) -> None:
    words = [Word("clamps on", "clamped", x - 1, x + 1) for x in sorted(middles)]
    starts = placed(words, 26, 304, 1732)
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
    words = [Word("clamps on", "clamped", 10, 40), Word("setting", "setting", 40, 43)]
    assert fitting(words, 13, 100) == words[:1]
    assert fitting(words, 13, 400) == words


def test_words_inside_a_ribbon_keep_clear_of_each_other() -> None:
    words = [Word("setting", "setting", 100, 400), Word("sand test", "ready", 150, 410)]
    assert divided(words, 20) == (words[:1], words[1:])
    apart = [words[0], Word("sand test", "ready", 400, 800)]
    assert divided(apart, 20) == (apart, [])


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
