"""Whether a product's share of hardener may be varied, and what is said where it may not."""

from __future__ import annotations

from curewatch.products.chemistries import CHEMISTRIES, ONE_PART
from curewatch.products.sheet import Sheet

NEVER = (
    "The mixing ratio is never varied: mix exactly by the label. More hardener does not make it "
    "cure faster, it leaves part of it uncured."
)
NO_RANGE = (
    "The label's hardener range is not entered: mix exactly by the label, and enter its least, "
    "usual and most hardener to have them checked. More than the label allows does not make up "
    "for cold."
)


def fixed_words(sheet: Sheet) -> str:
    """Why no other share of hardener is taken; empty where a range is entered, or nothing is
    mixed in."""
    if sheet.limits.hardener_pct is not None or sheet.chemistry in ONE_PART:
        return ""
    return NO_RANGE if CHEMISTRIES[sheet.chemistry].hardener_varies else NEVER


def refused(sheet: Sheet) -> tuple[str, str]:
    """What is wrong with a share of hardener where no range is entered, and what to do."""
    if sheet.chemistry in ONE_PART:
        return f"{sheet.name} is one-part, no hardener goes in", "leave the hardener out here"
    if CHEMISTRIES[sheet.chemistry].hardener_varies:
        return (
            f"the label's hardener range of {sheet.name} is not entered",
            "enter its least, usual and most hardener first, or leave the hardener out here",
        )
    return (
        f"the ratio of {sheet.name} may not be varied",
        "mix it as the label says, and leave the hardener out here; more of it does not help",
    )
