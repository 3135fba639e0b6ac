"""Isocyanate that may be sprayed: how it is applied is asked, and it is never sprayed without
air-fed protection.

While nobody has said how a product is applied, whether it may be sprayed is taken from its kind: an
adhesive or filler comes from a cartridge or a tin, a primer or sealer may go through a gun. What is
said to be sprayed is sprayed, whatever its kind.
"""

from __future__ import annotations

from collections.abc import Collection

from curewatch.errors import StepError
from curewatch.products.sheet import Sheet
from curewatch.vocabulary import APPLIED, SPRAY

AIR_FED_KEY = "air-fed"
KINDS = ("primer", "sealer")
NEVER = "Never spray it without air-fed protection: a cartridge is not enough for isocyanate"


def sprayable(sheet: Sheet) -> bool:
    """Whether it contains isocyanate and may go through a spray gun."""
    return sheet.hazards.isocyanate and sheet.kind in KINDS


def may_spray(sheet: Sheet, applied: str) -> bool:
    """Whether it may go through a spray gun; applied: '' while it is not answered."""
    return applied == SPRAY or (not applied and sheet.kind in KINDS)


def may_mist(sheet: Sheet, applied: str) -> bool:
    """Whether isocyanate mist must be reckoned with; applied: '' while it is not answered."""
    return sheet.hazards.isocyanate and may_spray(sheet, applied)


def unanswered(sheet: Sheet, applied: str, acknowledged: Collection[str]) -> bool:
    """Whether it may be sprayed and nobody has said that air-fed protection is on."""
    return may_mist(sheet, applied) and AIR_FED_KEY not in acknowledged


class HeldBack(StepError):
    """A mix that may not begin before this is answered; `question` is what a page asks."""

    def __init__(self, question: str, fix: str) -> None:
        super().__init__(question, fix=fix)
        self.question = f"{question}."


def check_start(sheet: Sheet, applied: str, acknowledged: Collection[str]) -> None:
    """Raises HeldBack where a mix may not begin: no reason lifts this stop."""
    if not unanswered(sheet, applied, acknowledged):
        return
    contains = f"{sheet.name} contains isocyanate"
    if applied == SPRAY:
        fix = "with the mask on: --acknowledge; else brush or roll it: --applied brush"
        raise HeldBack(f"Stop: {contains}. {NEVER}", fix)
    raise HeldBack(f"{contains}: say how you apply it. {NEVER}", f"--applied {'|'.join(APPLIED)}")
