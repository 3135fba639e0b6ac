"""What was mixed last: the likely product when someone touches Mixed now."""

from __future__ import annotations

from curewatch.bench.bench import Bench, Details
from curewatch.garage import cans
from curewatch.garage.shelf import shelf
from curewatch.garage.step import Step
from curewatch.garage.steps import steps

LOOKED_THROUGH = 40


def recent(bench: Bench, most: int = 3) -> list[Step]:
    """The last step of each product that is still on the shelf, the latest first."""
    known = shelf(bench.store)
    found: dict[str, Step] = {}
    for step in steps(bench.store, most=LOOKED_THROUGH):
        if step.sheet.id in known:
            found.setdefault(step.sheet.id, step)
    return list(found.values())[:most]


def again(bench: Bench, sheet_id: str) -> Details:
    """What the last mix of a product tells of the next: all but the part it goes on."""
    for step in recent(bench, LOOKED_THROUGH):
        if step.sheet.id == sheet_id:
            return Details(
                job=step.job or None,
                place=step.place,
                batch=cans.batch_again(bench.store, sheet_id, step.batch) or None,
                amount_g=step.amount_g,
                hardener_pct=step.hardener_pct,
            )
    return Details()
