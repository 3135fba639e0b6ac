"""What was mixed last, the likely product of the next mix; which products someone owns."""

from __future__ import annotations

from curewatch.bench.bench import Bench, Details
from curewatch.garage import cans
from curewatch.garage.shelf import shelf
from curewatch.garage.step import Step
from curewatch.garage.steps import steps
from curewatch.products.sheet import Sheet

LOOKED_THROUGH = 40


def recent(bench: Bench, most: int = 3) -> list[Step]:
    """The last step of each product that is still on the shelf, the latest first."""
    sheets = shelf(bench.store)
    last_steps: dict[str, Step] = {}
    for step in steps(bench.store, most=LOOKED_THROUGH):
        if step.sheet.id in sheets:
            last_steps.setdefault(step.sheet.id, step)
    return list(last_steps.values())[:most]


def details_again(bench: Bench, step: Step) -> Details:
    """What the same mix once more takes over of a step: all but the part it goes on."""
    return Details(
        job=step.job or None,
        place=step.place,
        batch=cans.batch_again(bench.store, step.sheet.id, step.batch) or None,
        amount_g=step.amount_g,
        hardener_pct=step.hardener_pct,
    )


def again(bench: Bench, sheet_id: str) -> Details:
    """What the last mix of a product tells of the next: all but the part it goes on."""
    for step in recent(bench, LOOKED_THROUGH):
        if step.sheet.id == sheet_id:
            return details_again(bench, step)
    return Details()


def owned(bench: Bench) -> tuple[list[Sheet], list[Sheet]]:
    """The products on the shelf: those that the user entered, has a can of or mixed lately, the
    last mixed first; and the others."""
    sheets, own = shelf(bench.store), bench.store.sheets()
    products = [step.sheet.id for step in recent(bench, LOOKED_THROUGH)]
    in_cans = [can.sheet_id for can in cans.cans(bench.store)]
    names = sorted(sheets, key=lambda id: sheets[id].name)
    mine = dict.fromkeys([*products, *(id for id in names if id in own or id in in_cans)])
    return [sheets[id] for id in mine], [sheets[id] for id in names if id not in mine]
