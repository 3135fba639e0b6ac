"""A steel panel under a lamp: how much warmer it gets, how soon, and how far around the lit spot.

Notes
-----
The energy balance of a thin panel that is lit on one side and loses heat on both:

    C dR/dt = q - h R       R: rise above the air [K], C: heat capacity of an area [J/(m2 K)]
    q = watts * LANDS * TAKEN_UP / lit area
    h = 2 (h_conv(R) + h_rad)

h_conv is natural convection at an upright plate [1]_, h_rad radiation at emissivity 0.9. Along the
sheet the rise falls off over sqrt(k d / h): by the fin equation it is half at the edge of the spot.
How much of a lamp's power lands on the spot and is taken up is assumed (bare shiny metal takes up
far less than primer): 30 % either way, until a probe on the metal under the lamp has told.

References
----------
.. [1] Churchill, Chu: Correlating equations for laminar and turbulent free convection from a
   vertical plate. Int. J. Heat Mass Transfer 18 (1975) 1323, eq. 9. The properties of air (ideal
   gas, Sutherland's law for viscosity and conductivity) and of steel are from memory.
"""

from __future__ import annotations

import math

import numpy as np

from curewatch.climate.psychrometrics import KELVIN, FloatArray

LANDS, TAKEN_UP = 0.5, 0.9
ASSUMED_SD, PROBED_SD = 0.30, 0.10
EMISSIVITY, STEFAN_BOLTZMANN = 0.9, 5.670374419e-8
GRAVITY, PRESSURE_PA, AIR_GAS_CONSTANT, AIR_HEAT_CAPACITY = 9.80665, 101_325.0, 287.05, 1006.0
STEEL_M, STEEL_KG_M3, STEEL_J_KG_K, STEEL_W_M_K = 0.001, 7850.0, 490.0, 50.0
COATING_M, COATING_J_M3_K = 0.003, 1.8e6
"""The sheet, and three millimetres of resin or filler on it; the figures are from memory."""
SOLVED_K = 1e-6


def air_properties(air_c: float) -> tuple[float, float, float]:
    """Kinematic viscosity [m2/s], thermal conductivity [W/(m K)] and Prandtl number [-] of air.

    air_c [C].
    """
    kelvin = air_c + KELVIN
    viscosity = 1.716e-5 * (kelvin / 273.15) ** 1.5 * (273.15 + 110.4) / (kelvin + 110.4)
    conductivity = 0.0241 * (kelvin / 273.15) ** 1.5 * (273.15 + 194.0) / (kelvin + 194.0)
    density = PRESSURE_PA / (AIR_GAS_CONSTANT * kelvin)
    return viscosity / density, conductivity, viscosity * AIR_HEAT_CAPACITY / conductivity


def nusselt_upright(rayleigh: float, prandtl: float) -> float:
    """Mean Nusselt number of natural convection at an upright plate. [-]

    rayleigh, prandtl [-]. Churchill and Chu (1975), eq. 9, for any Rayleigh number up to 1e12.
    """
    shape: float = (1 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)
    mean: float = (0.825 + 0.387 * rayleigh ** (1 / 6) / shape) ** 2
    return mean


def convection(rise_k: float, air_c: float, height_m: float) -> float:
    """Natural convection at one side of an upright panel. [W/(m2 K)]

    rise_k: of the panel above the air [K]; air_c [C]; height_m: of the warm spot [m].
    """
    film_c = air_c + rise_k / 2
    viscosity, conductivity, prandtl = air_properties(film_c)
    buoyancy = GRAVITY * abs(rise_k) / (film_c + KELVIN)
    rayleigh = buoyancy * height_m**3 * prandtl / viscosity**2
    return nusselt_upright(rayleigh, prandtl) * conductivity / height_m


def radiation(rise_k: float, air_c: float) -> float:
    """Radiation of one side to a room as warm as its air. [W/(m2 K)]; rise_k [K]; air_c [C]"""
    warm, cool = air_c + rise_k + KELVIN, air_c + KELVIN
    return EMISSIVITY * STEFAN_BOLTZMANN * (warm**2 + cool**2) * (warm + cool)


def loss(rise_k: float, air_c: float, height_m: float) -> float:
    """Heat that both sides lose for each degree. [W/(m2 K)]; rise_k [K]; air_c [C]; height_m [m]"""
    return 2 * (convection(rise_k, air_c, height_m) + radiation(rise_k, air_c))


def steady_rise_k(watts: float, lit_m2: float, air_c: float) -> float:
    """How much warmer than the air the middle of the lit spot gets in the end. [K]

    watts: of the lamp [W]; lit_m2: area it lights [m2]; air_c [C].
    """
    flux, height = watts * LANDS * TAKEN_UP / lit_m2, math.sqrt(lit_m2)
    low, high = 0.0, flux / loss(0.0, air_c, height)
    while high - low > SOLVED_K:
        middle = (low + high) / 2
        enough = loss(middle, air_c, height) * middle >= flux
        low, high = (low, middle) if enough else (middle, high)
    return (low + high) / 2


def heat_capacity() -> float:
    """Of the coated sheet. [J/(m2 K)]"""
    return STEEL_M * STEEL_KG_M3 * STEEL_J_KG_K + COATING_M * COATING_J_M3_K


def time_constant_min(rise_k: float, air_c: float, lit_m2: float) -> float:
    """How soon it gets there. [min]; rise_k: in the end [K]; air_c [C]; lit_m2 [m2]"""
    return heat_capacity() / loss(rise_k, air_c, math.sqrt(lit_m2)) / 60


def course(
    minutes: FloatArray, on_min: float, off_min: float, steady_k: float, constant_min: float
) -> FloatArray:
    """The rise while the lamp is on, and as it dies away after. [K], of the shape of minutes

    minutes: instants [min]; on_min, off_min: when it is switched [min]; steady_k: in the end [K];
    constant_min: time constant [min].
    """
    lit = np.clip(minutes, on_min, off_min) - on_min
    since = np.maximum(minutes - off_min, 0.0)
    rise: FloatArray = steady_k * -np.expm1(-lit / constant_min) * np.exp(-since / constant_min)
    return rise


def share_of_rise(inside_m: float, rise_k: float, air_c: float, height_m: float) -> float:
    """Share of the middle's rise at a distance inside the edge of the lit spot. [-]

    inside_m [m]; rise_k [K]; air_c [C]; height_m [m]. The fin equation of a half-lit sheet.
    """
    reach = math.sqrt(STEEL_W_M_K * STEEL_M / loss(rise_k, air_c, height_m))
    return 1 - 0.5 * math.exp(-inside_m / reach)


def margin_m(share: float, rise_k: float, air_c: float, height_m: float) -> float:
    """How far to light beyond the joint, so that its edge has a share of the rise. [m]

    share [-]; rise_k [K]; air_c [C]; height_m [m].
    """
    reach = math.sqrt(STEEL_W_M_K * STEEL_M / loss(rise_k, air_c, height_m))
    return max(0.0, -reach * math.log(2 * (1 - share)))
