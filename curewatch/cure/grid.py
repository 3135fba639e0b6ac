"""The grid that a belief stands on, ln(slowness), and the quantiles of a time read off it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure.equivalent_age import Ages, IntArray

X_COUNT, X_REACH = 61, 0.9
X = np.linspace(-X_REACH, X_REACH, X_COUNT)
X_STEP = float(X[1] - X[0])
BLOCK = 64
LATER_SHARES = (0.5, 0.95)
"""Of certainty, of the likely and the late time; vocabulary.early_share has the early one. [-]"""


def normal_cdf(z: FloatArray) -> FloatArray:
    """Standard normal distribution function, to 1e-7.

    Parameters
    ----------
    z : FloatArray
        Values in standard deviations [-].

    Returns
    -------
    FloatArray
        Chance [-], of the shape of z.

    Notes
    -----
    Formula 26.2.17 of [1]_.

    References
    ----------
    .. [1] Abramowitz, Stegun: Handbook of Mathematical Functions (1964).
    """
    t = 1 / (1 + 0.2316419 * np.abs(z))
    series = t * (
        0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429)))
    )
    tail = np.exp(-z * z / 2) / np.sqrt(2 * np.pi) * series
    chance: FloatArray = np.where(z > 0, 1 - tail, tail)
    return chance


@lru_cache(maxsize=64)
def kernel(sd: float) -> FloatArray:
    """Matrix that spreads the mass at each X over X as a normal.

    Parameters
    ----------
    sd : float
        Standard deviation [-].

    Returns
    -------
    FloatArray
        Columns that sum to 1 [-], shape (61, 61), read-only.
    """
    spread = np.exp(-0.5 * ((X[:, None] - X[None, :]) / max(sd, 1e-6)) ** 2)
    columns: FloatArray = spread / spread.sum(axis=0)
    columns.setflags(write=False)
    return columns


def along_x(matrix: FloatArray, density: FloatArray) -> FloatArray:
    """A matrix over X applied to a density whose first axis is X.

    Parameters
    ----------
    matrix : FloatArray
        Over X [-], shape (61, 61).
    density : FloatArray
        Density [-], shape (61, ...).

    Returns
    -------
    FloatArray
        Density [-], shape (61, ...).

    Notes
    -----
    In blocks so small that the library of linear algebra does not divide them between threads,
    which here costs several times what it gains.
    """
    flat = density.reshape(X_COUNT, -1)
    product = np.empty(flat.shape)
    for start in range(0, flat.shape[1], BLOCK):
        np.matmul(matrix, flat[:, start : start + BLOCK], out=product[:, start : start + BLOCK])
    return product.reshape(density.shape)


def quantile(grid: FloatArray, weights: FloatArray, share: float) -> float:
    """Value below which a share of the weights lies.

    Parameters
    ----------
    grid : FloatArray
        Rising values [any unit], shape (n,).
    weights : FloatArray
        Their weights [-], shape (n,).
    share : float
        Share [-].

    Returns
    -------
    float
        Value [unit of grid].
    """
    middle = np.cumsum(weights) - weights / 2
    return float(np.interp(share, middle / weights.sum(), grid))


@dataclass(frozen=True, eq=False)
class Question:
    """A milestone asked for: cdf of ln(theta/L) at its reaching by column of the ages [-], shape
    (columns, 61), summing to 1 at its end over all columns; label_min: L [min]."""

    cdf: FloatArray
    label_min: float


def distribution(density: FloatArray) -> FloatArray:
    """Cumulative distribution along X of a density.

    Parameters
    ----------
    density : FloatArray
        Density [-], shape (61, ...).

    Returns
    -------
    FloatArray
        Distribution [-], shape (columns, 61), its last values summing to 1.
    """
    rows = density.reshape(X_COUNT, -1).T
    cdf = np.zeros(rows.shape)
    np.cumsum((rows[:, 1:] + rows[:, :-1]) / 2, axis=1, out=cdf[:, 1:])
    total: float = cdf[:, -1].sum()
    cdf /= total
    return cdf


def _chances(
    ages: Ages, flat: FloatArray, first: IntArray, ln_label: FloatArray, at: IntArray
) -> FloatArray:
    """Chance that each question's milestone is reached by sample `at`. [-]"""
    place = ages.ln_at_samples(at)
    place -= ln_label
    place += X_REACH
    place /= X_STEP
    np.clip(place, 0.0, X_COUNT - 1.000001, out=place)
    whole = place.astype(np.intp)
    place -= whole
    whole += first
    low = flat[whole]
    high = flat[whole + 1]
    high -= low
    high *= place
    high += low
    chances: FloatArray = high.sum(axis=0)
    return chances


def times_reached(
    ages: Ages, questions: list[Question], shares: tuple[float, ...]
) -> list[list[float | None]]:
    """For each question the instants by which it is reached with each share's certainty.

    Parameters
    ----------
    ages : Ages
        Ages by path and energy [min].
    questions : list[Question]
        The milestones asked for.
    shares : tuple[float, ...]
        Of certainty [-].

    Returns
    -------
    list[list[float | None]]
        By question and share the instant [min], None where it is not reached by the end.
    """
    columns, times_min = ages.columns, ages.times_min
    flat = np.concatenate([question.cdf.ravel() for question in questions])
    count = len(shares)
    which = np.repeat(np.arange(len(questions)), count)
    first = which[None, :] * columns * X_COUNT + np.arange(columns)[:, None] * X_COUNT
    ln_label = np.log([question.label_min for question in questions])[which]
    wanted = np.tile(np.array(shares), len(questions))
    low = np.zeros(which.size, dtype=np.intp)
    high = np.full(which.size, times_min.size - 1, dtype=np.intp)
    at_low = np.zeros(which.size)
    at_high = _chances(ages, flat, first, ln_label, high)
    never = at_high < wanted
    while (high - low).max() > 1:
        middle = (low + high) // 2
        chance = _chances(ages, flat, first, ln_label, middle)
        below = chance < wanted
        low, at_low = np.where(below, middle, low), np.where(below, chance, at_low)
        high, at_high = np.where(below, high, middle), np.where(below, at_high, chance)
    part = (wanted - at_low) / np.maximum(at_high - at_low, 1e-300)
    instants_min = times_min[low] + part * (times_min[high] - times_min[low])
    answers = [None if no else float(value) for no, value in zip(never, instants_min, strict=True)]
    return [answers[i : i + count] for i in range(0, len(answers), count)]
