"""What is learned from labels and witnesses, and that it can be forgotten."""

from __future__ import annotations

from dataclasses import replace
from unittest import mock

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.cure.belief import Learned, PastStep, claims, learned
from curewatch.cure.explanation import learned_notice
from curewatch.cure.grid import normal_cdf
from curewatch.cure.inputs import Mix, Sighting
from curewatch.errors import ModelError
from curewatch.notice_words import sentence
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.vocabulary import STATES
from tests.support.many import cases
from tests.support.notices import codes
from tests.support.steps import START, earlier, even, forecast_at, sheet

EPOXY = sheet()


def clamp(looks: list[Sighting], celsius: float = 21.0) -> tuple[float, float, float]:
    milestone = forecast_at(EPOXY, celsius, now_min=500.0, looks=looks).by_name["clamp_time"]
    assert milestone.early_min is not None
    assert milestone.likely_min is not None
    assert milestone.late_min is not None
    return milestone.early_min, milestone.likely_min, milestone.late_min


def test_the_normal_distribution_agrees_with_scipy() -> None:
    from scipy.special import ndtr

    z = np.linspace(-6, 6, 241)
    assert normal_cdf(z) == pytest.approx(ndtr(z), abs=1e-7)


def test_the_prior_is_what_it_says() -> None:
    fresh = learned(EPOXY)
    assert fresh.slowness(0.5) == pytest.approx(1.0, abs=0.002)
    assert np.log(fresh.slowness(0.95)) / 1.645 == pytest.approx(0.17, rel=0.02)
    assert fresh.mean_energy() == pytest.approx(50.0, abs=0.2)
    assert (fresh.energy(0.95) - fresh.energy(0.05)) / 3.29 == pytest.approx(12.0, rel=0.03)


def test_before_any_witness_it_says_nothing_was_learned() -> None:
    assert learned_notice(learned(EPOXY)).code == "learned-nothing"


def test_it_counts_the_witnesses_in_words() -> None:
    steps = [
        earlier(1, 15.0, [Sighting(1, 100.0, "workable"), Sighting(2, 500.0, "hard")]),
        earlier(2, 15.0, [Sighting(3, 450.0, "stringy")]),
    ]
    text = sentence(learned_notice(learned(EPOXY, steps)))
    assert text.startswith("Learned from 3 dab checks in 2 mixes.")


def test_a_slow_product_is_learned_to_be_slow() -> None:
    slow = [earlier(n, 21.0, [Sighting(n, 300.0, "stringy")]) for n in range(4)]
    quick = [earlier(n, 21.0, [Sighting(n, 190.0, "hard")]) for n in range(4)]
    assert learned(EPOXY, slow).slowness(0.5) > 1.1
    assert learned(EPOXY, quick).slowness(0.5) < 0.9


def test_forgetting_one_witness_restores_the_belief_exactly() -> None:
    kept = [earlier(1, 14.0, [Sighting(1, 300.0, "stringy")])]
    wrong = earlier(2, 14.0, [Sighting(2, 60.0, "sands")])
    before = learned(EPOXY, kept).weights
    assert not np.array_equal(learned(EPOXY, [*kept, wrong]).weights, before)
    assert np.array_equal(learned(EPOXY, kept).weights, before)


def test_a_look_in_the_cold_enters_by_the_age_of_its_own_milestone() -> None:
    """At 4 C, below the minimum: the working time's age runs on, that of the clamps does not."""
    mild = sheet(limits='temperature = ["0 C", "40 C"]')
    gone = [earlier(1, 4.0, [Sighting(1, 80.0, "gone-off:working_time")])]
    assert np.array_equal(learned(EPOXY, gone).weights, learned(mild, gone).weights)
    assert learned(EPOXY, gone).slowness(0.5) < 0.99
    past_steps = [earlier(1, 4.0, [Sighting(1, 900.0, "not-yet:clamp_time")])]
    assert learned(EPOXY, past_steps).slowness(0.5) == pytest.approx(1.0, abs=0.002)


def test_the_film_widens_what_a_look_at_curing_through_teaches_and_nothing_else() -> None:
    primer = sheet("solvent-1k", {"working_time": 5, "sand_ready": 60}, extra='film = "30 um"')
    thick, usual = Mix(START, film_um=60.0), Mix(START, film_um=30.0)

    def slow(mix: Mix, look: Sighting) -> float:
        past = PastStep(1, mix, even(21.0, 300.0), (look,))
        return learned(primer, [past]).slowness(0.5)

    working = Sighting(1, 9.0, "still-works:working_time")
    assert slow(thick, working) == slow(usual, working)
    sanding = Sighting(1, 90.0, "not-yet:sand_ready")
    far = Sighting(1, 90.0 * 2**1.5, "not-yet:sand_ready")
    assert 1.0 < slow(thick, far) < slow(usual, sanding)


def test_a_second_label_row_sharpens_the_energy_with_no_witness() -> None:
    two = learned(sheet(more_rows=[(10.0, {"working_time": 106.0})]))

    def width(belief: Learned, milestone: str) -> float:
        return belief.energy(0.95, milestone) - belief.energy(0.05, milestone)

    before = width(learned(EPOXY), "working_time")
    assert width(two, "working_time") < 0.6 * before
    assert 0.8 * before < width(two, "clamp_time") < 0.98 * before


def test_a_row_of_one_milestone_moves_the_others_only_in_part() -> None:
    cold = learned(sheet(more_rows=[(10.0, {"working_time": 60.0})]))
    own, other = cold.mean_energy("working_time"), cold.mean_energy("sand_ready")
    assert own < other < 49.0


def test_hardness_that_comes_late_in_the_cold_leaves_the_working_time_alone() -> None:
    """Published (C10): hardness 9.4 times slower at 10 C than at 21 C, the gel 2.1 times."""
    late = sheet(more_rows=[(10.0, {"working_time": 106.0, "sand_ready": 3400.0})])
    gel = sheet(more_rows=[(10.0, {"working_time": 106.0})])
    both = [forecast_at(time, 15.0).by_name["working_time"].early_min for time in (late, gel)]
    assert both[0] == pytest.approx(both[1], rel=0.05)
    hard = forecast_at(late, 10.0).by_name["sand_ready"].likely_min
    assert hard == pytest.approx(3400.0, rel=0.15)


def test_looks_in_the_cold_teach_how_steeply_hardness_slows() -> None:
    slow = [earlier(n, 10.0, [Sighting(n, 2000.0, "not-yet:sand_ready")]) for n in range(3)]
    gels = [earlier(n, 10.0, [Sighting(n, 110.0, "gone-off:working_time")]) for n in range(3, 6)]
    before, after = learned(EPOXY), learned(EPOXY, slow + gels)
    steep = [belief.weights.sum(axis=(0, 2))[0] for belief in (before, after)]
    assert steep[1] < 0.3 * steep[0]
    assert after.likely_steep_kj > before.likely_steep_kj


def test_the_early_bound_hardly_moves_for_a_slowness_that_may_not_be() -> None:
    plain = replace(CHEMISTRIES["epoxy-amine"], vitrifies=False)
    steep = forecast_at(EPOXY, 10.0).by_name
    with mock.patch.dict(CHEMISTRIES, {"epoxy-amine": plain}):
        usual = forecast_at(sheet(extra='film = "30 um"'), 10.0).by_name
    for name in ("clamp_time", "sand_ready", "full_cure"):
        early, late = steep[name].early_min, steep[name].late_min
        assert early == pytest.approx(usual[name].early_min, rel=0.02)
        assert late is not None
        assert late > 1.2 * (usual[name].late_min or 0.0)
    assert steep["working_time"].late_min == pytest.approx(usual["working_time"].late_min)


@pytest.mark.parametrize(("minutes", "energy"), [(330.0, 20.0), (510.0, 48.0), (700.0, 68.0)])
def test_the_second_row_says_how_strongly_cold_counts(minutes: float, energy: float) -> None:
    # closed form: Ea = R ln(t10/t21)/(1/283.15 - 1/294.15)
    exact = 8.314462618e-3 * np.log(minutes / 240) / (1 / 283.15 - 1 / 294.15)
    rows = [(10.0, {"working_time": minutes * 50 / 240})]
    value = learned(sheet(more_rows=rows)).mean_energy("working_time")
    assert exact == pytest.approx(energy, abs=3.0)
    assert min(exact, 50.0) - 0.5 <= value <= max(exact, 50.0) + 0.5


def test_a_witness_moves_its_own_step_most() -> None:
    look = Sighting(1, 300.0, "stringy")
    own = clamp([look])[1] / clamp([])[1]
    others = [earlier(1, 21.0, [look])]
    product = forecast_at(EPOXY, 21.0, others=others).by_name["clamp_time"].likely_min
    assert product is not None
    assert own > product / 240.0 > 1.0


def test_work_counts_more_than_a_smear_and_a_cup_is_a_hint() -> None:
    moved = [
        clamp([Sighting(1, 300.0, "stringy", sample)])[1] for sample in ("cup", "smear", "work")
    ]
    assert clamp([])[1] < moved[0] < moved[1] <= moved[2]


@settings(max_examples=cases(20))
@given(st.floats(40.0, 480.0), st.floats(8.0, 35.0))
def test_not_yet_never_makes_it_earlier(minute: float, celsius: float) -> None:
    before, after = (
        clamp([], celsius),
        clamp([Sighting(1, minute, "not-yet:clamp_time", "work")], celsius),
    )
    assert all(b >= a - 1e-6 for a, b in zip(before, after, strict=True))


@settings(max_examples=cases(20))
@given(st.floats(40.0, 480.0), st.floats(8.0, 35.0))
def test_reached_never_makes_it_later(minute: float, celsius: float) -> None:
    before, after = (
        clamp([], celsius),
        clamp([Sighting(1, minute, "reached:clamp_time", "work")], celsius),
    )
    assert all(b <= a + 1e-6 for a, b in zip(before, after, strict=True))


def test_two_looks_make_an_interval() -> None:
    early, likely, late = clamp(
        [Sighting(1, 250.0, "not-yet:clamp_time", "work"), Sighting(2, 290.0, "hard", "work")]
    )
    assert 230.0 < early < 250.0 < likely < 290.0 < late < 315.0


def test_a_look_pressed_by_mistake_does_not_break_the_belief() -> None:
    early, likely, late = clamp([Sighting(1, 1.0, "sands"), Sighting(2, 240.0, "stringy")])
    assert 0 < early < likely < late < 600


def test_a_dabs_slip_counts_less_than_a_test_on_the_work() -> None:
    """Sooner than can be: two per cent of looks at a dab say nothing, the test was asked twice."""
    at = 100.0
    dab, work = (clamp([Sighting(1, at, "reached:clamp_time", s)])[1] for s in ("smear", "work"))
    assert work < 0.75 * clamp([])[1] < dab < clamp([])[1]


def test_every_state_of_a_dab_is_in_the_order_of_curing() -> None:
    assert tuple(STATES) == ("workable", "stringy", "tacky", "fingernail", "hard", "sands")
    reached = [sum(yes for _, yes in STATES[state]) for state in STATES]
    assert reached == sorted(reached)


def test_tests_on_the_work_name_their_milestone() -> None:
    assert claims("reached:sand_ready") == (("sand_ready", True),)
    assert claims("not-yet:clamp_time") == (("clamp_time", False),)


def test_an_unknown_state_is_refused_in_words() -> None:
    with pytest.raises(ModelError, match=r"'gooey' is not a state of a dab; use one of workable"):
        claims("gooey")


def test_a_faster_cold_row_makes_nothing_earlier_that_must_be_waited_for() -> None:
    wrong = sheet(more_rows=[(10.0, {"clamp_time": 30.0})])
    late, usual = (
        forecast_at(sheet_, 10.0).by_name["clamp_time"].late_min for sheet_ in (wrong, EPOXY)
    )
    assert late == pytest.approx(usual)
    assert "check-figures" in codes(forecast_at(wrong, 10.0).warnings)
