"""What would help several parts: each a plan made anew."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np

from curewatch.formats import ReaderFormat
from curewatch.products.sheet import generic_sheets
from curewatch.warmth import owned
from curewatch.week import words
from curewatch.week.draws import reached_by
from curewatch.week.gather import wanted, week_helps, week_plan
from curewatch.week.helps import _under
from tests.support.logbooks import BERLIN, NOW
from tests.support.wishes import wished

WISH = {"wing": ("prime-bare-metal", NOW + timedelta(days=4))}


def test_longer_evenings_help_where_they_are_short_and_each_gain_is_a_plan_anew(
    tmp_path: Path,
) -> None:
    bench = wished(tmp_path, WISH, "daily 18:00-19:15")
    plan = week_plan(bench, NOW, BERLIN)
    assert plan.parts[0].done is None
    options = week_helps(bench, NOW, BERLIN)
    assert [option.code for option in options] == ["longer"]
    (after,) = options[0].parts
    assert after.done is not None
    text = words.help_words(options[0], plan, ReaderFormat(BERLIN))
    assert text.startswith("an hour more each time: wing [car]: primed by ")
    assert words.help_json(options[0])["parts"][0]["part"] == "wing"


def test_a_lamp_warms_one_part_and_never_what_dries_by_solvent(tmp_path: Path) -> None:
    bench = wished(tmp_path)
    owned.own(bench.store, "work lamp", 500.0, "panel", lit_m2=0.5, now=NOW)
    (lamp,) = owned.heaters(bench.store)
    wishes = wanted(bench, NOW, BERLIN)
    wing = wishes.lefts[1]
    warm = _under(lamp, wing, wishes)
    assert [left.place for left in warm.lefts] == ["panel", "panel under work lamp"]
    plain, hot = warm.draws["panel"], warm.draws["panel under work lamp"]
    step, epoxy = wing.steps[1], generic_sheets()["epoxy-panel-adhesive"]
    cool, warmer = (draws.link(step, epoxy, "clamp_time", 1) for draws in (plain, hot))
    assert cool.age_min is not None
    assert warmer.age_min is not None
    assert warmer.warm_min is not None
    assert (warmer.age_min == cool.age_min).all(), "until the clamps are on it is as without heat"
    assert (warmer.warm_min[:, -1] > cool.age_min[:, -1]).all()
    mixes = np.arange(0.0, 288.0)
    assert (reached_by(warmer, mixes, 0.9) <= reached_by(cool, mixes, 0.9) + 1e-6).all()
    dries = generic_sheets()["solvent-primer-1k"]
    same, unheated = (draws.link(step, dries, "recoat_opens", 1) for draws in (plain, hot))
    assert same.age_min is not None
    assert unheated.age_min is not None
    assert (same.age_min == unheated.age_min).all()
    assert same.warm_min is None
