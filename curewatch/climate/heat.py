"""Heat on the metal of one step, as it was entered: how warm, from when to when.

Notes
-----
Where a probe on the metal at the step's own place reports during the heat, it is believed and the
entry changes nothing. Else the entered temperature stands for the metal during the spell, with an
uncertainty of 4 K (assumed: a lamp is never even, and nobody measured); a spell without a
temperature leaves the likely path as it was and widens the uncertainty to the largest ever used.
The edges are taken as sharp: thin sheet follows within minutes.

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
from curewatch.climate.reading import HeatSpell, Source
from curewatch.climate.sources import Share, near_to
from curewatch.notice import Measure, Notice, notice

HEATED_SD_C = 4.0
OLD_AFTER_MIN = 30.0


def _within(spell: HeatSpell, start: datetime, step_s: float, count: int) -> NDArray[np.bool_]:
    seconds = step_s * np.arange(count)
    first, last = ((at - start).total_seconds() for at in (spell.start, spell.until))
    inside: NDArray[np.bool_] = (seconds >= first) & (seconds <= last)
    return inside


def _notes(spell: HeatSpell, *, partly_read: bool) -> tuple[Notice, ...]:
    if spell.surface_c is None:
        note = notice("heat-unmeasured")
    else:
        note = notice("heat-entered", temperature=Measure(spell.surface_c, "C"))
    return (note, *((notice("heat-probe-counts-partly"),) if partly_read else ()))


def _ahead_notes(spell: HeatSpell) -> tuple[Notice, ...]:
    if spell.surface_c is None:
        return ()
    return (notice("heat-ahead", temperature=Measure(spell.surface_c, "C")),)


def _reported(conditions: Conditions, spell: HeatSpell, old_after_min: float) -> NDArray[np.bool_]:
    """Where a reading of the metal taken during the heat speaks for it: within old_after of one."""
    first, last = ((at - conditions.start).total_seconds() for at in (spell.start, spell.until))
    seconds: FloatArray = conditions.step_s * np.arange(conditions.surface_c.size, dtype=np.float64)
    near = np.zeros(seconds.size, dtype=np.bool_)
    for share in conditions.surface_by:
        if share.source.quantity == "surface_temperature" and not share.source.heat:
            read = share.read_s[(share.read_s >= first) & (share.read_s <= last)]
            near |= near_to(seconds, read) <= 60 * old_after_min
    return near


def _warm(conditions: Conditions, spell: HeatSpell, old_after_min: float, place: str) -> Conditions:
    if spell.start > ends(conditions):
        return replace(conditions, notes=(*conditions.notes, *_ahead_notes(spell)))
    inside = _within(spell, conditions.start, conditions.step_s, conditions.surface_c.size)
    reported = _reported(conditions, spell, old_after_min)
    stands = inside & ~reported
    if inside.any() and not stands.any():
        return replace(conditions, notes=(*conditions.notes, notice("heat-probe-counts")))
    entered_c, surface, shares = spell.surface_c, conditions.surface_c, conditions.surface_by
    if entered_c is not None:
        surface = np.where(stands, np.float64(entered_c), surface)
        shares = _shared(conditions, stands, place)
    surface_sd_c = np.where(
        stands, LARGEST_SD_C if entered_c is None else HEATED_SD_C, conditions.surface_sd_c
    )
    partly_read = bool((inside & reported).any())
    notes = (*conditions.notes, *_notes(spell, partly_read=partly_read))
    return replace(
        conditions, surface_c=surface, surface_sd_c=surface_sd_c, notes=notes, surface_by=shares
    )


def _shared(conditions: Conditions, stands: NDArray[np.bool_], place: str) -> tuple[Share, ...]:
    """How much each source counts, where the entered heat stands for the metal instead."""
    if not conditions.surface_by:
        return ()
    heat = Source("surface_temperature", place, typed=True, heat=True)
    seconds: FloatArray = conditions.step_s * np.flatnonzero(stands).astype(np.float64)
    return (
        *(
            replace(share, share=np.where(stands, 0.0, share.share))
            for share in conditions.surface_by
        ),
        Share(heat, stands.astype(np.float64), seconds),
    )


def warmed(
    conditions: Conditions,
    spells: Sequence[HeatSpell],
    old_after_min: float = OLD_AFTER_MIN,
    place: str = "panel",
) -> Conditions:
    """What a step was exposed to, with the heat entered where the metal was not read during it.

    Parameters
    ----------
    conditions : Conditions
        By readings alone.
    spells : sequence of HeatSpell
        The heat entered.
    old_after_min : float
        How long a reading of the metal stands for the heat. [min]
    place : str
        Where the metal is.

    Returns
    -------
    Conditions
        With the spells' temperatures, a wider band, and a note for each.
    """
    for spell in spells:
        conditions = _warm(conditions, spell, old_after_min, place)
    return conditions


def unreported(
    conditions: Conditions, spells: Sequence[HeatSpell], old_after_min: float = OLD_AFTER_MIN
) -> tuple[HeatSpell, ...]:
    """The spells for which no reading of the metal stands at the end of the conditions.

    Parameters
    ----------
    conditions : Conditions
        By readings alone.
    spells : sequence of HeatSpell
        The heat entered.
    old_after_min : float
        How long a reading of the metal stands for the heat. [min]

    Returns
    -------
    tuple of HeatSpell
    """
    return tuple(spell for spell in spells if not _reported(conditions, spell, old_after_min)[-1])


def warmed_ahead(ahead: Outlook, spells: Sequence[HeatSpell]) -> Outlook:
    """The outlook with heat that is still to come, where its temperature was entered.

    Parameters
    ----------
    ahead : Outlook
        Without the heat.
    spells : sequence of HeatSpell
        The heat entered; one of unknown temperature changes nothing.

    Returns
    -------
    Outlook
        Within a spell its temperature, with a band of HEATED_SD_C.
    """
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
            basis=(*ahead.basis, notice("forecast-heat")),
        )
    return ahead
