"""Published charts of several stages against what one or two rows of their label predict."""

from __future__ import annotations

import pytest

from tests.support.published_charts import (
    AIMED_AT,
    COMPARED,
    Stage,
    median_error,
    share_inside,
    stages_of,
)

USES = (AIMED_AT, COMPARED)
ONE = {use: stages_of(use, 1) for use in USES}
TWO = {use: stages_of(use, 2) for use in USES}


def before_hardness(stages: list[Stage]) -> list[Stage]:
    return [stage for stage in stages if stage.is_early]


def hardness(stages: list[Stage]) -> list[Stage]:
    return [stage for stage in stages if not stage.is_early]


@pytest.mark.parametrize("use", USES)
def test_one_row_holds_nine_stages_in_ten(use: str) -> None:
    assert 0.85 <= share_inside(ONE[use]) <= 0.97


@pytest.mark.parametrize("use", USES)
def test_one_row_tells_the_stages_before_hardness(use: str) -> None:
    assert median_error(before_hardness(ONE[use])) <= 0.15


@pytest.mark.parametrize("use", USES)
def test_a_second_row_in_the_cold_holds_all_stages_and_tells_hardness(use: str) -> None:
    assert share_inside(TWO[use]) >= 0.90
    assert median_error(hardness(TWO[use])) <= 0.20


@pytest.mark.parametrize("use", USES)
def test_nothing_is_told_too_late_that_must_not_be_missed(use: str) -> None:
    for stage in (stage for stage in ONE[use] + TWO[use] if stage.name == "working_time"):
        assert stage.early_min <= stage.published_min
