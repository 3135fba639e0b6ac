"""A room with a heater: a told evening teaches how warm the next one gets."""

from __future__ import annotations

import statistics

import numpy as np
import pytest

from curewatch.warmth.room import ASSUMED, TAUS_H, HeatedEvening, taught, terms
from tests.support.heated_rooms import draw_room, evening, rise_at_end


def test_one_told_evening_foretells_the_next_within_fifteen_per_cent() -> None:
    # garages of three nodes, drawn at random: more than the model has; wanted 15 % in the median
    misses = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        room = draw_room(rng)
        room_terms = taught([evening(rng, room, 2.0, 4.0)])
        true = rise_at_end(room, 2.0, 5.0)
        value = float(room_terms.rise_k(np.array([5.0]), 2.0, 5.0)[0])
        misses.append(abs(value / true - 1))
    assert statistics.median(misses) <= 0.15


def test_untold_it_answers_as_assumed_and_owns_to_its_doubt() -> None:
    assert taught([]) is ASSUMED
    assert ASSUMED.rise_k(np.array([3.0]), 1.0, 3.0)[0] == pytest.approx(2.0, abs=0.2)
    assert (
        ASSUMED.sd
        > taught(
            [evening(np.random.default_rng(1), draw_room(np.random.default_rng(1)), 2.0, 4.0)]
        ).sd
    )


def test_no_term_cools_and_more_heat_never_makes_it_colder() -> None:
    hours = np.linspace(0, 4, 17)
    cooled = taught([HeatedEvening(2.0, 4.0, hours, -3.0 * hours)])
    assert (cooled.k_kw >= 0).all()
    assert (np.diff(ASSUMED.rise_k(np.linspace(0, 6, 25), 2.0, 6.0)) >= 0).all()


def test_a_term_s_answer_grows_while_it_is_on_and_dies_away_after() -> None:
    answer = terms(np.array([0.0, 2.0, 200.0]), 2.0)
    assert answer[0] == pytest.approx(np.zeros(TAUS_H.size))
    assert answer[1] == pytest.approx(1 - np.exp(-2.0 / TAUS_H))
    assert (answer[2] < 0.01).all()
