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

import numpy as np

from curewatch.air import FloatArray


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
    """Speed for every activation energy of an even grid. [-], shape (paths, len(ea_kj), n)

    inverse: (1/T - 1/T_ref)/R [mol/kJ], shape (paths, n); ea_kj: rising in even steps [kJ/mol];
    gate: what the Arrhenius factor is multiplied with [-], shape (paths, n).
    Each row is the one before times one exponential, which saves all but two of them.
    """
    speed = np.empty((inverse.shape[0], ea_kj.size, inverse.shape[1]))
    np.multiply(np.exp(-ea_kj[0] * inverse), gate, out=speed[:, 0])
    if ea_kj.size > 1:
        factor = np.exp(-(ea_kj[1] - ea_kj[0]) * inverse)
        for j in range(1, ea_kj.size):
            np.multiply(speed[:, j - 1], factor, out=speed[:, j])
    return speed


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
