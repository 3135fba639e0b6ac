"""The products at hand: the user's own sheets over the generic ones."""

from __future__ import annotations

from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING

from curewatch.errors import CurewatchError, StepError
from curewatch.products import label
from curewatch.products.sheet import Sheet, generic_sheets, parse_sheet

if TYPE_CHECKING:
    from curewatch.store.store import Store


@cache
def _generic() -> dict[str, Sheet]:
    return generic_sheets()


def shelf(store: Store) -> dict[str, Sheet]:
    """Every usable sheet by id; an own sheet stands before a generic one of the same id."""
    own = {}
    for id, text in store.sheets().items():
        try:
            own[id] = parse_sheet(text, id)
        except CurewatchError:
            continue
    return own | {id: sheet for id, sheet in _generic().items() if id not in own}


def find_sheet(store: Store, id: str) -> Sheet:
    """The sheet of that id. Raises StepError naming the nearest ones."""
    sheets = shelf(store)
    if id not in sheets:
        near = [name for name in sheets if any(part in name for part in id.split("-") if part)]
        fix = f"use one of {', '.join(near or sheets)}"
        raise StepError(f"there is no sheet {id[:60]!r} on the shelf", fix=fix)
    return sheets[id]


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
    sheets, slug = shelf(store), label.slug(name)
    numbered = (f"{slug[:56]}-{number}" for number in range(2, 1000))
    return slug if slug not in sheets else next(id for id in numbered if id not in sheets)
