"""Products as they may truly be, drawn from the belief: one for each course of the weather."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.belief import MILESTONE_SD, Learned, batch_sd
from curewatch.cure.grid import X
from curewatch.cure.inputs import Mix
from curewatch.cure.kinetics import stretch
from curewatch.cure.prior import levels, steep_part
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.sheet import Sheet


@dataclass(frozen=True, eq=False)
class DrawnProducts:
    """One milestone of drawn products: energy_kj and steep_kj, what is added to it below the glass
    [kJ/mol], and need_min, the equivalent age at which it is reached [min]; of shape (products,).
    """

    energy_kj: FloatArray
    steep_kj: FloatArray
    need_min: FloatArray


def even_shares(count: int, rng: np.random.Generator) -> FloatArray:
    """Shares of certainty, one from each of so many even strips, in no order. [-]

    count: how many.
    """
    shares: FloatArray = rng.permutation((np.arange(count) + 0.5) / count)
    return shares


def even_normal(count: int, rng: np.random.Generator) -> FloatArray:
    """Normal values, one from each of so many strips of even chance, in no order. [-]

    count: how many.
    """
    from statistics import NormalDist

    inverse = NormalDist().inv_cdf
    return np.array([inverse(float(share)) for share in even_shares(count, rng)])


def drawn(
    sheet: Sheet,
    mix: Mix,
    learned: Learned,
    milestone: str,
    count: int,
    rng: np.random.Generator,
    batches: np.random.Generator | None = None,
) -> DrawnProducts:
    """Draw a milestone's need and energies from what is held of the product.

    Parameters
    ----------
    sheet, mix
        The product and how it would be mixed; its amount, hardener and film count.
    learned : Learned
        The belief in the product.
    milestone : str
        Which one.
    count : int
        How many.
    rng : Generator
        Where the chances come from.
    batches : Generator, optional
        Where those of this one mix come from, so that several mixes of a product share its own.

    Returns
    -------
    DrawnProducts
        Slowness, energy and steeper law of the belief, with the scatter of one batch and of one
        milestone.
    """
    family = CHEMISTRIES[sheet.chemistry]
    density = learned.own(learned.weights, milestone)
    cumulated = np.cumsum(density.ravel())
    cells = np.searchsorted(cumulated, even_shares(count, rng) * cumulated[-1])
    slow, level, energy = np.unravel_index(cells, density.shape)
    modifiers, of_mix = stretch(sheet, mix, milestone), batches or rng
    ln_need = (
        X[slow]
        + batch_sd(sheet, mix) * even_normal(count, of_mix)
        + float(np.hypot(MILESTONE_SD, modifiers.own_sd)) * even_normal(count, of_mix)
    )
    return DrawnProducts(
        learned.ea_kj[energy],
        steep_part(family, milestone) * levels(family)[level],
        sheet.reference.minutes[milestone] * modifiers.times * np.exp(ln_need),
    )
