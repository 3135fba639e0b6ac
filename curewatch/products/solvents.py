"""Until when a product gives off solvent, styrene or monomer, and how warm its metal may get.

Until when solvent is taken to leave is a cautious choice of ours (no source): products dried by
their solvent until they may be recoated, those that react and give off styrene or monomer until
their working time is over.
"""

from __future__ import annotations

from curewatch.products.sheet import Sheet

SILENT_MOST_C = 40.0


DRIED = ("recoat_opens", "sand_ready", "clamp_time", "full_cure", "working_time")


REACTED = ("working_time", "clamp_time", "sand_ready", "recoat_opens", "full_cure")


def volatile(sheet: Sheet) -> bool:
    """Whether it gives off solvent, styrene or monomer."""
    hazards = sheet.hazards
    return hazards.flammable_solvent or hazards.styrene or hazards.solvent is not None


def leaving(sheet: Sheet) -> str | None:
    """The milestone until which its solvent is taken to leave; None where it holds none."""
    if not volatile(sheet):
        return None
    dried = sheet.hazards.solvent is not None or sheet.chemistry in ("solvent-1k", "waterborne")
    order = DRIED if dried else REACTED
    return next((name for name in order if name in sheet.reference.minutes), order[0])


def most_c(sheet: Sheet) -> float:
    """The most the metal may be heated to: the label's, or a cautious 40 C. [C]"""
    span = sheet.limits.temperature_c
    return span[1] if span else SILENT_MOST_C
