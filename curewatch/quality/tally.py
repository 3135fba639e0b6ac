"""What is turned away while readings come in, counted in memory and written once a second.

However much a sensor sends that is of no use, it costs one transaction a second. What was counted
within the last second is lost when the process is killed.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable, Iterable, Sequence
from datetime import datetime
from typing import Generic, TypeVar

from curewatch.errors import StoreError
from curewatch.store.store import Store
from curewatch.store.turned_away import Refusal, Stranger, TurnedAway

EVERY_S, STOP_S = 1.0, 5.0
MOST = 100
OTHERS = "other topics"
MORE = (
    "more different faults than can be listed came within a second, and are counted together; "
    "correct those that are listed first."
)
Fault = tuple[str, str]
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


def _coarser_stranger(who: Stranger) -> tuple[Stranger, Stranger]:
    """Past the most, those of one reason are counted together, without an address."""
    return who, Stranger(who.why, "", number=who.number)


def _coarser_fault(fault: Fault) -> tuple[Fault, Fault, Fault]:
    """Past the most, those of one topic are counted together, and then those of all."""
    return fault, (fault[0], MORE), (OTHERS, MORE)


class Tally:
    """Counts for a store; any thread may call it."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._faults = Counted(_coarser_fault)
        self._strangers = Counted(_coarser_stranger)
        self._counting, self._writing = threading.Lock(), threading.Lock()
        self._some, self._stopping = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="tally", daemon=True)

    def start(self) -> None:
        """Write down once a second, from now on."""
        self._thread.start()

    def stop(self) -> None:
        """Write down what was counted last."""
        self._stopping.set()
        self._some.set()
        if self._thread.is_alive():
            self._thread.join(STOP_S)
        self.write()

    def refuse(self, at: datetime, source: str, sentence: str) -> None:
        """Count a message or a reading that is of no use, with the sentence that says why."""
        with self._counting:
            self._faults.add((source[:200], sentence), at)
        self._some.set()

    def turn_away(self, at: datetime, who: Stranger) -> None:
        """Count a client that is not let in."""
        with self._counting:
            self._strangers.add(who, at)
        self._some.set()

    def write(self) -> None:
        """Write down what was counted, in one transaction; what cannot be written is counted on."""
        with self._writing:
            with self._counting:
                faults, strangers = self._faults.take(), self._strangers.take()
            if not faults and not strangers:
                return
            try:
                with self._store.together():
                    self._store.add_refusals([Refusal(*what, n, at) for what, n, at in faults])
                    self._store.add_turned_away([TurnedAway(*row) for row in strangers])
            except StoreError:
                with self._counting:
                    self._faults.put_back(faults)
                    self._strangers.put_back(strangers)
                self._some.set()

    def _run(self) -> None:
        while not self._stopping.is_set():
            self._some.wait()
            self._some.clear()
            self.write()
            self._stopping.wait(EVERY_S)
