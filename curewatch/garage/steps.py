"""The steps of the logbook that were asked for, each read from its events."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from typing import TYPE_CHECKING

from curewatch.garage.step import DamagedStep, Step, fold, folded, sightings
from curewatch.store.search import Sought

if TYPE_CHECKING:
    from curewatch.store.store import Store


def steps(
    store: Store,
    *,
    sought: Sought | None = None,
    job: str | None = None,
    most: int | None = None,
    before: int | None = None,
) -> list[Step]:
    """The steps sought, the latest first: of one job, at most so many, under a number."""
    numbers = store.find(sought or Sought(job=job), most=most, before=before)
    held = store.events(numbers)
    return folded(held[number] for number in numbers)


def looked_at(store: Store, sheet: str) -> Iterator[Step]:
    """The steps of a product on which a witness or a test stands, the latest first.

    Whether one stands, only the step itself says: the store lists also those undone since.
    """
    for number in store.looked_at(sheet):
        with suppress(DamagedStep):
            step = fold(store.events([number])[number])
            if sightings(step):
                yield step
