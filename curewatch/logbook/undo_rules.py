"""What cannot be undone: what happened by itself, and what later acts rest on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.events.events import SHEET, Entry, Event, own_products
from curewatch.garage import cans
from curewatch.products.sheet import generic_ids
from curewatch.protection import cartridges
from curewatch.quality import calibration

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench

AUTOMATIC = {
    ("", "sounded"),
    ("", "silenced"),
    ("plan", "shown"),
    (calibration.SUBJECT, "moved"),
    (calibration.SUBJECT, "stuck"),
}


def _later(bench: Bench, entry: Entry) -> list[Entry]:
    """What stands of the same thing and was told after this."""
    entries = bench.store.entries(entry.subject, entry.name)
    return [other for other in entries if other.id > entry.id]


def _can_added(bench: Bench, entry: Entry) -> str:
    number = cans.numbered(bench.store.all_entries(cans.SUBJECT))[entry.id]
    if bench.store.entries(cans.SUBJECT, str(number)):
        return f"can {number} was changed since"
    if any(number == can for _, _, can in bench.store.batches_used()):
        return f"a mix was taken from can {number}"
    return ""


def _cartridge_opened(bench: Bench, entry: Entry) -> str:
    later = _later(bench, entry)
    if later and later[0].kind != "opened":
        return "hours worn, or that it was thrown away, were recorded of it since"
    return ""


def _sensor_checked(bench: Bench, entry: Entry) -> str:
    """Readings are stored as corrected by the check that held when they came."""
    readings = [
        reading
        for reading in bench.store.latest()
        if (reading.source, reading.quantity) == (entry.name, entry.body["quantity"])
        and reading.at >= entry.recorded_at
    ]
    return (
        "readings were corrected by it since; check the sensor once more instead"
        if readings
        else ""
    )


def _sheet_kept(bench: Bench, entry: Entry) -> str:
    """A product that would leave the shelf altogether is not undone while anything is of it."""
    entries = bench.store.entries(SHEET, entry.name)
    left = own_products(other for other in entries if other.id != entry.id)
    if left or not own_products(entries) or entry.name in generic_ids():
        return ""
    if bench.store.steps(sheet=entry.name):
        return "a mix was made of this product"
    if any(can.sheet_id == entry.name for can in cans.cans(bench.store)):
        return "a can of this product is on the shelf"
    return ""


def rests_on(bench: Bench, row: Event | Entry) -> str:
    """What later acts rest on this one, in words; empty where it can be undone."""
    if isinstance(row, Event) or row.damaged:
        return ""
    match row.subject, row.kind:
        case cans.SUBJECT, "added":
            return _can_added(bench, row)
        case subject, "kept" if subject == SHEET:
            return _sheet_kept(bench, row)
        case cartridges.SUBJECT, "opened":
            return _cartridge_opened(bench, row)
        case calibration.SUBJECT, "checked":
            return _sensor_checked(bench, row)
    return ""
