"""What was promised, acted on and came true."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from curewatch.bench.bench import Details
from curewatch.week import promises, words
from curewatch.week.kept import keep
from curewatch.week.promises import Promise, PromiseTally, outcome, tallies
from tests.support.logbooks import NOW
from tests.support.planned import PART, week
from tests.support.wishes import wish, wished

BY = NOW + timedelta(days=3)
SHOWN = (Promise(NOW, 9), Promise(NOW + timedelta(days=1), 6), Promise(NOW + timedelta(days=2), 2))
KINDS = ("filler", "primer")


def on_day(day: float) -> datetime:
    """Some days from now."""
    return NOW + timedelta(days=day)


def test_a_promise_counts_as_it_was_shown_when_it_was_acted_on() -> None:
    mixes = [(on_day(1.5), "filler"), (on_day(2.5), "primer")]
    assert outcome(SHOWN, mixes, KINDS, BY) == (6, True)
    assert outcome(SHOWN, [(on_day(0.5), "filler"), (on_day(4), "primer")], KINDS, BY) == (9, False)
    assert outcome(SHOWN, [(on_day(-1), "filler")], KINDS, BY) is None
    before = [(on_day(-1), "filler"), (on_day(0.1), "primer")]
    assert outcome(SHOWN, before, KINDS, BY) == (9, True)
    assert outcome(SHOWN, [(on_day(1), "primer"), (on_day(2), "filler")], KINDS, BY) == (6, False)


def test_they_are_told_after_ten(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    store = wished(tmp_path, {}).store
    many = [(9, True)] * 8 + [(9, False)] * 2 + [(5, True)] * 9
    monkeypatch.setattr(promises, "_outcomes", lambda store, now: iter(many))
    assert tallies(store, NOW) == (PromiseTally(9, 10, 8),)
    assert words.tally_words(PromiseTally(9, 10, 8)) == "Your 9 in 10 held 8 of 10."


def test_promises_are_read_from_the_plans_that_were_shown(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    bench = wished(tmp_path, {})
    monkeypatch.setattr(promises, "LEAST_COUNTED", 1)
    for part in ("bonnet", "wing"):
        wish(bench, part, "prime-bare-metal", BY)
    keep(bench.store, week(part=replace(PART, part="bonnet", by=BY)))
    assert tallies(bench.store, BY) == (), "nothing was done"
    bench.start("epoxy-primer", now=on_day(1), details=Details(part="bonnet", job="car"))
    assert tallies(bench.store, on_day(2)) == (), "its time is not past"
    assert tallies(bench.store, BY) == (PromiseTally(9, 1, 1),)
