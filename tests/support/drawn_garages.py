"""Garages drawn for properties: a product of some chemistry, and the outlook of its panel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from hypothesis import strategies as st

from curewatch.climate.outlook import Outlook
from curewatch.cure.belief import Learned, learned
from curewatch.products.sheet import Sheet
from tests.support.virtual_garages import (
    AHEAD_H,
    HARSH,
    MILESTONES,
    draw_batch,
    draw_product,
    foreseen,
)

milestones = st.sampled_from(tuple(MILESTONES))


@dataclass(frozen=True, eq=False)
class DrawnGarage:
    """A product, what is held of it, and the outlook over four days of some hour of a real year."""

    sheet: Sheet
    known: Learned
    ahead: Outlook

    @property
    def now(self) -> datetime:
        """When it is asked."""
        return self.ahead.start

    def warmer(self, more_k: float) -> DrawnGarage:
        """The same garage, every hour warmer by so much. more_k [K]"""
        ahead = self.ahead
        warm = replace(
            ahead,
            likely_c=ahead.likely_c + more_k,
            cool_c=ahead.cool_c + more_k,
            warm_c=ahead.warm_c + more_k,
            air_c=ahead.air_c + more_k,
        )
        return replace(self, ahead=warm)


def drawn_garage(seed: int) -> DrawnGarage:
    """One of them."""
    rng = np.random.default_rng(seed)
    product = draw_product(rng, HARSH)
    ahead = foreseen(draw_batch(rng, product), 0.0, float(AHEAD_H))
    return DrawnGarage(product.sheet, learned(product.sheet), ahead)


garages = st.integers(0, 10**6).map(drawn_garage)
