"""A mixed pot heats itself: how it cures and warms, step by step.

Notes
-----
    m c dT/dt = m H da/dt - h A(m) (T - T_air)          energy
    da/dt = k f(a) exp(-(Ea/R)(1/T - 1/T_ref)),  f(a) = (seed + a)(1 - a)^2

a is the share cured, A(m) the whole surface of a cup as wide as it is high. k alone is fitted to a
sheet: its pot mass, mixed and kept at its reference, must gel at its pot life. The step is Runge
and Kutta's fourth-order one, its length bounded by the share cured and the warming in it.

Heat, seed and h stand in two laws, since no one set of them met all that was read:

TIMING says how much sooner a larger pot gels. It is fitted by hand to two figures of one epoxy
maker, each met within the 30 % that every answer carries: at 22 C a film lasts 60 to 70 min where
100 g last 9 to 12 [1]_, and a gallon turns solid in about 5 [2]_. Its h is an effective loss, not
one of still air: with 10 W/m2K already 20 g kept all their heat and the amount hardly counted.

STILL_AIR says how hot a pot may get and how long it keeps the warmth of its storage. Its values
are assumed and lie on the hot side for small pots. An epoxy maker's page on uncontrolled cure has
100 g reach 204 C (400 F); ours ends at H/c, 188 C from 21 C.

Two figures were used for neither and are its checks: 500 g of an epoxy kit reached 49 to 57 C after
12 to 17 min and then rose sharply (NAVEDTRA 14003); a maker calls pot life the time in which 100 g
warm from 20 to 50 C [3]_. It is held besides against its limits (a drop is isothermal, a great mass
warms by H/c), its energy balance and an independent integrator.

References
----------
.. [1] An epoxy maker's guide to the stages of cure (read as a search excerpt).
.. [2] An epoxy maker's article on controlling heat (read as a search excerpt).
.. [3] A resin maker's glossary (read as a search excerpt).
"""

from __future__ import annotations

from math import exp, log, pi

from curewatch.climate.psychrometrics import GAS_CONSTANT_KJ
from curewatch.frozen import frozen

CAPACITY_J_GK = 1.8
DENSITY_G_CM3 = 1.2
GEL_SHARE = 0.42
MOST_SHARE_STEP, MOST_WARMING_C = 0.004, 0.5


@frozen
class PotLaw:
    """heat: times the family's heat of reaction [-]; seed: how fast it starts [-]; loss_w_m2k:
    through the pot's surface [W/(m2 K)]."""

    heat: float
    seed: float
    loss_w_m2k: float


TIMING = PotLaw(1.5, 2.0, 75.0)
STILL_AIR = PotLaw(1.0, 0.05, 10.0)


@frozen
class Pot:
    """One pot: mass_g [g], air_c, start_c and reference_c [C], k_min at the reference [1/min],
    ea_kj [kJ/mol], heat_j_g: of the family [J/g], and the law it follows."""

    mass_g: float
    air_c: float
    start_c: float
    reference_c: float
    k_min: float
    ea_kj: float
    heat_j_g: float
    law: PotLaw = STILL_AIR

    @property
    def most_warming_c(self) -> float:
        """What it warms by if it cures wholly and loses nothing. [K]"""
        return self.law.heat * self.heat_j_g / CAPACITY_J_GK


@frozen
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


def cooling_per_min(mass_g: float, loss_w_m2k: float = STILL_AIR.loss_w_m2k) -> float:
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
    rate = pot.k_min * (pot.law.seed + cured) * left * left
    rate *= exp(-pot.ea_kj / GAS_CONSTANT_KJ * inverse)
    warming = pot.most_warming_c * rate - cooling * (warm_c - pot.air_c)
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
    cooling = cooling_per_min(pot.mass_g, pot.law.loss_w_m2k)
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


def isothermal_gel(k_min: float, seed: float = STILL_AIR.seed) -> float:
    """Time to the gel of a drop kept at its reference.

    Parameters
    ----------
    k_min : float
        Rate constant at the reference [1/min].
    seed : float, optional
        How fast it starts [-].

    Returns
    -------
    float
        Time [min].
    """
    a, s = GEL_SHARE, seed
    whole = 1 / (1 + s)
    # partial fractions of 1/((s + a)(1 - a)^2)
    area = whole**2 * log((s + a) / s) - whole**2 * log(1 - a) + whole * (1 / (1 - a) - 1)
    return area / k_min
