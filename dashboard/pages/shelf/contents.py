"""What a product contains, in its form: ticked by chemistry, and a box unticked is asked about.

`denied.<hazard>` holds the answer: NONE where the safety data sheet says it contains none, KEEP
where it contains it or nobody can tell; then it stays out of the sheet and is taken from the
chemistry.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from curewatch.errors import SheetError
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.hazards import HAZARDS
from curewatch.products.sheet import Sheet

Fields = Mapping[str, str]
NONE, KEEP = "none", "keep"


def unanswered(fields: Fields) -> list[str]:
    """The hazards that this chemistry can hold, whose box is empty and not answered for."""
    family = CHEMISTRIES.get(fields.get("chemistry", ""))
    return [
        name
        for name in (family.can_contain if family else ())
        if fields.get(f"hazards.{name}") != "on"
        and fields.get(f"denied.{name}") not in (NONE, KEEP)
    ]


def questions(fields: Fields) -> list[str]:
    """The hazards to ask about: those unanswered, and the answers already given."""
    open_ones = unanswered(fields)
    answered = [name for name in HAZARDS if fields.get(f"denied.{name}") in (NONE, KEEP)]
    return [name for name in HAZARDS if name in open_ones or name in answered]


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise SheetError(
            f"g_per_l of the solvent is not a number: {text[:20]!r}", fix="write it like 350"
        ) from None


def to_table(fields: Fields) -> dict[str, Any]:
    """The sheet's [hazards] from the form: said, denied in so many words, or left out."""
    table: dict[str, Any] = {}
    for name in HAZARDS:
        if fields.get(f"hazards.{name}") == "on":
            table[name] = True
        elif fields.get(f"denied.{name}") == NONE:
            table[name] = False
    solvent = fields.get("solvent.name", "").strip()
    grams = fields.get("solvent.g_per_l", "").strip()
    if solvent or grams:
        table["solvent"] = {"name": solvent, "g_per_l": _number(grams)}
    return table


def to_fields(sheet: Sheet, own: bool) -> dict[str, str]:
    """The form's boxes from a sheet. What a generic sheet denies of a typical product is asked
    again of the product in hand."""
    boxes = {f"hazards.{name}": "on" for name in sheet.hazards.contained}
    if own:
        boxes |= {f"denied.{name}": NONE for name in sheet.hazards.denied}
    if sheet.hazards.solvent:
        boxes["solvent.name"] = sheet.hazards.solvent.name
        boxes["solvent.g_per_l"] = f"{sheet.hazards.solvent.g_per_l:g}"
    return boxes
