"""What the band on top says of what comes next: in clock times, each batch by its own name."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

from curewatch.formats import ReaderFormat
from dashboard.pages.bench.data import due_in_order, next_of, then_of
from tests.support.bench_views import ADHESIVE, PRIMER, at, bench, step

SAY = ReaderFormat(ZoneInfo("Europe/Berlin"))


def test_two_batches_on_one_part_are_told_apart_by_when_they_were_mixed() -> None:
    view = bench(
        step(1, "epoxy-panel-adhesive", -60, ADHESIVE), step(2, "epoxy-primer", -20, PRIMER)
    )
    first = next_of(due_in_order(view)[0], view, SAY)
    assert first.sentence == "Finish working lower corner patch, 19:22"
    assert any("lower corner patch, 18:42" in later.text for later in then_of(view, SAY))


def test_what_must_not_be_missed_says_by_when_and_until_when_it_is_likely_good() -> None:
    view = bench(step(1, "epoxy-primer", -20, PRIMER))
    assert next_of(due_in_order(view)[0], view, SAY).lines == ("by 19:47", "likely good to 19:50")


def test_asked_again_later_than_the_likely_end_it_names_no_likely_end() -> None:
    view = bench(step(1, "epoxy-primer", -20, PRIMER))
    due = due_in_order(view)[0]
    due = replace(due, milestone=replace(due.milestone, shown=at(9)))
    assert next_of(due, view, SAY).lines == ("by 19:51",)


def test_what_must_be_waited_for_says_clock_times_only() -> None:
    view = bench(step(1, "epoxy-panel-adhesive", -60, ADHESIVE))
    assert next_of(due_in_order(view)[0], view, SAY).lines == (
        "likely from 19:51",
        "at the latest 19:56",
    )
