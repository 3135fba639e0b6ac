"""What a sheet's hazards ask of the person: reminders with their sources.

The product's label and safety data sheet come first; these are the usual cautions only.
"""

from __future__ import annotations

from dataclasses import dataclass

from curewatch.sheet import Sheet


@dataclass(frozen=True)
class Caution:
    """One reminder, and where it comes from."""

    key: str
    words: str
    source: str


_VENTILATION = Caution(
    "ventilation",
    "Open the door and run the fan; keep the air moving past your face, out of the garage.",
    "29 CFR 1910.94; the safety data sheet's section 8 says how much",
)
_VAPOUR = Caution(
    "respirator",
    "Wear a fitted respirator with organic-vapour cartridges; smell does not tell when they are "
    "used up.",
    "29 CFR 1910.134 (2006)",
)
_AIR_FED = Caution(
    "air-fed",
    "Isocyanate: sprayed, it calls for an air-fed mask in an equipped shop; a cartridge is not "
    "enough. Brushed or spread, follow the safety data sheet.",
    "NIOSH pocket guide, HDI; HSE motor vehicle repair pages",
)
_GLOVES = Caution(
    "gloves",
    "Gloves and eye protection on; this can make skin allergic for life.",
    "the safety data sheet's section 8; FAA AC 43.13-1B, chapter 1",
)
_IGNITION = Caution(
    "ignition",
    "No flame, heater, pilot light or spark within 6 m; fuel heaters off and a carbon monoxide "
    "alarm running.",
    "29 CFR 1910.107 (20 ft from spraying)",
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
    "29 CFR 1910.134; take old paint for lead until it is tested",
)
_LEFTOVERS = Caution(
    "leftovers",
    "Spread leftovers thin, outdoors: 100 g or more in one cup heats itself.",
    "NAVEDTRA 14003 (a 500 g mix that ran hot)",
)


def cautions(sheet: Sheet) -> tuple[Caution, ...]:
    """The reminders before a mix of this product, in the order to answer them."""
    held = sheet.hazards
    vapour = held.styrene or held.flammable_solvent or held.solvent is not None
    mixed = sheet.chemistry in ("epoxy-amine", "methacrylate", "polyester-peroxide", "urethane-2k")
    found = [_VENTILATION]
    if held.isocyanate:
        found.append(_AIR_FED)
    elif vapour or sheet.chemistry == "methacrylate":
        found.append(_VAPOUR)
    if held.sensitiser or held.isocyanate or mixed:
        found.append(_GLOVES)
    if held.flammable_solvent or held.styrene or sheet.chemistry == "methacrylate":
        found.append(_IGNITION)
    if held.peroxide:
        found.append(_PEROXIDE)
    if held.dust:
        found.append(_DUST)
    if mixed:
        found.append(_LEFTOVERS)
    return tuple(found)
