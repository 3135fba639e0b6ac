"""What a sheet's hazards ask of the person: reminders with their sources, before and meanwhile.

The product's label and safety data sheet come first; these are the usual cautions only. "Not opened
again" stands beside a source that is quoted here without its text having been read for this list.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from curewatch.chemistry import ONE_PART
from curewatch.heated import Spell, leaving, volatile
from curewatch.sheet import Sheet
from curewatch.spraying import AIR_FED_KEY, may_mist
from curewatch.views import MilestoneView, Reminder

WET_FROM = timedelta(minutes=30)
LEFT_FOR = timedelta(hours=6)
RE_ENTRY = timedelta(minutes=30)


@dataclass(frozen=True)
class Caution:
    """One reminder, and where it comes from."""

    key: str
    words: str
    source: str


_VENTILATION = Caution(
    "ventilation",
    "Open the door and run the fan; keep the air moving past your face, out of the garage. An open "
    "door alone is not enough.",
    "29 CFR 1910.94 (not opened again); the safety data sheet's section 8 says how much",
)
_VAPOUR = Caution(
    "respirator",
    "Wear a fitted respirator with organic-vapour cartridges, no beard under its seal; smell does "
    "not tell when they are used up.",
    "29 CFR 1910.134; half mask factor 10, full face 50 (OSHA's final rule of 24 August 2006)",
)
_AIR_FED = Caution(
    AIR_FED_KEY,
    "Isocyanate: spray it only with an air-fed mask on, in an equipped shop; a cartridge is not "
    "enough.",
    "HSE, Motor vehicle repair, Types of respiratory protective equipment to use for spraying; "
    "NIOSH pocket guide, HDI (not opened again)",
)
_ISOCYANATE = Caution(
    "isocyanate",
    "Isocyanate: brush, roll or spread it by the safety data sheet, and never spray it without an "
    "air-fed mask.",
    "the safety data sheet's section 8; spraying: HSE, Motor vehicle repair, as above",
)
_GLOVES = Caution(
    "gloves",
    "Gloves and eye protection on; this can make skin allergic for life.",
    "the safety data sheet's section 8; FAA AC 43.13-1B, chapter 1 (not opened again)",
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
    "common practice, no source; the hardener's safety data sheet rules",
)
_DUST = Caution(
    "dust",
    "Sanding later: a particulate mask (N95 at least; P100 over old paint), and catch the dust. "
    "It stops no vapour.",
    "29 CFR 1910.134; take old paint for lead until it is tested (EPA 747-R-94-002)",
)
_DUST_URETHANE = Caution(
    "dust",
    "Sanding later: a P100 mask, and catch the dust; two-part urethane dust is worse than filler "
    "dust. It stops no vapour.",
    "29 CFR 1910.134; common practice for urethane; old paint: lead until it is tested "
    "(EPA 747-R-94-002)",
)
_LEFTOVERS = Caution(
    "leftovers",
    "Spread leftovers thin, outdoors: 100 g or more in one cup heats itself.",
    "NAVEDTRA 14003 (a 500 g mix that ran hot; not opened again); 100 g: reckoned here",
)
STILL_WET = Caution(
    "ventilation:wet",
    "Solvent is still leaving: fan on, door open, heater and flame off.",
    _VENTILATION.source,
)
STILL_MIST = Caution(
    "air-fed:wet",
    "Isocyanate mist hangs unseen: go back in air-fed only; smell and a clear view tell nothing.",
    "HSE, bodyshop myths 3 and 5, and Good practice for SMART sprayers (a workshop: 30 minutes)",
)
SANDING = Caution(
    "dust:sanding",
    "Before the paper touches it: dust mask on, dust caught; fresh resin dust is not cured.",
    _DUST.source,
)
CUP = Caution(
    "leftovers:pot",
    "The mix is past its time: spread what is left thin, outdoors, and clean the tools.",
    _LEFTOVERS.source,
)
HEATER = Caution(
    "heater:on",
    "Heat is on: a carbon monoxide alarm runs where anything burns, nothing that can catch fire is "
    "under it, and it is not left alone. A burner adds water to the air.",
    "carbon monoxide: US CPSC, as a health library quotes it; the rest common practice",
)


FORMERLY = {_ISOCYANATE.key: AIR_FED_KEY}


def cautions(sheet: Sheet, applied: str = "") -> tuple[Caution, ...]:
    """The reminders before a mix of this product, in the order to answer them; applied: how it goes
    on, '' while that is not answered."""
    held = sheet.hazards
    vapour, mixed = volatile(sheet), sheet.chemistry not in ONE_PART
    found = [_VENTILATION]
    if held.isocyanate:
        found.append(_AIR_FED if may_mist(sheet, applied) else _ISOCYANATE)
    if (vapour or sheet.chemistry == "methacrylate") and _AIR_FED not in found:
        found.append(_VAPOUR)
    if held.sensitiser or held.isocyanate or mixed:
        found.append(_GLOVES)
    if held.flammable_solvent or held.styrene or sheet.chemistry == "methacrylate":
        found.append(_IGNITION)
    if held.peroxide:
        found.append(_PEROXIDE)
    if held.dust:
        found.append(_DUST_URETHANE if sheet.chemistry == "urethane-2k" else _DUST)
    if mixed:
        found.append(_LEFTOVERS)
    return tuple(found)


def occasions(sheet: Sheet, applied: str = "") -> tuple[Caution, ...]:
    """The reminders that come again while it hardens."""
    found = [HEATER, STILL_WET] if volatile(sheet) else [HEATER]
    if may_mist(sheet, applied):
        found.append(STILL_MIST)
    if sheet.hazards.dust and "sand_ready" in sheet.reference.minutes:
        found.append(SANDING)
    if sheet.chemistry not in ONE_PART:
        found.append(CUP)
    return tuple(found)


def _wet(
    sheet: Sheet, named: Mapping[str, MilestoneView], mixed_at: datetime, now: datetime
) -> bool:
    gone = named.get(leaving(sheet) or "")
    if gone is not None and gone.reached:
        return False
    end = gone.late if gone is not None else None
    if end is None:
        return mixed_at + WET_FROM <= now
    begin = mixed_at + min(WET_FROM, (end - mixed_at) / 2)
    return begin <= now < end


def _sanding(named: Mapping[str, MilestoneView]) -> bool:
    found = named.get("sand_ready")
    return found is not None and (found.due or found.reached)


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
    heated: Sequence[Spell] = (),
    applied: str = "",
) -> tuple[Caution, ...]:
    """The reminders whose occasion is here now; emptied: when cup and tools were told clean;
    heated: the heat that was told of; applied: how it goes on."""
    named = {each.name: each for each in milestones}
    here = {
        HEATER.key: any(each.start <= now < each.until for each in heated),
        STILL_WET.key: _wet(sheet, named, mixed_at, now),
        STILL_MIST.key: mixed_at + WET_FROM / 2 <= now < mixed_at + WET_FROM + RE_ENTRY,
        SANDING.key: _sanding(named),
        CUP.key: _cup(named, emptied, now),
    }
    return tuple(each for each in occasions(sheet, applied) if here[each.key])


def reminders(
    sheet: Sheet,
    milestones: Sequence[MilestoneView],
    mixed_at: datetime,
    acknowledged: Mapping[str, datetime],
    now: datetime,
    emptied: datetime | None = None,
    heated: Sequence[Spell] = (),
    applied: str = "",
) -> tuple[Reminder, ...]:
    """What is to be answered: before the mix, then each occasion once it is here or answered."""
    found = arrived(sheet, milestones, mixed_at, now, emptied, heated, applied)
    here = {each.key for each in found}
    again = [
        each for each in occasions(sheet, applied) if each.key in here or each.key in acknowledged
    ]
    answered = {new: acknowledged[old] for new, old in FORMERLY.items() if old in acknowledged}
    answered |= acknowledged
    return tuple(
        Reminder(each.key, each.words, answered.get(each.key), each.source, each in again)
        for each in (*cautions(sheet, applied), *again)
    )
