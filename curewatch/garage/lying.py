"""What lies on a part: its last batch that was not given up, and one given up over it since."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

Batch = TypeVar("Batch")
ONLY_THAT = "take off what is left of that batch only"
ALL_OF_IT = "take it off down to sound metal before anything goes over it"


def lying(batches: Sequence[Batch], abandoned: Sequence[bool]) -> tuple[Batch | None, Batch | None]:
    """The batch on top, of a part's batches in the order mixed and whether each was abandoned; and
    the last one abandoned over it.

    A batch that was abandoned says nothing against the one under it. Where all were abandoned, the
    last of them is on top.
    """
    good = [place for place, given_up in enumerate(abandoned) if not given_up]
    if not good:
        return (batches[-1] if batches else None), None
    return batches[good[-1]], (batches[-1] if good[-1] < len(batches) - 1 else None)
