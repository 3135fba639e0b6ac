"""A room with a heater in it: how much warmer it gets, by a few terms that its own evenings teach.

Notes
-----
Heat adds a rise on top of what the outlook says anyway, so neither walls nor outdoors need be
known:

    rise(t) = sum_k a_k P (1 - exp(-(t - t_on)/tau_k))      while it is on, dying away after

The a_k [K/kW] start from an assumed garage (2 K for each kW after three hours, half of it doubtful)
and follow the rises of the evenings that were told, by least squares with that start as a weak
prior, none below 0. A room answers like a chain of such terms: a second-order model reproduces it
well, and even one of a single state predicts enough [1]_.

References
----------
.. [1] Lin, Middelkoop, Barooah: Issues in identification of control-oriented thermal models of
   zones in multi-zone buildings. 51st IEEE CDC (2012) (abstract read).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from curewatch.climate.psychrometrics import FloatArray

TAUS_H = np.array([0.1, 0.3, 1.0, 3.0, 10.0, 30.0])
ASSUMED_K_KW = np.array([0.9, 0.5, 0.3, 0.3, 0.4, 0.6])
ASSUMED_SD, TAUGHT_SD = 0.5, 0.15
MEASURED_SD_K = 0.5
ROUNDS = 500


@dataclass(frozen=True, eq=False)
class HeatedEvening:
    """A told evening: kw of the heater [kW], how long it was on [h], and the rises measured at
    hours after it was switched on: hours [h], rise_k [K], both of shape (n,)."""

    kw: float
    on_h: float
    hours: FloatArray
    rise_k: FloatArray


@dataclass(frozen=True, eq=False)
class RoomTerms:
    """What a room does with heat: k_kw [K/kW] by the terms of TAUS_H; sd: doubt of ln(rise) [-];
    evenings: how many stand behind it."""

    k_kw: FloatArray
    sd: float
    evenings: int = 0

    def rise_k(self, hours: FloatArray, kw: float, on_h: float) -> FloatArray:
        """The rise at hours after it was switched on, while it is on and after. [K]

        hours: [h], shape (n,); kw [kW]; on_h: how long it is on [h].
        """
        rise: FloatArray = kw * (terms(hours, on_h) @ self.k_kw)
        return rise


ASSUMED = RoomTerms(ASSUMED_K_KW, ASSUMED_SD)


def terms(hours: FloatArray, on_h: float) -> FloatArray:
    """Each term's answer to 1 kW. [-], shape (n, terms); hours [h], shape (n,); on_h [h]"""
    lit = np.clip(hours, 0.0, on_h)[:, None]
    since = np.maximum(hours - on_h, 0.0)[:, None]
    answer: FloatArray = -np.expm1(-lit / TAUS_H) * np.exp(-since / TAUS_H)
    return answer


def taught(evenings: Sequence[HeatedEvening]) -> RoomTerms:
    """The room's terms after the evenings that were told; the assumed ones without any."""
    if not evenings:
        return ASSUMED
    rows = [evening.kw * terms(evening.hours, evening.on_h) for evening in evenings]
    rises = [evening.rise_k for evening in evenings]
    # readings of one evening go together: each evening counts as a few independent ones
    weights = [np.full(rise.size, 1 / max(1.0, rise.size / 6)) for rise in rises]
    matrix, rise, weight = (np.concatenate(parts) for parts in (rows, rises, weights))
    normal = (matrix.T * weight) @ matrix / MEASURED_SD_K**2
    wanted = (matrix.T * weight) @ rise / MEASURED_SD_K**2
    prior = 1 / (ASSUMED_SD * ASSUMED_K_KW) ** 2
    normal += np.diag(prior)
    wanted += prior * ASSUMED_K_KW
    return RoomTerms(_least_squares(normal, wanted), TAUGHT_SD, len(evenings))


def _least_squares(normal: FloatArray, wanted: FloatArray) -> FloatArray:
    """The least of x'Nx/2 - w'x over x >= 0, one coordinate after the other."""
    x = ASSUMED_K_KW.copy()
    for _ in range(ROUNDS):
        for k in range(x.size):
            rest = wanted[k] - normal[k] @ x + normal[k, k] * x[k]
            x[k] = max(0.0, rest / normal[k, k])
    return x
