"""Counting who is turned away: in memory, bounded, until somebody writes it down. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from curewatch.turned_away import Stranger, TurnedAway

MOST = 100


class Counted:
    """Who was turned away since it was last taken: at most MOST rows.

    Past that, those of one reason count as one row without an address.
    """

    def __init__(self) -> None:
        self._rows = dict[Stranger, TurnedAway]()

    def add(self, who: Stranger, at: datetime, count: int = 1) -> None:
        """Count one that was turned away at an instant, or so many."""
        if who not in self._rows and len(self._rows) >= MOST:
            who = Stranger(who.why, "", number=who.number)
        before = self._rows.get(who)
        self._rows[who] = TurnedAway(who, count + (before.count if before else 0), at)

    def take(self) -> list[TurnedAway]:
        """What was counted; from now on it is counted anew."""
        rows, self._rows = self._rows, {}
        return list(rows.values())

    def put_back(self, rows: Iterable[TurnedAway]) -> None:
        """What could not be written down is counted on."""
        for each in rows:
            self.add(each.who, each.last, each.count)
