"""Virtual garages of two worlds, milder and harsher than the prior: are the bounds as right as they
say?

A few garages of each, so that a break is seen at every run; `tests/bench/run accuracy` has the
thousand that the figures come from.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench.accuracy import COUNTS, Score, asked, same_mix
from tests.support.virtual_garages import HARSH, MILD, MILESTONES, World

GARAGES = 40
Scores = list[list[Score]]


@pytest.fixture(scope="module")
def mild() -> Scores:
    return [same_mix(MILD, number) for number in range(GARAGES)]


@pytest.fixture(scope="module")
def harsh() -> Scores:
    return [same_mix(HARSH, number) for number in range(GARAGES)]


@pytest.fixture(params=[MILD, HARSH], ids=lambda world: world.name)
def either(request: pytest.FixtureRequest, mild: Scores, harsh: Scores) -> Scores:
    world: World = request.param
    return mild if world is MILD else harsh


def median(scores: Scores, count: int, key: str = "error") -> float:
    return float(np.median([getattr(score[COUNTS.index(count)], key) for score in scores]))


@pytest.mark.parametrize("name", MILESTONES)
def test_nine_times_in_ten_the_truth_is_inside(either: Scores, name: str) -> None:
    inside = [score.inside[name] for scores in either for score in scores]
    # the counts go together: two standard errors of a share of 0.9 over 40 garages are 0.095
    assert np.mean(inside) >= 0.80


def test_working_time_seldom_ends_before_its_early_bound(either: Scores) -> None:
    # 8 % at most over many garages; two standard errors over 40 are 8.6 %
    assert np.mean([scores[0].working_over for scores in either]) <= 0.16


def test_looks_at_a_mix_sharpen_it(mild: Scores) -> None:
    assert median(mild, 6) < median(mild, 0) <= 0.2


def test_it_is_better_than_the_label_alone(mild: Scores) -> None:
    assert median(mild, 0) < 0.6 * median(mild, 0, "label")


def test_earlier_mixes_sharpen_the_next() -> None:
    scores = [asked(MILD, number) for number in range(20)]
    assert median(scores, 6) < median(scores, 0)


def test_the_same_garage_comes_out_the_same() -> None:
    assert same_mix(HARSH, 7) == same_mix(HARSH, 7)
