"""Hardener, film and amount against the label: how many times longer, with how much doubt.

Film counts for curing through only. What happens at the surface or in the pot (skinning, working
time, pot life, the end of a recoat window) takes the label's time in any film. Sand-ready and full
cure go through the whole film. Clamps off and recoat opens ask for strength or release through the
film and for a firm surface too: a thicker film makes them later, a thinner one never sooner.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log
from typing import TYPE_CHECKING

from curewatch.cure import kinetics, pot_life
from curewatch.cure.inputs import Mix
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.units import format_film

if TYPE_CHECKING:
    from curewatch.products.sheet import Sheet

THROUGH = ("sand_ready", "full_cure")
THROUGH_AND_SURFACE = ("clamp_time", "recoat_opens")
FILM_SPAN = (0.25, 4.0)


@dataclass(frozen=True)
class Stretch:
    """Factors on the label's time by hardener, film and amount [-].

    sd: doubt of ln(times) that the whole batch shares; own_sd: of this milestone alone. [-]
    """

    hardener: float = 1.0
    film: float = 1.0
    amount: float = 1.0
    sd: float = 0.0
    own_sd: float = 0.0

    @property
    def times(self) -> float:
        """All factors together. [-]"""
        return self.hardener * self.film * self.amount


def refusals(sheet: Sheet, mix: Mix) -> tuple[str, ...]:
    """Why no time can be given for this mix; empty where one can."""
    family, dose = CHEMISTRIES[sheet.chemistry], mix.hardener_pct
    if dose is None:
        return ()
    if not family.hardener_varies:
        return (
            f"no time: the mixing ratio of {family.words} is never varied to change the speed, "
            "mix by the label",
        )
    span = sheet.limits.hardener_pct
    if span is None:
        return ("no time: the sheet gives no range of hardener, add limits.hardener",)
    if not span[0] <= dose <= span[2]:
        return (
            f"no time: {dose:g} % hardener is outside the label's {span[0]:g} to {span[2]:g} %",
        )
    return ()


def _hardener(sheet: Sheet, mix: Mix) -> tuple[float, float]:
    family, span = CHEMISTRIES[sheet.chemistry], sheet.limits.hardener_pct
    if mix.hardener_pct is None or span is None or not family.hardener_varies:
        return 1.0, 0.0
    times = kinetics.stretch_hardener(family, span[1], mix.hardener_pct)
    return times, family.hardener_exponent_sd * abs(log(span[1] / mix.hardener_pct))


def _thicker(sheet: Sheet, mix: Mix, milestone: str) -> float | None:
    """This film over the label's, where it counts for a milestone. [-]"""
    counts = CHEMISTRIES[sheet.chemistry].film_exponent > 0
    if not counts or milestone not in THROUGH + THROUGH_AND_SURFACE:
        return None
    if mix.film_um is None or sheet.film_um is None:
        return None
    return mix.film_um / sheet.film_um


def film_refusal(sheet: Sheet, mix: Mix, milestone: str) -> str:
    """Why no time can be given for a milestone in this film; empty where one can."""
    thicker = _thicker(sheet, mix, milestone)
    if thicker is None or FILM_SPAN[0] <= thicker <= FILM_SPAN[1]:
        return ""
    side = "under a quarter of" if thicker < FILM_SPAN[0] else "over four times"
    own, label = format_film(mix.film_um or 0.0), format_film(sheet.film_um or 0.0)
    return f"no time: a film of {own} is {side} the label's {label}, too far from it to tell"


def _film(sheet: Sheet, mix: Mix, milestone: str) -> tuple[float, float]:
    family, thicker = CHEMISTRIES[sheet.chemistry], _thicker(sheet, mix, milestone)
    if thicker is None or film_refusal(sheet, mix, milestone):
        return 1.0, 0.0
    if thicker < 1.0 and milestone in THROUGH_AND_SURFACE:
        return 1.0, 0.0
    return kinetics.stretch_film(family, thicker), family.film_exponent_sd * abs(log(thicker))


def stretch(sheet: Sheet, mix: Mix, milestone: str, air_c: float | None = None) -> Stretch:
    """Factors on one milestone of a mix; air_c: around the pot, the reference if None. [C]"""
    hardener, hardener_sd = _hardener(sheet, mix)
    if milestone != "pot_life":
        film, film_sd = _film(sheet, mix, milestone)
        return Stretch(hardener, film, 1.0, hardener_sd, film_sd)
    reference = sheet.reference.temperature_c
    amount = pot_life.amount_factor(sheet, mix.amount_g, reference if air_c is None else air_c)
    sd = pot_life.SPREAD_SD if abs(log(amount)) > 1e-9 else 0.0
    return Stretch(hardener, 1.0, amount, hardener_sd, sd)
