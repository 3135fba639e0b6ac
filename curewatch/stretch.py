"""Hardener, film and amount against the label: how many times longer, with how much doubt."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, log
from typing import TYPE_CHECKING

from curewatch import chemistry, pot
from curewatch.chemistry import CHEMISTRIES
from curewatch.course import Mix

if TYPE_CHECKING:
    from curewatch.sheet import Sheet


@dataclass(frozen=True)
class Stretch:
    """Factors on the label's time by hardener, film and amount [-]; sd: doubt of ln(times) [-]."""

    hardener: float = 1.0
    film: float = 1.0
    amount: float = 1.0
    sd: float = 0.0

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
    times = chemistry.stretch_hardener(family, span[1], mix.hardener_pct)
    return times, family.hardener_exponent_sd * abs(log(span[1] / mix.hardener_pct))


def _film(sheet: Sheet, mix: Mix) -> tuple[float, float]:
    family = CHEMISTRIES[sheet.chemistry]
    if mix.film_um is None or sheet.film_um is None:
        return 1.0, 0.0
    times = chemistry.stretch_film(family, sheet.film_um, mix.film_um)
    return times, family.film_exponent_sd * abs(log(mix.film_um / sheet.film_um))


def stretch(sheet: Sheet, mix: Mix, milestone: str, air_c: float | None = None) -> Stretch:
    """Factors on one milestone of a mix; air_c: around the pot, the reference if None. [C]"""
    hardener, hardener_sd = _hardener(sheet, mix)
    if milestone != "pot_life":
        film, film_sd = _film(sheet, mix)
        return Stretch(hardener, film, 1.0, hypot(hardener_sd, film_sd))
    reference = sheet.reference.temperature_c
    amount = pot.amount_factor(sheet, mix.amount_g, reference if air_c is None else air_c)
    sd = pot.SPREAD_SD if abs(log(amount)) > 1e-9 else 0.0
    return Stretch(hardener, 1.0, amount, hypot(hardener_sd, sd))
