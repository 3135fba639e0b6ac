"""Virtual garages of two worlds, milder and harsher than the prior: are the bounds as right as they
say?"""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.accuracy import COUNTS, Score, asked, same_mix
from tests.support.virtual_garages import HARSH, MILD, MILESTONES

GARAGES = 150


@pytest.fixture(scope="module")
def own() -> list[list[Score]]:
    return [same_mix(MILD, number) for number in range(GARAGES)]


@pytest.fixture(scope="module")
def harsh() -> list[list[Score]]:
    return [same_mix(HARSH, number) for number in range(GARAGES)]


def median(scores: list[list[Score]], count: int, key: str = "error") -> float:
    return float(np.median([getattr(each[COUNTS.index(count)], key) for each in scores]))


def inside(scores: list[list[Score]], count: int, name: str) -> float:
    return float(np.mean([each[COUNTS.index(count)].inside[name] for each in scores]))


@pytest.mark.parametrize("count", COUNTS)
@pytest.mark.parametrize("name", MILESTONES)
def test_nine_times_in_ten_the_truth_is_inside(
    own: list[list[Score]], harsh: list[list[Score]], name: str, count: int
) -> None:
    # two standard errors of a share of 0.9 over 150 garages are 0.05
    assert 0.87 <= inside(own, count, name) <= 0.99
    assert inside(harsh, count, name) >= 0.79


def test_after_six_looks_at_a_harsher_worlds_mix_the_bands_still_hold(
    harsh: list[list[Score]],
) -> None:
    assert np.mean([inside(harsh, 6, name) for name in MILESTONES]) >= 0.83


def test_working_time_seldom_ends_before_its_early_bound(own: list[list[Score]]) -> None:
    assert np.mean([each[0].working_over for each in own]) <= 0.08


def test_looks_at_a_mix_sharpen_it(own: list[list[Score]]) -> None:
    errors = [median(own, count) for count in COUNTS]
    assert errors[0] <= 0.16
    assert errors[3] <= 0.12
    assert errors[3] < errors[2] < errors[0]


def test_it_is_better_than_the_label_alone(own: list[list[Score]]) -> None:
    assert median(own, 0) < 0.6 * median(own, 0, "label")
    assert median(own, 0) <= median(own, 0, "halving") + 0.01


def test_earlier_mixes_sharpen_the_next() -> None:
    scores = [asked(MILD, number) for number in range(60)]
    assert median(scores, 6) < median(scores, 0)


def test_the_same_garage_comes_out_the_same() -> None:
    assert same_mix(HARSH, 7) == same_mix(HARSH, 7)
