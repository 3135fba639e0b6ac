"""A mixed pot heats itself: how it cures and warms, step by step.

Notes
-----
    m c dT/dt = m H da/dt - h A(m) (T - T_air)          energy
    da/dt = k f(a) exp(-(Ea/R)(1/T - 1/T_ref)),  f(a) = (0.05 + a)(1 - a)^2

a is the share cured, A(m) the whole surface of a cup as wide as it is high. k alone is fitted: the
sheet's pot mass, mixed and kept at its reference, must gel at the sheet's pot life. No published
series of pot life against mass was found, so every answer carries 30 %; H, c, h, the density and f
are assumed, typical of filled or unfilled resins. The step is Runge and Kutta's fourth-order one,
its length bounded by the share cured and the warming in it.

It is checked against its limits (a drop is isothermal, a great mass warms by H/c), its energy
balance and an independent integrator, not against measured pots. Published once: 500 g of an epoxy
kit reached 49 to 57 C after 12 to 17 min and then rose sharply (NAVEDTRA 14003). An epoxy maker's
page on uncontrolled cure has 100 g reach 204 C (400 F); ours ends at H/c, 188 C from 21 C.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, pi

from curewatch.climate.psychrometrics import GAS_CONSTANT_KJ

CAPACITY_J_GK = 1.8
DENSITY_G_CM3 = 1.2
LOSS_W_M2K = 10.0
GEL_SHARE = 0.42
SEED = 0.05
MOST_SHARE_STEP, MOST_WARMING_C = 0.004, 0.5


@dataclass(frozen=True)
class Pot:
    """One pot: mass_g [g], air_c, start_c and reference_c [C], k_min at the reference [1/min],
    ea_kj [kJ/mol], heat_j_g [J/g], loss_w_m2k [W/(m2 K)]."""

    mass_g: float
    air_c: float
    start_c: float
    reference_c: float
    k_min: float
    ea_kj: float
    heat_j_g: float
    loss_w_m2k: float = LOSS_W_M2K


@dataclass(frozen=True)
class PotHistory:
    """A pot followed in time: gel_min [min], None if not reached; peak_c [C]; times_min [min],
    cured [-], warm_c [C]; lost_j_g: given to the air by the end [J/g]."""

    gel_min: float | None
    peak_c: float
    times_min: tuple[float, ...]
    cured: tuple[float, ...]
    warm_c: tuple[float, ...]
    lost_j_g: float


def surface_cm2(mass_g: float) -> float:
    """Whole surface of a cup of that mass, as wide as it is high.

    Parameters
    ----------
    mass_g : float
        Mass in one pot [g].

    Returns
    -------
    float
        Surface [cm2].
    """
    width_cm: float = (4 * mass_g / (pi * DENSITY_G_CM3)) ** (1 / 3)
    return 1.5 * pi * width_cm**2


def cooling_per_min(mass_g: float, loss_w_m2k: float = LOSS_W_M2K) -> float:
    """How fast a pot falls to the temperature of the air: h A/(m c).

    Parameters
    ----------
    mass_g : float
        Mass in one pot [g].
    loss_w_m2k : float, optional
        Heat lost through the surface [W/(m2 K)].

    Returns
    -------
    float
        Rate [1/min].
    """
    return 60 * loss_w_m2k * surface_cm2(mass_g) * 1e-4 / (mass_g * CAPACITY_J_GK)


def _slopes(pot: Pot, cooling: float, cured: float, warm_c: float) -> tuple[float, float]:
    inverse = 1 / (warm_c + 273.15) - 1 / (pot.reference_c + 273.15)
    left = max(0.0, 1 - cured)
    rate = pot.k_min * (SEED + cured) * left * left
    rate *= exp(-pot.ea_kj / GAS_CONSTANT_KJ * inverse)
    warming = pot.heat_j_g / CAPACITY_J_GK * rate - cooling * (warm_c - pot.air_c)
    return rate, warming


def _step(
    pot: Pot, cooling: float, cured: float, warm_c: float, most_min: float
) -> tuple[float, float, float]:
    a1, w1 = _slopes(pot, cooling, cured, warm_c)
    dt = min(most_min, MOST_SHARE_STEP / max(a1, 1e-12), MOST_WARMING_C / max(abs(w1), 1e-12))
    a2, w2 = _slopes(pot, cooling, cured + dt / 2 * a1, warm_c + dt / 2 * w1)
    a3, w3 = _slopes(pot, cooling, cured + dt / 2 * a2, warm_c + dt / 2 * w2)
    a4, w4 = _slopes(pot, cooling, cured + dt * a3, warm_c + dt * w3)
    return (
        dt,
        cured + dt / 6 * (a1 + 2 * a2 + 2 * a3 + a4),
        warm_c + dt / 6 * (w1 + 2 * w2 + 2 * w3 + w4),
    )


def follow(pot: Pot, until_min: float, *, stop_at_gel: bool = False) -> PotHistory:
    """Follow a pot from mixing for a time, or to the gel.

    Parameters
    ----------
    pot : Pot
        The pot.
    until_min : float
        How long [min].
    stop_at_gel : bool, optional
        Whether to end at the gel.

    Returns
    -------
    PotHistory
        Gel, peak and the way there.

    Notes
    -----
    Runge and Kutta's fourth-order step, its length bounded by the share cured and the warming in
    it.
    """
    cooling = cooling_per_min(pot.mass_g, pot.loss_w_m2k)
    times, cured, warm = [0.0], [0.0], [pot.start_c]
    gel: float | None = None
    excess = 0.0
    while times[-1] < until_min and cured[-1] < 0.995:
        most = min(until_min / 50, until_min - times[-1] + 1e-9, 0.2 / max(cooling, 1e-9))
        dt, share, warm_c = _step(pot, cooling, cured[-1], warm[-1], most)
        excess += dt * ((warm_c + warm[-1]) / 2 - pot.air_c)
        if gel is None and share >= GEL_SHARE:
            part = (GEL_SHARE - cured[-1]) / (share - cured[-1])
            gel = times[-1] + part * dt
        times.append(times[-1] + dt)
        cured.append(share)
        warm.append(warm_c)
        if gel is not None and stop_at_gel:
            break
    lost = CAPACITY_J_GK * cooling * excess
    return PotHistory(gel, max(warm), tuple(times), tuple(cured), tuple(warm), lost)


def isothermal_gel(k_min: float) -> float:
    """Time to the gel of a drop kept at its reference.

    Parameters
    ----------
    k_min : float
        Rate constant at the reference [1/min].

    Returns
    -------
    float
        Time [min].
    """
    a, s = GEL_SHARE, SEED
    whole = 1 / (1 + s)
    # partial fractions of 1/((s + a)(1 - a)^2)
    area = whole**2 * log((s + a) / s) - whole**2 * log(1 - a) + whole * (1 / (1 - a) - 1)
    return area / k_min
