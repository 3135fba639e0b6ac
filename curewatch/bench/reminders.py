"""What a product's hazards ask of the person: reminders with their sources, before and meanwhile.

The product's label and safety data sheet come first; these are the usual cautions only. Which
source was opened when, and which could not be, stands in
curewatch/protection/README.md.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.bench.spraying import AIR_FED_KEY, may_mist, may_spray
from curewatch.bench.views import MilestoneView, Reminder
from curewatch.frozen import frozen
from curewatch.products.chemistries import ONE_PART
from curewatch.products.solvents import leaving, volatile

if TYPE_CHECKING:
    from curewatch.climate.reading import HeatSpell
    from curewatch.products.sheet import Sheet

WET_FROM = timedelta(minutes=30)
LEFT_FOR = timedelta(hours=6)
RE_ENTRY = timedelta(minutes=30)


@frozen
class Caution:
    """One reminder, and where it comes from."""

    key: str
    words: str
    source: str


_VENTILATION = Caution(
    "ventilation",
    "Open the door and run the fan; keep the air moving past your face, out of the garage. An open "
    "door alone is not enough.",
    "the safety data sheet's section 8 says how much",
)
_VENTILATION_FLAMMABLE = Caution(
    "ventilation",
    "Switch the fan on before you open the can: fresh air blown in, its motor and switch outside "
    "the vapour, for both can spark. Door open too; an open door alone is not enough.",
    "after Cal. Code Regs. title 8, section 5450(c), (d) (spray rooms: a fan that cannot spark, no "
    "motor in the vapour); the safety data sheet's section 8 says how much air",
)
_VAPOUR = Caution(
    "respirator",
    "Wear a fitted respirator with organic-vapour cartridges, no beard under its seal; you "
    "cannot smell when they are used up.",
    "29 CFR 1910.134; half mask factor 10, full face 50 (OSHA's final rule of 24 August 2006)",
)
_VAPOUR_AND_MIST = Caution(
    "respirator",
    f"{_VAPOUR.words} To spray it, a particle pre-filter over them as well: a vapour cartridge "
    "stops no mist.",
    f"{_VAPOUR.source}; paint filters over the cartridges: US EPA, Design for the Environment",
)
_MIST = Caution(
    "mist",
    "To spray it, wear a fitted mask with a particle filter, and vapour cartridges behind it where "
    "the safety data sheet asks for them: spray mist is breathed deep.",
    "the safety data sheet's section 8; 29 CFR 1910.134",
)
FREED = "Ground, welded or heated, it frees isocyanate, also once it has cured."
_AIR_FED = Caution(
    AIR_FED_KEY,
    "Isocyanate: spray it only with an air-fed mask on, in an equipped shop; a cartridge is not "
    f"enough. {FREED}",
    "HSE, Motor vehicle repair, Types of respiratory protective equipment to use for spraying; "
    "heated urethane: OSHA, Isocyanates",
)
_ISOCYANATE = Caution(
    "isocyanate",
    "Isocyanate: brush, roll or spread it by the safety data sheet, and never spray it without an "
    f"air-fed mask. {FREED}",
    "the safety data sheet's section 8; spraying: HSE, Motor vehicle repair; heated urethane: "
    "OSHA, Isocyanates",
)
_GLOVES = Caution(
    "gloves",
    "Gloves and eye protection on; this can make your skin allergic for life.",
    "the safety data sheet's section 8 names the glove",
)
_GLOVES_PLAIN = Caution(
    "gloves",
    "Gloves and eye protection on: keep it off your skin and out of your eyes.",
    _GLOVES.source,
)
_IGNITION = Caution(
    "ignition",
    "No flame, heater, pilot light or spark within 6 m; fuel heaters off and a carbon monoxide "
    "alarm running. Welding and grinding 11 m away, watched for half an hour after.",
    "Cal. Code Regs. title 8, section 5449(b) (20 ft from spraying); 29 CFR 1910.252(a)(2) (35 ft, "
    "half an hour); carbon monoxide: US CPSC",
)
_PEROXIDE = Caution(
    "peroxide",
    "Hardener paste: keep it cool, in its own container, away from rags, sawdust and accelerator.",
    "common practice; the hardener's safety data sheet comes first",
)
_DUST = Caution(
    "dust",
    "Sanding later: a particulate mask (N95 at least; P100 over old paint), and catch the dust. "
    "It stops no vapour.",
    "29 CFR 1910.134; take old paint for lead until it is tested (EPA 747-R-94-002)",
)
_DUST_URETHANE = Caution(
    "dust",
    "Sanding later: a P100 mask, and catch the dust; urethane dust is worse than filler dust. It "
    "stops no vapour. Never grind it hot: heat frees isocyanate.",
    "29 CFR 1910.134; heated urethane: OSHA, Isocyanates; old paint: lead until it is tested "
    "(EPA 747-R-94-002)",
)
WASTE = "Dispose of them by your local hazardous-waste rules."
_LEFTOVERS = Caution(
    "leftovers",
    f"Leftovers and rags: spread them out thin, outdoors, on something that cannot burn; 100 g "
    f"or more in one cup heats up by itself. {WASTE}",
    "the safety data sheet's section 13; US EPA, Household hazardous waste; heating: common "
    "practice",
)
_RAGS = Caution(
    "leftovers",
    "Leftovers and rags: let them dry spread out, outdoors, on something that cannot burn, never "
    f"in a heap. {WASTE}",
    "the safety data sheet's section 13; US EPA, Household hazardous waste; rags: common practice",
)
STILL_WET = Caution(
    "ventilation:wet",
    "Solvent is still evaporating: fan on, fresh air blown in, its motor outside the vapour; "
    "switch "
    "nothing in it. Door open, heater and flame off.",
    _VENTILATION_FLAMMABLE.source,
)
STILL_MIST = Caution(
    "air-fed:wet",
    "Isocyanate mist hangs unseen: go back in only with an air-fed mask; neither smell nor a "
    "clear view shows that it is gone.",
    "HSE, bodyshop myths 3 and 5, and Good practice for SMART sprayers (a workshop: 30 minutes)",
)
SANDING = Caution(
    "dust:sanding",
    "Before the paper touches it: dust mask on, dust caught; fresh resin dust is not cured.",
    _DUST.source,
)
SANDING_URETHANE = Caution(
    SANDING.key,
    f"{SANDING.words} P100 for urethane, and never grind it hot: heat frees isocyanate.",
    _DUST_URETHANE.source,
)
CUP = Caution(
    "leftovers:pot",
    f"The mix is past its pot life: spread what is left out thin, outdoors, on something that "
    f"cannot burn, and clean the tools. Leftovers and rags: {WASTE[0].lower()}{WASTE[1:]}",
    _LEFTOVERS.source,
)
HEATER = Caution(
    "heater:on",
    "While heat is on, run a carbon monoxide alarm if anything burns, put nothing that can catch "
    "fire under it, and do not leave it alone. A burner adds damp to the air.",
    "carbon monoxide: US CPSC, as a health library quotes it; the rest common practice",
)


FORMERLY = {_ISOCYANATE.key: AIR_FED_KEY}


def flammable(sheet: Sheet) -> bool:
    """Whether its vapour can be lit by a spark."""
    hazards = sheet.hazards
    return hazards.flammable_solvent or hazards.styrene or sheet.chemistry == "methacrylate"


def urethane(sheet: Sheet) -> bool:
    """Whether heat on it, also when cured, may free isocyanate."""
    return sheet.hazards.isocyanate or sheet.chemistry in ("urethane-2k", "moisture-urethane")


def cautions(sheet: Sheet, applied: str = "") -> tuple[Caution, ...]:
    """The reminders before a mix of this product, in the order to answer them; applied: how it goes
    on, '' while that is not answered."""
    hazards, mixed = sheet.hazards, sheet.chemistry not in ONE_PART
    fire, sprayed = flammable(sheet), may_spray(sheet, applied)
    chosen = [_VENTILATION_FLAMMABLE if fire else _VENTILATION]
    air_fed = may_mist(sheet, applied)
    if hazards.isocyanate:
        chosen.append(_AIR_FED if air_fed else _ISOCYANATE)
    if (volatile(sheet) or sheet.chemistry == "methacrylate") and not air_fed:
        chosen.append(_VAPOUR_AND_MIST if sprayed else _VAPOUR)
    elif sprayed and not air_fed:
        chosen.append(_MIST)
    chosen.append(_GLOVES if hazards.sensitiser or hazards.isocyanate or mixed else _GLOVES_PLAIN)
    if fire:
        chosen.append(_IGNITION)
    if hazards.peroxide:
        chosen.append(_PEROXIDE)
    if hazards.dust:
        chosen.append(_DUST_URETHANE if urethane(sheet) else _DUST)
    chosen.append(_LEFTOVERS if mixed else _RAGS)
    return tuple(chosen)


def occasions(sheet: Sheet, applied: str = "") -> tuple[Caution, ...]:
    """The reminders that come again while it hardens."""
    chosen = [HEATER, STILL_WET] if volatile(sheet) else [HEATER]
    if may_mist(sheet, applied):
        chosen.append(STILL_MIST)
    if sheet.hazards.dust and "sand_ready" in sheet.reference.minutes:
        chosen.append(SANDING_URETHANE if urethane(sheet) else SANDING)
    if sheet.chemistry not in ONE_PART:
        chosen.append(CUP)
    return tuple(chosen)


def _wet(
    sheet: Sheet, named: Mapping[str, MilestoneView], mixed_at: datetime, now: datetime
) -> bool:
    flash_off = named.get(leaving(sheet) or "")
    if flash_off is not None and flash_off.reached:
        return False
    end = flash_off.late if flash_off is not None else None
    if end is None:
        return mixed_at + WET_FROM <= now
    begin = mixed_at + min(WET_FROM, (end - mixed_at) / 2)
    return begin <= now < end


def _sanding(named: Mapping[str, MilestoneView]) -> bool:
    milestone = named.get("sand_ready")
    return milestone is not None and (milestone.due or milestone.reached)


def _cup(named: Mapping[str, MilestoneView], emptied: datetime | None, now: datetime) -> bool:
    if emptied is not None:
        return False
    pot = named.get("pot_life") or named.get("working_time")
    return pot is not None and pot.shown is not None and pot.shown <= now < pot.shown + LEFT_FOR


def arrived(
    sheet: Sheet,
    milestones: Sequence[MilestoneView],
    mixed_at: datetime,
    now: datetime,
    emptied: datetime | None = None,
    heated: Sequence[HeatSpell] = (),
    applied: str = "",
) -> tuple[Caution, ...]:
    """The reminders whose occasion is here now; emptied: when cup and tools were entered as clean;
    heated: the heat that was entered; applied: how it goes on."""
    named = {milestone.name: milestone for milestone in milestones}
    here = {
        HEATER.key: any(spell.start <= now < spell.until for spell in heated),
        STILL_WET.key: _wet(sheet, named, mixed_at, now),
        STILL_MIST.key: mixed_at + WET_FROM / 2 <= now < mixed_at + WET_FROM + RE_ENTRY,
        SANDING.key: _sanding(named),
        CUP.key: _cup(named, emptied, now),
    }
    return tuple(caution for caution in occasions(sheet, applied) if here[caution.key])


def reminders(
    sheet: Sheet,
    milestones: Sequence[MilestoneView],
    mixed_at: datetime,
    acknowledged: Mapping[str, datetime],
    now: datetime,
    emptied: datetime | None = None,
    heated: Sequence[HeatSpell] = (),
    applied: str = "",
) -> tuple[Reminder, ...]:
    """What is to be answered: before the mix, then each occasion once it is here or answered."""
    arrived_now = arrived(sheet, milestones, mixed_at, now, emptied, heated, applied)
    here = {caution.key for caution in arrived_now}
    again = [
        caution
        for caution in occasions(sheet, applied)
        if caution.key in here or caution.key in acknowledged
    ]
    answered = {new: acknowledged[old] for new, old in FORMERLY.items() if old in acknowledged}
    answered |= acknowledged
    return tuple(
        Reminder(
            caution.key, caution.words, answered.get(caution.key), caution.source, caution in again
        )
        for caution in (*cautions(sheet, applied), *again)
    )
