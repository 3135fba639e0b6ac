"""What would make it go: heat on the panel, how warm and how long, and what else can be done."""

from __future__ import annotations

from curewatch.asked import Asked, Job, at_constant, plain
from curewatch.heated import SILENT_MOST_C, leaving, volatile
from curewatch.verdict import Manner, said, when

NO_HEAT = (
    "no heat while solvent flashes off: warm the metal before, heat off and air moving while it "
    "is applied, warm again after"
)
BURNER = "a burner adds water and carbon monoxide"
MOST_NAMED = 3


def joined(*parts: str) -> str:
    """Half-sentences in one; empty ones left out."""
    return "; ".join(part for part in parts if part)


def _off_until(asked: Asked, target: float) -> str:
    """How long no heat at this temperature while solvent leaves."""
    name = leaving(asked.sheet)
    found = None if name is None else at_constant(asked, target, name)
    if found is None or found.late_min is None or name is None:
        return NO_HEAT
    return f"{NO_HEAT}, from {plain(name)} on ({said(found.late_min)} at that warmth)"


def heat(asked: Asked, say: Manner) -> str:
    """What heat on the panel, and for how long, would make it go."""
    matters = asked.matters
    if matters is None:
        return ""
    target = asked.sheet.reference.temperature_c
    found = at_constant(asked, target, matters.name)
    if found is None or found.late_min is None:
        return ""
    words = (
        f"hold the panel itself at {say.temperature(target, 0)} for {said(found.late_min)}, to the "
        f"late bound of {plain(matters.name)}"
    )
    if asked.most_c is not None:
        words += f", never above {say.temperature(asked.most_c, 0)}"
    else:
        words += f", never above {say.temperature(SILENT_MOST_C, 0)} (the sheet is silent)"
    words += f"; {BURNER}"
    return f"{words}; {_off_until(asked, target)}" if volatile(asked.sheet) else words


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
            f"{each.name} ({plain(each.milestone)} {when(each.late, asked.now, say)} at the latest)"
            for each in asked.others[:MOST_NAMED]
        )
        found.append(f"on your shelf, at {say.temperature(surface)} these would go: {named}")
    if asked.jobs:
        named = ", ".join(_job(each, asked, say) for each in asked.jobs[:MOST_NAMED])
        found.append(f"in the job tonight: {named}")
    return joined(*found)
