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
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from curewatch.climate.psychrometrics import FloatArray

IntArray = NDArray[np.intp]

NODES, LEVEL_NODES = 9, 3
LEAST_AGE_MIN = 1e-9


def cumulative(times_min: FloatArray, speed: FloatArray) -> FloatArray:
    """Equivalent age at each instant, from 0.

    Parameters
    ----------
    times_min : FloatArray
        Instants from mixing [min], shape (n,).
    speed : FloatArray
        Speed against the label's reference [-], shape (..., n).

    Returns
    -------
    FloatArray
        Age [min], shape (..., n).

    Notes
    -----
    The trapezoid, exact for a speed that is straight between instants.
    """
    age = np.empty_like(speed)
    age[..., 0] = 0.0
    steps = age[..., 1:]
    np.add(speed[..., 1:], speed[..., :-1], out=steps)
    steps *= np.diff(times_min) / 2
    np.cumsum(steps, axis=-1, out=steps)
    return age


def speeds(inverse: FloatArray, ea_kj: FloatArray, gate: FloatArray) -> FloatArray:
    """Speed for several activation energies.

    Parameters
    ----------
    inverse : FloatArray
        (1/T - 1/T_ref)/R [mol/kJ], shape (paths, n).
    ea_kj : FloatArray
        Activation energies, evenly spaced [kJ/mol], shape (energies,).
    gate : FloatArray
        What the Arrhenius factor is multiplied with [-], shape (paths, n).

    Returns
    -------
    FloatArray
        Speed [-], shape (paths, energies, n).
    """
    speed = -ea_kj[:, None] * inverse[:, None, :]
    np.exp(speed, out=speed)
    speed *= gate[:, None, :]
    return speed


@lru_cache(maxsize=32)
def nodes(least: float, most: float, count: int = NODES) -> FloatArray:
    """Chebyshev's points of a range of energies.

    Parameters
    ----------
    least : float
        Lower end [kJ/mol].
    most : float
        Upper end [kJ/mol].
    count : int, optional
        How many points [-].

    Returns
    -------
    FloatArray
        Points [kJ/mol], shape (count,).
    """
    angle = np.pi * np.arange(count) / (count - 1)
    return (least + most) / 2 - (most - least) / 2 * np.cos(angle)


@lru_cache(maxsize=64)
def spread(points_kj: tuple[float, ...], wanted: tuple[float, ...]) -> FloatArray:
    """Matrix from values at Chebyshev's points to other energies.

    Parameters
    ----------
    points_kj : tuple[float, ...]
        Chebyshev's points, see `nodes` [kJ/mol].
    wanted : tuple[float, ...]
        The other energies [kJ/mol].

    Returns
    -------
    FloatArray
        Matrix [-], shape (wanted, points_kj).

    Notes
    -----
    Barycentric interpolation on Chebyshev's second points, eq. 5.4 of [1]_.

    References
    ----------
    .. [1] Berrut, Trefethen: Barycentric Lagrange interpolation. SIAM Review 46 (2004) 501.
    """
    weights = np.where(np.arange(len(points_kj)) % 2 == 0, 1.0, -1.0)
    weights[[0, -1]] /= 2
    gap = np.array(wanted)[:, None] - np.array(points_kj)[None, :]
    hit = np.abs(gap) < 1e-9
    parts = weights / np.where(hit, 1.0, gap)
    matrix = parts / parts.sum(axis=1, keepdims=True)
    whole: FloatArray = np.where(hit.any(axis=1, keepdims=True), hit.astype(np.float64), matrix)
    return whole


@dataclass(frozen=True, eq=False)
class Ages:
    """Equivalent ages of one step over a grid of energies, and of levels of the steeper law.

    times_min [min], shape (n,); at_nodes: at the nodes() of the levels and of the energies [min],
    shape (paths, level nodes, NODES, n); level_matrix, matrix: from them to the levels and to the
    grid, see spread() [-]; steepest_kj: the highest level that at_nodes reaches [kJ/mol]. ln(age)
    bends so little along both that the nodes carry all of it.
    """

    times_min: FloatArray
    at_nodes: FloatArray
    level_matrix: FloatArray
    matrix: FloatArray
    steepest_kj: float = 0.0

    @property
    def shape(self) -> tuple[int, int, int]:
        """How many paths, levels and energies."""
        return self.at_nodes.shape[0], self.level_matrix.shape[0], self.matrix.shape[0]

    @property
    def columns(self) -> int:
        """How many paths times levels times energies. [-]"""
        return int(np.prod(self.shape))

    def plain(self) -> Ages:
        """The same by the plain law alone."""
        return replace(self, at_nodes=self.at_nodes[:, :1], level_matrix=np.ones((1, 1)))

    def at(self, levels_kj: FloatArray) -> Ages:
        """The same at other levels of the steeper law, within those given before. [kJ/mol]"""
        points_kj = nodes(0.0, self.steepest_kj, LEVEL_NODES)
        return replace(self, level_matrix=spread(tuple(points_kj), tuple(levels_kj)))

    def _spread(self, ages: FloatArray) -> FloatArray:
        logs = np.log(np.maximum(ages, LEAST_AGE_MIN))
        if logs.shape[1] > 1:
            paths, levels, energies, samples = logs.shape
            logs = self.level_matrix @ logs.reshape(paths, levels, energies * samples)
            logs = logs.reshape(paths, -1, energies, samples)
        return (self.matrix @ logs).reshape(self.columns, -1)

    def ln_at_samples(self, samples: IntArray) -> FloatArray:
        """ln(age/min) by column at samples (m,) of times_min. [-], shape (columns, m)"""
        return self._spread(self.at_nodes[..., samples])

    def ln_at(self, instant_min: float) -> FloatArray:
        """ln(age/min) by column at an instant [min]. [-], shape (columns,)"""
        return self._spread(at(self.times_min, self.at_nodes, instant_min)[..., None])[:, 0]


Speed = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, eq=False)
class Steeper:
    """The steeper law along a thermal history: levels_kj of it [kJ/mol], and how much
    each of them slows: inverse [mol/kJ], shape (paths, n), as inverse_below_glass of kinetics
    gives it."""

    levels_kj: FloatArray
    inverse: FloatArray


def over_grid(
    times_min: FloatArray, speed: Speed, ea_kj: FloatArray, steeper: Steeper | None = None
) -> Ages:
    """Ages over an even grid of energies, from a speed that is a function of energies.

    Parameters
    ----------
    times_min : FloatArray
        Instants from mixing [min], shape (n,).
    speed : Speed
        Gives the speed [-], shape (paths, energies, n), of energies [kJ/mol].
    ea_kj : FloatArray
        Activation energies, evenly spaced [kJ/mol], shape (energies,).
    steeper : Steeper | None, optional
        The steeper law in the cold, None where it is not felt.

    Returns
    -------
    Ages
        Ages [min] by path, level and energy.
    """
    points_kj = nodes(float(ea_kj[0]), float(ea_kj[-1]))
    matrix = spread(tuple(points_kj), tuple(ea_kj))
    rates = speed(points_kj)[:, None]
    if steeper is None:
        return Ages(times_min, cumulative(times_min, rates), np.ones((1, 1)), matrix)
    most = float(steeper.levels_kj.max())
    steep = nodes(0.0, most, LEVEL_NODES)
    slowing = np.exp(-steep[:, None] * steeper.inverse[:, None, :])
    ages = cumulative(times_min, rates * slowing[:, :, None, :])
    level_matrix = spread(tuple(steep), tuple(steeper.levels_kj))
    return Ages(times_min, ages, level_matrix, matrix, most)


def at(times_min: FloatArray, age: FloatArray, instant_min: float) -> FloatArray:
    """Age at one instant, straight between samples.

    Parameters
    ----------
    times_min : FloatArray
        Instants from mixing [min], shape (n,).
    age : FloatArray
        Age at each instant [min], shape (..., n).
    instant_min : float
        The instant [min].

    Returns
    -------
    FloatArray
        Age [min], shape (...,).
    """
    last = times_min.size - 1
    if last == 0:
        return age[..., 0]
    i = int(np.clip(np.searchsorted(times_min, instant_min, side="right") - 1, 0, last - 1))
    part = (instant_min - times_min[i]) / (times_min[i + 1] - times_min[i])
    part = float(np.clip(part, 0.0, 1.0))
    between: FloatArray = (1 - part) * age[..., i] + part * age[..., i + 1]
    return between


def reached(times_min: FloatArray, age: FloatArray, target_min: float) -> float | None:
    """When an age is reached.

    Parameters
    ----------
    times_min : FloatArray
        Instants from mixing [min], shape (n,).
    age : FloatArray
        Rising [min], shape (n,).
    target_min : float
        The age asked for [min].

    Returns
    -------
    float | None
        Instant [min], None if it is not reached.

    Examples
    --------
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
