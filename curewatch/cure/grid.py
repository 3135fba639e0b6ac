"""The grid that a belief stands on: ln(slowness), and how mass spreads along it."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from curewatch.climate.psychrometrics import FloatArray

X_COUNT, X_REACH = 61, 0.9
X = np.linspace(-X_REACH, X_REACH, X_COUNT)
X_STEP = float(X[1] - X[0])
BLOCK = 64


def normal_cdf(z: FloatArray) -> FloatArray:
    """Standard normal distribution function, to 1e-7. [-]

    Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 26.2.17.
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
    """Column s spreads the mass at X[s] over X as a normal of this sd [-], shape (61, 61)."""
    spread = np.exp(-0.5 * ((X[:, None] - X[None, :]) / max(sd, 1e-6)) ** 2)
    columns: FloatArray = spread / spread.sum(axis=0)
    columns.setflags(write=False)
    return columns


def along_x(matrix: FloatArray, density: FloatArray) -> FloatArray:
    """A matrix over X applied to a density whose first axis is X. [-], shape (61, ...)

    In blocks so small that the library of linear algebra does not divide them between threads,
    which here costs several times what it gains.
    """
    flat = density.reshape(X_COUNT, -1)
    found = np.empty(flat.shape)
    for start in range(0, flat.shape[1], BLOCK):
        np.matmul(matrix, flat[:, start : start + BLOCK], out=found[:, start : start + BLOCK])
    return found.reshape(density.shape)


def quantile(grid: FloatArray, weights: FloatArray, share: float) -> float:
    """Value below which a share [-] of the weights [-] lies. [unit of grid]"""
    middle = np.cumsum(weights) - weights / 2
    return float(np.interp(share, middle / weights.sum(), grid))
