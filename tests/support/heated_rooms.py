"""Garages with a heater, drawn at random: air, what stands and hangs in it, and the slab."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.warmth.room import HeatedEvening

STEP_H = 1 / 120
NOISE_K = 0.3


@dataclass(frozen=True)
class HeatedRoom:
    """Heat capacities of air, mass and slab [kWh/K], and heat that goes from air to mass, to slab
    and out, and from slab to the ground [kW/K]."""

    air: float
    mass: float
    slab: float
    to_mass: float
    to_slab: float
    out: float
    to_ground: float


def draw_room(rng: np.random.Generator) -> HeatedRoom:
    """A one-car garage: 40 to 90 m3, from a thin wooden one to one of brick."""
    volume = rng.uniform(40.0, 90.0)
    return HeatedRoom(
        air=volume * 0.34e-3 * rng.uniform(2.0, 5.0),
        mass=rng.uniform(0.3, 2.5),
        slab=rng.uniform(1.0, 4.0),
        to_mass=rng.uniform(0.1, 0.5),
        to_slab=rng.uniform(0.05, 0.2),
        out=rng.uniform(0.08, 0.35),
        to_ground=rng.uniform(0.01, 0.05),
    )


def rises(
    room: HeatedRoom, kw: float, on_h: float, until_h: float
) -> tuple[FloatArray, FloatArray]:
    """The air's rise over what it would be without heat: hours [h] and rise [K].

    kw [kW]; on_h, until_h [h].
    """
    hours = np.arange(0.0, until_h + STEP_H / 2, STEP_H)
    rise = np.zeros(hours.size)
    air = mass = slab = 0.0
    for i in range(1, hours.size):
        heat = kw if hours[i] <= on_h + 1e-9 else 0.0
        to_mass, to_slab = room.to_mass * (air - mass), room.to_slab * (air - slab)
        mass += STEP_H * to_mass / room.mass
        slab += STEP_H * (to_slab - room.to_ground * slab) / room.slab
        air += STEP_H * (heat - to_mass - to_slab - room.out * air) / room.air
        rise[i] = air
    return hours, rise


def rise_at_end(room: HeatedRoom, kw: float, on_h: float) -> float:
    """The rise as the heater goes off. [K]; kw [kW]; on_h [h]"""
    return float(rises(room, kw, on_h, on_h)[1][-1])


def evening(rng: np.random.Generator, room: HeatedRoom, kw: float, on_h: float) -> HeatedEvening:
    """An evening as a sensor saw it, each quarter of an hour until an hour after. kw [kW]"""
    hours, rise = rises(room, kw, on_h, on_h + 1.0)
    at = np.arange(0.0, on_h + 1.0 + 1e-9, 0.25)
    seen = np.interp(at, hours, rise) + rng.normal(0.0, NOISE_K, at.size) + rng.normal(0.0, NOISE_K)
    return HeatedEvening(kw, on_h, at, seen)
