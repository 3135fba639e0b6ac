"""What would make it go: heat on the panel, how warm and how long, and what else can be done."""

from __future__ import annotations

from curewatch.durations import duration
from curewatch.formats import Manner, when
from curewatch.gate.proposal import Asked, Job, at_constant
from curewatch.products.solvents import SILENT_MOST_C, leaving
from curewatch.vocabulary import in_words

NO_HEAT = (
    "no heat on it while solvent flashes off",
    "warm the metal before, heat off and air moving meanwhile",
    "warm again after",
)
BURNER = "a burner adds water and carbon monoxide"
MOST_NAMED = 3


def joined(*parts: str) -> str:
    """Half-sentences in one; empty ones left out."""
    return "; ".join(part for part in parts if part)


def _limit(asked: Asked, say: Manner) -> str:
    if asked.most_c is not None:
        return f"never above {say.temperature(asked.most_c, 0)}"
    return f"never above {say.temperature(SILENT_MOST_C, 0)} (the sheet is silent)"


def _off(asked: Asked, target: float, until_min: float, say: Manner) -> tuple[str, bool]:
    """That no heat belongs on it while solvent leaves, and whether that lasts to the end."""
    name = leaving(asked.sheet)
    found = None if name is None else at_constant(asked, target, name)
    if name is None or found is None or found.late_min is None:
        return "", False
    whole = found.late_min >= until_min
    held = f"to {in_words(name)}, {duration(found.late_min, 'up')} at {say.temperature(target, 0)}"
    if whole:
        return f"{NO_HEAT[0]}, {held}: {NO_HEAT[1]}", True
    return f"{NO_HEAT[0]}, {held}: {NO_HEAT[1]}, {NO_HEAT[2]}", False


def heat(asked: Asked, say: Manner) -> str:
    """What heat on the panel, and for how long, would make it go."""
    matters = asked.matters
    if matters is None:
        return ""
    target = asked.sheet.reference.temperature_c
    found = at_constant(asked, target, matters.name)
    if found is None or found.late_min is None:
        return ""
    off, whole = _off(asked, target, found.late_min, say)
    warm = say.temperature(target, 0)
    length = f"for {duration(found.late_min, 'up')}, to the late bound of {in_words(matters.name)}"
    if whole:
        words = f"have metal and room at {warm} before it goes on, and the room {length}"
    else:
        words = f"hold the panel itself at {warm} {length}"
    return joined(f"{words}, {_limit(asked, say)}", off, BURNER)


def _job(job: Job, asked: Asked, say: Manner) -> str:
    if job.until is not None:
        return f"{job.words} (until {say.moment(job.until, asked.now)})"
    return job.words


def instead(asked: Asked, say: Manner) -> str:
    """What else can be done tonight: own products that would go here, and what the job asks."""
    surface = asked.here.surface_c
    found = []
    if asked.others and surface is not None:
        named = ", ".join(
            f"{each.name} ({in_words(each.milestone)} "
            f"{when(each.late, asked.now, say)} at the latest)"
            for each in asked.others[:MOST_NAMED]
        )
        found.append(f"on your shelf, at {say.temperature(surface)} these would go: {named}")
    if asked.jobs:
        named = ", ".join(_job(each, asked, say) for each in asked.jobs[:MOST_NAMED])
        found.append(f"in the job tonight: {named}")
    return joined(*found)
