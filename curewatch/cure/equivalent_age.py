"""Equivalent age: time stretched to what it would have been at the label's reference.

Notes
-----
theta(t) is the integral of the speed r from mixing to t, by the trapezoid over the real series,
and a milestone is reached when theta = s L (s: slowness, L: the label's time). It is the equivalent
age of concrete maturity practice [1]_ [2]_.

References
----------
.. [1] ASTM C1074, Standard Practice for Estimating Concrete Strength by the Maturity Method.
.. [2] Freiesleben Hansen, Pedersen: Maturity computer for controlled curing and hardening of
   concrete. Nordisk Betong 1 (1977) 19.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from curewatch.climate.psychrometrics import FloatArray

IntArray = NDArray[np.intp]

NODES = 11
LEAST_AGE_MIN = 1e-9


def cumulative(times_min: FloatArray, speed: FloatArray) -> FloatArray:
    """Equivalent age at each instant, from 0. [min], shape (..., n)

    times_min: instants [min], shape (n,); speed [-], shape (..., n).
    """
    age = np.zeros_like(speed)
    steps = np.add(speed[..., 1:], speed[..., :-1])
    steps *= np.diff(times_min) / 2
    np.cumsum(steps, axis=-1, out=age[..., 1:])
    return age


def speeds(inverse: FloatArray, ea_kj: FloatArray, gate: FloatArray) -> FloatArray:
    """Speed for several activation energies. [-], shape (paths, energies, n)

    inverse: (1/T - 1/T_ref)/R [mol/kJ], shape (paths, n); ea_kj [kJ/mol], shape (energies,);
    gate: what the Arrhenius factor is multiplied with [-], shape (paths, n).
    """
    speed = -ea_kj[:, None] * inverse[:, None, :]
    np.exp(speed, out=speed)
    speed *= gate[:, None, :]
    return speed


@lru_cache(maxsize=32)
def nodes(least_kj: float, most_kj: float) -> FloatArray:
    """Chebyshev's points of a range of energies. [kJ/mol], shape (NODES,)"""
    angle = np.pi * np.arange(NODES) / (NODES - 1)
    return (least_kj + most_kj) / 2 - (most_kj - least_kj) / 2 * np.cos(angle)


@lru_cache(maxsize=32)
def spread(least_kj: float, most_kj: float, count: int) -> FloatArray:
    """Matrix from values at the nodes to an even grid of energies. [-], shape (count, NODES)

    least_kj, most_kj: the range [kJ/mol]; count: of the grid [-]. Barycentric interpolation on
    Chebyshev's second points: Berrut, Trefethen, SIAM Review 46 (2004) 501, eq. 5.4.
    """
    known = nodes(least_kj, most_kj)
    weights = np.where(np.arange(NODES) % 2 == 0, 1.0, -1.0)
    weights[[0, -1]] /= 2
    gap = np.linspace(least_kj, most_kj, count)[:, None] - known[None, :]
    hit = np.abs(gap) < 1e-9
    parts = weights / np.where(hit, 1.0, gap)
    matrix = parts / parts.sum(axis=1, keepdims=True)
    whole: FloatArray = np.where(hit.any(axis=1, keepdims=True), hit.astype(np.float64), matrix)
    return whole


@dataclass(frozen=True, eq=False)
class Ages:
    """Equivalent ages of one step over a grid of energies.

    times_min [min], shape (n,); at_nodes: at the energies of nodes() [min], shape
    (paths, NODES, n); matrix: see spread() [-]. ln(age) bends so little along the energy that the
    nodes carry the whole grid.
    """

    times_min: FloatArray
    at_nodes: FloatArray
    matrix: FloatArray

    @property
    def columns(self) -> int:
        """How many paths times energies. [-]"""
        return int(self.at_nodes.shape[0] * self.matrix.shape[0])

    def _spread(self, ages: FloatArray) -> FloatArray:
        logs = np.log(np.maximum(ages, LEAST_AGE_MIN))
        return (self.matrix @ logs).reshape(self.columns, -1)

    def ln_at_samples(self, samples: IntArray) -> FloatArray:
        """ln(age/min) by column at samples (m,) of times_min. [-], shape (columns, m)"""
        return self._spread(self.at_nodes[..., samples])

    def ln_at(self, instant_min: float) -> FloatArray:
        """ln(age/min) by column at an instant [min]. [-], shape (columns,)"""
        return self._spread(at(self.times_min, self.at_nodes, instant_min)[..., None])[:, 0]


Speed = Callable[[FloatArray], FloatArray]


def over_grid(times_min: FloatArray, speed: Speed, ea_kj: FloatArray) -> Ages:
    """Ages over an even grid of energies, from a speed that is a function of energies.

    times_min [min], shape (n,); ea_kj [kJ/mol], shape (energies,).
    """
    least, most = float(ea_kj[0]), float(ea_kj[-1])
    found = cumulative(times_min, speed(nodes(least, most)))
    return Ages(times_min, found, spread(least, most, ea_kj.size))


def at(times_min: FloatArray, age: FloatArray, instant_min: float) -> FloatArray:
    """Age at one instant, straight between samples. [min], shape (...,)

    times_min [min], shape (n,); age [min], shape (..., n); instant_min [min].
    """
    last = times_min.size - 1
    if last == 0:
        return age[..., 0]
    i = int(np.clip(np.searchsorted(times_min, instant_min, side="right") - 1, 0, last - 1))
    part = (instant_min - times_min[i]) / (times_min[i + 1] - times_min[i])
    part = float(np.clip(part, 0.0, 1.0))
    found: FloatArray = (1 - part) * age[..., i] + part * age[..., i + 1]
    return found


def reached(times_min: FloatArray, age: FloatArray, target_min: float) -> float | None:
    """When an age is reached, None if it is not. [min]

    times_min: instants [min], shape (n,); age: rising [min], shape (n,); target_min [min].

    >>> reached(np.array([0.0, 10.0]), np.array([0.0, 5.0]), 2.5)
    5.0
    """
    i = int(np.searchsorted(age, target_min, side="left"))
    if i >= age.size:
        return None
    if i == 0:
        return float(times_min[0])
    part = (target_min - age[i - 1]) / (age[i] - age[i - 1])
    return float(times_min[i - 1] + part * (times_min[i] - times_min[i - 1]))
