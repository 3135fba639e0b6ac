"""What would make it go: heat on the panel, how warm and how long, and what else can be done."""

from __future__ import annotations

from curewatch.cure.kinetics import DRY_SHARE, water_share
from curewatch.cure.thermal_history import reference_pct
from curewatch.durations import duration
from curewatch.formats import ReaderFormat, when
from curewatch.gate.proposal import Job, Proposal, at_constant
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.solvents import SILENT_MOST_C, leaving
from curewatch.vocabulary import in_words

NO_HEAT = (
    "no heat while solvent evaporates",
    "warm the metal before; then heat off and keep the air moving",
    "warm again after",
)
BURNER = "a burner adds damp and carbon monoxide"
MOST_NAMED = 3
HUMIDITY_MOST_PCT = 80.0


def joined(*parts: str) -> str:
    """Half-sentences in one; empty ones left out."""
    return "; ".join(part for part in parts if part)


def _limit(proposal: Proposal, say: ReaderFormat) -> str:
    if proposal.most_c is not None:
        return f"never above {say.temperature(proposal.most_c, 0)}"
    return f"never above {say.temperature(SILENT_MOST_C, 0)} (the label gives no limit)"


def _off(
    proposal: Proposal, target: float, until_min: float, say: ReaderFormat
) -> tuple[str, bool]:
    """That no heat belongs on it while solvent leaves, and whether that lasts to the end."""
    name = leaving(proposal.sheet)
    milestone = None if name is None else at_constant(proposal, target, name)
    if name is None or milestone is None or milestone.late_min is None:
        return "", False
    whole = milestone.late_min >= until_min
    text = (
        f"to {in_words(name)}, {duration(milestone.late_min, 'up')} at {say.temperature(target, 0)}"
    )
    if whole:
        return f"{NO_HEAT[0]}, {text}: {NO_HEAT[1]}", True
    return f"{NO_HEAT[0]}, {text}: {NO_HEAT[1]}, {NO_HEAT[2]}", False


def damp(proposal: Proposal) -> str:
    """What would make a moisture cure go that lacks water, which heat does not add."""
    sheet, here = proposal.sheet, proposal.here
    air_c = here.surface_c if here.air_c is None else here.air_c
    moist = CHEMISTRIES[sheet.chemistry].humidity == "absolute"
    if not moist or air_c is None or here.humidity_pct is None:
        return ""
    usual = sheet.reference.temperature_c, reference_pct(sheet)
    share = water_share(air_c, here.humidity_pct, *usual)
    if share >= DRY_SHARE:
        return ""
    own = sheet.limits.humidity_max_pct
    wanted = min(here.humidity_pct / max(share, 0.01), HUMIDITY_MOST_PCT if own is None else own)
    return (
        f"damp the air to about {wanted:.0f} %, as with wet cloths in the room, none of it on "
        "the metal: what it cures by is the air's water, and heat alone adds none"
    )


def speed_up(proposal: Proposal, say: ReaderFormat) -> str:
    """What would make it go sooner: water where that is lacking, else heat."""
    return damp(proposal) or heat(proposal, say)


def heat(proposal: Proposal, say: ReaderFormat) -> str:
    """What heat on the panel, and for how long, would make it go."""
    matters = proposal.matters
    if matters is None:
        return ""
    target = proposal.sheet.reference.temperature_c
    milestone = at_constant(proposal, target, matters.name)
    if milestone is None or milestone.late_min is None:
        return ""
    off, whole = _off(proposal, target, milestone.late_min, say)
    warm = say.temperature(target, 0)
    length = (
        f"for {duration(milestone.late_min, 'up')}, the latest time of {in_words(matters.name)}"
    )
    if whole:
        words = (
            f"warm metal and room to {warm} before you apply it, and keep the room there {length}"
        )
    else:
        words = f"keep the panel itself at {warm} {length}"
    return joined(f"{words}, {_limit(proposal, say)}", off, BURNER)


def _job(job: Job, proposal: Proposal, say: ReaderFormat) -> str:
    if job.until is not None:
        return f"{job.words} (until {say.moment(job.until, proposal.now)})"
    return job.words


def instead(proposal: Proposal, say: ReaderFormat) -> str:
    """What else can be done tonight: own products that would go here, and what the job asks."""
    surface = proposal.here.surface_c
    texts = []
    if proposal.others and surface is not None:
        named = ", ".join(
            f"{other.name} ({in_words(other.milestone)} "
            f"{when(other.late, proposal.now, say)} at the latest)"
            for other in proposal.others[:MOST_NAMED]
        )
        texts.append(f"of your products these would go at {say.temperature(surface)}: {named}")
    if proposal.jobs:
        named = ", ".join(_job(job, proposal, say) for job in proposal.jobs[:MOST_NAMED])
        texts.append(f"in this job tonight: {named}")
    return joined(*texts)
