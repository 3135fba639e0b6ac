"""Another product for a step that runs: what was picked was the wrong one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from curewatch.errors import StepError
from curewatch.events.fields import FIELDS
from curewatch.garage import cans

if TYPE_CHECKING:
    from curewatch.garage.step import Step
    from curewatch.products.sheet import Sheet
    from curewatch.store.store import Store

FROM_A_CAN = tuple(field.name for field in FIELDS if field.of_can)


def _fits(sheet: Sheet, hardener_pct: float | None) -> bool:
    """Whether a share of hardener [%] is one that the product allows; None always is."""
    span = sheet.limits.hardener_pct
    return hardener_pct is None or (span is not None and span[0] <= hardener_pct <= span[2])


def corrected(store: Store, step: Step, sheet: Sheet) -> dict[str, Any]:
    """What to enter of a step that is of another product: its sheet, and no longer what belonged
    to the former one: a share of hardener this one does not allow, the batches of its can."""
    if sheet.id == step.sheet.id and sheet.text == step.sheet.text:
        raise StepError(f"step {step.id} is of {sheet.name} already", fix="name another product")
    body: dict[str, Any] = {"sheet_id": sheet.id, "sheet_text": sheet.text}
    if not _fits(sheet, step.hardener_pct):
        body["hardener_pct"] = None
    if step.can:
        from_can = [name for name in FROM_A_CAN if name == "batch" or step.recorded.get(name)]
        body |= dict.fromkeys(from_can, "") | cans.picked(store, sheet.id)
    return body
