"""How long a room takes to air out, and how much vapour a product leaves in it meanwhile.

Notes
-----
A room of volume V with a flow Q through it, the flow made less by a mixing factor K (at least 1; 5
unless told, it can reach 10), and a source G:

    n = Q/V                                      air changes                          [1/h]
    t = K ln(1/(1 - removed))/n                  purge                                [1]_
    C(t) = G/V * K/n * (1 - exp(-n t/K))         build-up while working

These hold for vapour alone, in a room that mixes: not for isocyanate, dust or spray mist, and not
for someone who bends over the work. Their answer is a minimum and not a clearance. Limits are for
healthy trained adults at work over a shift; none was found for homes.

References
----------
.. [1] CDC, MMWR 43(RR-13), 1994, table S3-1, and its remark that the time is to be multiplied by a
   factor which can reach 10.
.. [2] NIOSH IDLH pages by CAS number (May 1994), OSHA's chemical sampling pages, Directive (EU)
   2019/1831 and WorkSafe New Zealand: limits and lower explosive limits; which page was read when
   stands in README.md beside this file.
"""

from __future__ import annotations

from math import expm1, log

from curewatch import units
from curewatch.errors import ModelError
from curewatch.frozen import frozen
from curewatch.products.hazards import Hazards

MOLAR_VOLUME_L = 24.45
USUAL_MIXING, MOST_MIXING = 5.0, 10.0
FIRE_SHARE = 0.10
THINNEST_G_ML = 1.0
_FOOT_M3 = 0.028316846592
_VOLUME = {"m3": 1.0, "m³": 1.0, "l": 0.001, "ft3": _FOOT_M3, "ft³": _FOOT_M3}
_FLOW = {"m3/h": 1.0, "m³/h": 1.0, "l/s": 3.6, "cfm": 60 * _FOOT_M3}
NO_HEALTH_LEVEL = "a level below the fire limit says nothing about health"
MINIMUM = "a minimum and not a clearance: the air may still hold more than this says"


@frozen
class VapourLimit:
    """A solvent's published limits over a shift: quoted (limit [ppm], whose); lower explosive limit
    lel_pct [% of the air], the lowest where sources differ; molar_mass [g/mol]."""

    name: str
    cas: str
    molar_mass: float
    quoted: tuple[tuple[float, str], ...]
    lel_pct: float

    @property
    def lowest_ppm(self) -> float:
        """The strictest limit found; others may be stricter still. [ppm]"""
        return min(self.quoted)[0]

    @property
    def source(self) -> str:
        """Whose the strictest limit is."""
        whose = [who for ppm, who in self.quoted if ppm == self.lowest_ppm]
        return f"{' and '.join(whose)}, mean over a working shift, CAS {self.cas}"

    @property
    def fire_ppm(self) -> float:
        """A tenth of the lower explosive limit. [ppm]"""
        return FIRE_SHARE * self.lel_pct * 10_000


def _limit(
    name: str, cas: str, molar_mass: float, lel_pct: float, *quoted: tuple[float, str]
) -> VapourLimit:
    return VapourLimit(name, cas, molar_mass, quoted, lel_pct)


NIOSH, OSHA = "NIOSH (1994)", "OSHA (29 CFR 1910.1000)"
ACGIH = "ACGIH (as OSHA listed it in 2008)"
ACGIH_STYRENE = "ACGIH (1996, as OSHA listed it in 2012)"
CAL_OSHA = "Cal/OSHA (2012)"
EU = "Directive (EU) 2019/1831"
NEW_ZEALAND = "WorkSafe New Zealand (for p-xylene, as of 2026)"
LIMITS = {
    limit.name: limit
    for limit in (
        _limit(
            "styrene", "100-42-5", 104.15, 0.9,
            (20, ACGIH_STYRENE), (50, CAL_OSHA), (50, NIOSH), (100, OSHA),
        ),
        _limit(
            "methyl methacrylate", "80-62-6", 100.12, 1.7, (50, ACGIH), (100, NIOSH), (100, OSHA)
        ),
        _limit(
            "toluene", "108-88-3", 92.14, 1.1,
            (10, CAL_OSHA), (50, ACGIH), (100, NIOSH), (200, OSHA),
        ),
        _limit(
            "xylene", "1330-20-7", 106.17, 0.9, (50, NEW_ZEALAND), (100, NIOSH), (100, OSHA)
        ),
        _limit(
            "n-butyl acetate", "123-86-4", 116.16, 1.2,
            (50, EU), (150, ACGIH), (150, NIOSH), (150, OSHA),
        ),
        _limit("acetone", "67-64-1", 58.08, 2.5, (250, NIOSH), (500, ACGIH), (1000, OSHA)),
    )
}  # fmt: skip
OTHER_NAMES = {
    "xylenes": "xylene",
    "butyl acetate": "n-butyl acetate",
    "mma": "methyl methacrylate",
    "toluol": "toluene",
    "xylol": "xylene",
}


@frozen
class Room:
    """A room being aired: volume_m3 [m3], flow_m3_h [m3/h], mixing factor [-]."""

    volume_m3: float
    flow_m3_h: float
    mixing: float = USUAL_MIXING

    def __post_init__(self) -> None:
        _between("a room", self.volume_m3, "m3", 1.0, 100_000.0)
        _between("a flow", self.flow_m3_h, "m3/h", 1.0, 1_000_000.0)
        _between("a mixing factor", self.mixing, "", 1.0, MOST_MIXING)

    @property
    def air_changes_per_h(self) -> float:
        """How often the flow would fill the room. [1/h]"""
        return self.flow_m3_h / self.volume_m3

    @property
    def mixed_per_h(self) -> float:
        """Air changes that count, after the mixing factor. [1/h]"""
        return self.air_changes_per_h / self.mixing


@frozen
class Level:
    """The highest mean vapour level while working: mg_m3 [mg/m3], ppm [ppm] or None where the
    solvent's molar mass is not known; still_mg_m3: the same with no air moving [mg/m3]."""

    solvent: str
    grams: float
    over_min: float
    mg_m3: float
    still_mg_m3: float
    ppm: float | None
    limit: VapourLimit | None

    @property
    def times_limit(self) -> float | None:
        """The level over the strictest limit. [-]"""
        if self.limit is None or self.ppm is None:
            return None
        return self.ppm / self.limit.lowest_ppm

    @property
    def times_fire(self) -> float | None:
        """The level over a tenth of the lower explosive limit. [-]"""
        return None if self.limit is None or self.ppm is None else self.ppm / self.limit.fire_ppm


def _between(what: str, value: float, unit: str, low: float, high: float) -> None:
    if not low <= value <= high:
        raise ModelError(
            f"{what} of {value:g} {unit}".rstrip() + f" is outside {low:g}..{high:g}",
            fix="check the number and its unit",
        )


def ppm_from_mg_m3(mg_m3: float, molar_mass: float) -> float:
    """Share of the air that is vapour at 25 C. [ppm]; mg_m3 [mg/m3], molar_mass [g/mol]"""
    return mg_m3 * MOLAR_VOLUME_L / molar_mass


def purge_min(air_changes_per_h: float, removed: float, mixing: float = USUAL_MIXING) -> float:
    """Time to remove a share of what the air holds, once nothing more comes in. [min]

    air_changes_per_h [1/h]; removed: share, below 1 [-]; mixing factor [-].

    >>> round(purge_min(6, 0.99, mixing=1))
    46
    """
    return 60 * mixing * log(1 / (1 - removed)) / air_changes_per_h


def build_up_h(air_changes_per_h: float, hours: float) -> float:
    """(1 - exp(-n t))/n: how many hours of the source the room holds after a time. [h]

    air_changes_per_h [1/h], 0 where no air moves; hours [h].
    """
    if air_changes_per_h == 0:
        return hours
    return -expm1(-air_changes_per_h * hours) / air_changes_per_h


def limit_of(name: str) -> VapourLimit | None:
    """The published limits of a solvent, None where none is kept here."""
    plain = " ".join(name.lower().split())
    return LIMITS.get(OTHER_NAMES.get(plain, plain))


def solvent_grams(amount_g: float, g_per_l: float, density_g_ml: float | None = None) -> float:
    """Solvent in an amount of product, at most all of it. [g]

    amount_g [g]; g_per_l: solvent in a litre of product [g/l]; density_g_ml: of the product, thin
    as water where it is not known, which makes the most of the solvent [g/ml].
    """
    litres = amount_g / 1000 / (density_g_ml or THINNEST_G_ML)
    return min(amount_g, litres * g_per_l)


def level(room: Room, solvent: str, grams: float, over_min: float) -> Level:
    """Vapour in the room when the last of the solvent has left the work evenly over a time.

    grams: of solvent [g]; over_min: from the first to the last of it [min].
    """
    _between("an amount of solvent", grams, "g", 0.001, 1e6)
    _between("a time", over_min, "min", 1.0, 10_000.0)
    hours = over_min / 60
    still = 1000 * grams / room.volume_m3
    aired = still / hours * build_up_h(room.mixed_per_h, hours)
    limit = limit_of(solvent)
    ppm = None if limit is None else ppm_from_mg_m3(aired, limit.molar_mass)
    return Level(solvent, grams, over_min, aired, still, ppm, limit)


def no_number(hazards: Hazards, *, sprayed: bool = False, sanded: bool = False) -> str:
    """Why no level and no time can be given at all; empty where they can."""
    if hazards.isocyanate:
        return (
            "isocyanate: no level and no airing time can be given; no smell warns, dry-looking "
            "overspray still holds it. Sprayed, it calls for an air-fed mask in an equipped shop"
        )
    if sprayed:
        return (
            "spray mist hangs and settles, it does not follow air changes: no level and no time "
            "can be given"
        )
    if sanded:
        return "dust settles and rises again: no level and no time can be given"
    return ""


def parse_volume(text: str) -> float:
    """A room's volume with its unit. [m3]

    >>> parse_volume("60 m3")
    60.0
    """
    return units._scaled(text, "volume", _VOLUME, "60 m3")


def parse_flow(text: str) -> float:
    """A fan's flow with its unit. [m3/h]

    >>> parse_flow("100 l/s")
    360.0
    """
    return units._scaled(text, "flow", _FLOW, "300 m3/h")
