"""Heat on the metal of one step, as it was told: how warm, from when to when.

Notes
-----
Where a probe on the metal at the step's own place reports during the heat, it is believed and the
telling changes nothing. Else the told temperature stands for the metal during the spell, with a
doubt of 4 K (assumed: a lamp is never even, and nobody measured); a spell of untold temperature
leaves the likely path as it was and widens the doubt to the most that is ever carried. The edges
are taken as sharp: thin sheet follows within minutes.

No heat while solvent flashes off: it skins the film over what still has to leave, and it is an
ignition source beside vapour. Until when solvent is taken to leave is a cautious choice of ours
(no source): products dried by their solvent until they may be recoated, those that react and give
off styrene or monomer until their working time is over.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from curewatch.climate.conditions import LARGEST_SD_C, Conditions, ends
from curewatch.climate.outlook import P90, Outlook
from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import Source, Spell
from curewatch.climate.sources import Share, near_to

HEATED_SD_C = 4.0
BELIEVED = "heat was entered, but the probe at this place is believed instead"
PARTLY = "where the probe reported during the heat, it is believed instead"
OLD_AFTER_MIN = 30.0


def _within(spell: Spell, start: datetime, step_s: float, count: int) -> NDArray[np.bool_]:
    seconds = step_s * np.arange(count)
    first, last = ((at - start).total_seconds() for at in (spell.start, spell.until))
    inside: NDArray[np.bool_] = (seconds >= first) & (seconds <= last)
    return inside


def _note(spell: Spell) -> str:
    if spell.surface_c is None:
        return "heated, how warm was not entered: the times leave it out, and the band is widened"
    return f"heated to about {spell.surface_c:g} C as entered, not measured: the band is widened"


def _ahead_note(spell: Spell) -> tuple[str, ...]:
    if spell.surface_c is None:
        return ()
    return (f"heat to come, about {spell.surface_c:g} C, is counted as entered",)


def _reported(felt: Conditions, spell: Spell, old_after_min: float) -> NDArray[np.bool_]:
    """Where a reading of the metal taken during the heat speaks for it: within old_after of one."""
    first, last = ((at - felt.start).total_seconds() for at in (spell.start, spell.until))
    seconds: FloatArray = felt.step_s * np.arange(felt.surface_c.size, dtype=np.float64)
    near = np.zeros(seconds.size, dtype=np.bool_)
    for each in felt.surface_by:
        if each.source.quantity == "surface_temperature" and not each.source.heat:
            read = each.read_s[(each.read_s >= first) & (each.read_s <= last)]
            near |= near_to(seconds, read) <= 60 * old_after_min
    return near


def _warm(felt: Conditions, spell: Spell, old_after_min: float, place: str) -> Conditions:
    if spell.start > ends(felt):
        return replace(felt, notes=(*felt.notes, *_ahead_note(spell)))
    inside = _within(spell, felt.start, felt.step_s, felt.surface_c.size)
    reported = _reported(felt, spell, old_after_min)
    told = inside & ~reported
    if inside.any() and not told.any():
        return replace(felt, notes=(*felt.notes, BELIEVED))
    warm, surface, shares = spell.surface_c, felt.surface_c, felt.surface_by
    if warm is not None:
        surface = np.where(told, np.float64(warm), surface)
        shares = _shared(felt, told, place)
    doubt = np.where(told, LARGEST_SD_C if warm is None else HEATED_SD_C, felt.surface_sd_c)
    notes = (*felt.notes, _note(spell), *((PARTLY,) if (inside & reported).any() else ()))
    return replace(felt, surface_c=surface, surface_sd_c=doubt, notes=notes, surface_by=shares)


def _shared(felt: Conditions, told: NDArray[np.bool_], place: str) -> tuple[Share, ...]:
    """How much each source counts, where the heat told stands for the metal instead."""
    if not felt.surface_by:
        return ()
    heat = Source("surface_temperature", place, typed=True, heat=True)
    seconds: FloatArray = felt.step_s * np.flatnonzero(told).astype(np.float64)
    return (
        *(replace(each, share=np.where(told, 0.0, each.share)) for each in felt.surface_by),
        Share(heat, told.astype(np.float64), seconds),
    )


def warmed(
    felt: Conditions,
    spells: Sequence[Spell],
    old_after_min: float = OLD_AFTER_MIN,
    place: str = "panel",
) -> Conditions:
    """What a step felt, with the heat that was told of, but where the metal was read during it.

    old_after_min: how long such a reading speaks for it [min].
    """
    for spell in spells:
        felt = _warm(felt, spell, old_after_min, place)
    return felt


def unreported(
    felt: Conditions, spells: Sequence[Spell], old_after_min: float = OLD_AFTER_MIN
) -> tuple[Spell, ...]:
    """The spells that the metal's own readings do not speak for at the end of what was felt.

    old_after_min: how long a reading speaks for the heat [min].
    """
    return tuple(each for each in spells if not _reported(felt, each, old_after_min)[-1])


def warmed_ahead(ahead: Outlook, spells: Sequence[Spell]) -> Outlook:
    """The outlook with heat that is still to come, where its temperature was told."""
    for spell in spells:
        inside = _within(spell, ahead.start, ahead.step_s, ahead.likely_c.size)
        if spell.surface_c is None or not inside.any():
            continue
        cool, warm = (spell.surface_c + side * P90 * HEATED_SD_C for side in (-1, 1))
        ahead = replace(
            ahead,
            likely_c=np.where(inside, spell.surface_c, ahead.likely_c),
            cool_c=np.where(inside, cool, ahead.cool_c),
            warm_c=np.where(inside, warm, ahead.warm_c),
            words=f"{ahead.words}; with the heat that was entered",
        )
    return ahead
