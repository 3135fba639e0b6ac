"""The products at hand: the user's own sheets over the generic ones."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.errors import CurewatchError, StepError
from curewatch.products import label
from curewatch.products.sheet import Sheet, generic_ids, generic_sheet, parse_sheet

if TYPE_CHECKING:
    from curewatch.store.store import Store


def sheets_of(store: Store, ids: Iterable[str]) -> dict[str, Sheet]:
    """The usable sheets of these ids; an own sheet stands before a generic one of the same id."""
    own, generic, usable = store.sheets(), generic_ids(), dict[str, Sheet]()
    for id in ids:
        if id in own:
            with suppress(CurewatchError):
                usable[id] = parse_sheet(own[id], id)
        if id not in usable and id in generic:
            usable[id] = generic_sheet(id)
    return usable


def shelf(store: Store) -> dict[str, Sheet]:
    """Every usable sheet by id, the user's own ones first."""
    return sheets_of(store, dict.fromkeys([*store.sheets(), *generic_ids()]))


def find_sheet(store: Store, id: str) -> Sheet:
    """The sheet of that id. Raises StepError naming the nearest ones."""
    sheet = sheets_of(store, [id]).get(id)
    if sheet is None:
        sheets = shelf(store)
        near = [name for name in sheets if any(part in name for part in id.split("-") if part)]
        fix = f"use one of {', '.join(near or sheets)}"
        raise StepError(f"there is no product {id[:60]!r} on the shelf", fix=fix)
    return sheet


def add_sheet(store: Store, id: str, text: str, at: datetime) -> Sheet:
    """Check a sheet's text and keep it. Raises SheetError; then nothing is kept."""
    sheet = label.check(parse_sheet(text, id))
    if store.sheets().get(id) != text:
        store.save_sheet(id, text, at)
    return sheet


def remove_sheet(store: Store, id: str, at: datetime) -> str:
    """Take one of the user's own sheets off the shelf; its name. Raises StepError."""
    own = store.sheets()
    if id not in own:
        raise StepError(
            f"{find_sheet(store, id).name} comes with curewatch",
            fix="only a product of your own can be removed",
        )
    store.remove_sheet(id, at)
    try:
        return parse_sheet(own[id], id).name
    except CurewatchError:
        return id


def new_id(store: Store, name: str) -> str:
    """The id of a new product of that name, numbered where another one has it."""
    sheets, id = shelf(store), label.id_of(name)
    numbered = (f"{id[:56]}-{number}" for number in range(2, 1000))
    return id if id not in sheets else next(other for other in numbered if other not in sheets)
