"""Ways of work as files, hands-on times by the log, and where a part stands in its way."""

from __future__ import annotations

from dataclasses import replace

import pytest

from curewatch.errors import CurewatchError, StepError
from curewatch.products.sheet import generic_sheets
from curewatch.ways.hands import ASSUMED, factor
from curewatch.ways.left import matched, waited
from curewatch.ways.way import WayStep, generic_ways, parse_way

GOOD = '[[steps]]\ndoes = "fill"\nkind = "filler"\nhands = "20 min"\nwaits_for = "sand_ready"\n'


def test_the_generic_ways_read_and_end_in_something() -> None:
    assert set(generic_ways()) == {"bond-a-patch", "fill-a-dent", "prime-bare-metal"}
    for way in generic_ways().values():
        assert way.ends[-1] == "primed"
        assert way.until("PRIMED") == way.steps


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GOOD, "name is missing"),
        ('name = "x"\n', "has 0 steps"),
        ('name = "x"\nlength = 3\n' + GOOD, "length is not a key"),
        ('name = "x"\n' + GOOD.replace("20 min", "20 h"), "longer than ten hours"),
        ('name = "x"\n' + GOOD.replace("filler", "varnish"), "is not allowed"),
        ('name = "x"\n' + GOOD.replace('kind = "filler"\n', ""), "needs a product"),
        ('name = "x"\n' + GOOD.replace('hands = "20 min"\n', ""), "hands is missing"),
        ('name = "x"\n[[steps]', "not valid TOML"),
    ],
)
def test_a_way_that_cannot_be_says_what_is_wrong(text: str, words: str) -> None:
    with pytest.raises(CurewatchError, match=words):
        parse_way(text, "mine")


def test_clamps_are_a_number_and_airing_is_a_time() -> None:
    with pytest.raises(CurewatchError, match="not a number of clamps"):
        parse_way('name = "x"\n' + GOOD + 'clamps = "four"\n', "mine")
    (step,) = parse_way('name = "x"\n' + GOOD + 'clamps = 4\nairing = "30 min"\n', "mine").steps
    assert (step.clamps, step.airing_min) == (4, 30.0)


def test_a_label_without_the_milestone_waits_for_the_full_cure_and_else_says_so() -> None:
    sheet = generic_sheets()["finishing-polyester-filler"]
    step = WayStep("fill", 20.0, "filler", waits_for="recoat_opens")
    row = replace(sheet.reference, minutes={"full_cure": 600.0})
    assert waited(step, replace(sheet, times=(row,))) == "full_cure"
    row = replace(sheet.reference, minutes={"working_time": 5.0})
    with pytest.raises(StepError, match="gives no time until recoat opens"):
        waited(step, replace(sheet, times=(row,)))


def test_an_end_that_the_way_does_not_have_is_refused_with_those_it_has() -> None:
    with pytest.raises(CurewatchError, match="bonded, filled, sanded, primed"):
        generic_ways()["bond-a-patch"].until("painted")


def test_what_is_behind_a_part_follows_its_mixes_in_order() -> None:
    steps = generic_ways()["bond-a-patch"].steps
    assert matched(steps, []) == 0
    assert steps[matched(steps, ["adhesive"]) :][0].does == "clamps off, grind the edge"
    assert steps[matched(steps, ["adhesive", "filler"]) :][0].does == "sand flat"
    assert matched(steps, ["adhesive", "filler", "primer"]) == len(steps)
    assert matched(steps, ["primer", "adhesive"]) == len(steps)


def test_hands_are_learned_from_the_log_and_careful_until_then() -> None:
    assert factor([]) == pytest.approx(ASSUMED)
    assert factor([1.0] * 3) < ASSUMED
    assert factor([2.0] * 30) == pytest.approx(2.0, rel=0.05)
