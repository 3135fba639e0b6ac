"""Counting what is turned away: in memory, bounded, until somebody writes it down. Pure."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from datetime import datetime
from typing import Generic, TypeVar

MOST = 100
What = TypeVar("What", bound=Hashable)
Row = tuple[What, int, datetime]


class Counted(Generic[What]):
    """What was turned away since it was last taken, how often, and when last.

    `coarser` gives for each thing what it is counted as, the finest first: past MOST rows of the
    first kind the second is used, and so on; of the last kind there must be few.
    """

    def __init__(self, coarser: Callable[[What], Sequence[What]]) -> None:
        self._coarser = coarser
        self._rows = dict[What, tuple[int, datetime]]()

    def add(self, what: What, at: datetime, count: int = 1) -> None:
        """Count one that was turned away at an instant, or so many."""
        row = what
        if row not in self._rows and len(self._rows) >= MOST:
            for kinds, row in enumerate(self._coarser(what), 1):
                if row in self._rows or len(self._rows) < kinds * MOST:
                    break
        before, _ = self._rows.get(row, (0, at))
        self._rows[row] = (before + count, at)

    def take(self) -> list[Row[What]]:
        """What was counted; from now on it is counted anew."""
        rows, self._rows = self._rows, {}
        return [(what, count, last) for what, (count, last) in rows.items()]

    def put_back(self, rows: Iterable[Row[What]]) -> None:
        """What could not be written down is counted on."""
        for what, count, last in rows:
            self.add(what, last, count)
