"""A clock that never goes back: while the computer's does, the time runs on from what was known.

A countdown that lengthens invites someone to spread what has begun to gel, so it never does: where
the computer's clock shows less than the newest instant known, the time counted by is that instant
and what has passed since. It is said on every page and by every command. When the clock catches up
or is set right, the time follows it again; where it was ahead before and is right now, the user
confirms it.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime, timedelta

from curewatch.errors import ConfigError, StoreError
from curewatch.events.events import UNDO, Entry, undone_by
from curewatch.frozen import frozen
from curewatch.store.known_time import KnownTime
from curewatch.store.store import Store

SUBJECT, CONFIRMED = "clock", "confirmed"
SLACK = timedelta(minutes=1)
KEEP_S, STOP_S = 30.0, 15.0


@frozen
class ClockSetback:
    """A clock that was set back: what it shows, and the time that is counted by instead."""

    wall: datetime
    counted: datetime

    @property
    def by(self) -> timedelta:
        """How far it went back."""
        return self.counted - self.wall


class SteadyClock:
    """The computer's clock, made to run on while it is more than a minute behind what is known.

    wall: the computer's clock; monotonic_s: a steady one [s]; recorded: the newest one on record,
    None for a clock that is set on purpose, which always counts.
    """

    def __init__(
        self,
        wall: Callable[[], datetime],
        monotonic_s: Callable[[], float],
        recorded: Callable[[], KnownTime] | None = None,
    ) -> None:
        self._wall, self._monotonic_s, self._recorded = wall, monotonic_s, recorded
        self._lock = threading.Lock()
        self._floor: datetime | None = None
        self._at_s, self._confirmed = 0.0, 0

    def __call__(self) -> datetime:
        """Now, after a look at what is on record."""
        self._look()
        return self.now()

    def now(self) -> datetime:
        """Now, by what is known without a look: nothing waits for the disk."""
        return self._read().counted

    def went_back(self) -> ClockSetback | None:
        """By how much the computer's clock is behind, where that is more than a minute."""
        setback = self._read()
        return setback if setback.by > timedelta(0) else None

    def keep(self, store: Store) -> None:
        """Put on record what is known now. Raises StoreError."""
        self._look()
        setback = self._read()
        assert self._floor is not None
        store.keep_time(KnownTime(self._floor, setback.by, self._confirmed))

    def _look(self) -> None:
        if self._recorded is None:
            return
        recorded = self._recorded()
        with self._lock:
            if self._floor is None or recorded.confirmed != self._confirmed:
                self._start_from(recorded)
            elif recorded.newest > self._passed():
                self._raise_to(recorded.newest)

    def _start_from(self, recorded: KnownTime) -> None:
        """Nothing is known but what is on record: a clock that was behind runs on as it was."""
        wall, floor = self._wall(), recorded.newest
        if wall < floor - SLACK:
            floor = max(floor, wall + recorded.behind)
        self._confirmed = recorded.confirmed
        self._raise_to(floor)

    def _raise_to(self, floor: datetime) -> None:
        self._floor, self._at_s = floor, self._monotonic_s()

    def _passed(self) -> datetime:
        """The newest instant known, and what has passed since."""
        assert self._floor is not None
        return self._floor + timedelta(seconds=max(self._monotonic_s() - self._at_s, 0.0))

    def _read(self) -> ClockSetback:
        """What the computer's clock shows, and the time to count by."""
        with self._lock:
            wall = self._wall()
            if self._recorded is None:
                return ClockSetback(wall, wall)
            newest = wall if self._floor is None else self._passed()
            self._raise_to(max(wall, newest))
            return ClockSetback(wall, newest if newest - wall > SLACK else wall)


@contextlib.contextmanager
def kept(store: Store, clock: SteadyClock) -> Iterator[None]:
    """Put on record what the clock shows, twice a minute until the end of the block."""
    ending = threading.Event()

    def keep() -> None:
        with contextlib.suppress(StoreError):
            clock.keep(store)

    def watch() -> None:
        while not ending.wait(KEEP_S):
            keep()

    keep()
    watcher = threading.Thread(target=watch, name="clock", daemon=True)
    watcher.start()
    try:
        yield
    finally:
        ending.set()
        watcher.join(STOP_S)
        keep()


def confirm(store: Store, setback: ClockSetback | None) -> int:
    """Take the computer's clock for right: what was recorded later than it shows had a wrong time.

    Readings of the future are set aside; returns how many. Raises ConfigError where the clock did
    not go back.
    """
    if setback is None:
        raise ConfigError(
            "this computer's clock did not go back", fix="there is nothing to confirm"
        )
    with store.together():
        body = {"newest": setback.counted.isoformat()}
        store.add_entry(SUBJECT, "", CONFIRMED, setback.wall, setback.wall, body)
        store.set_time(setback.wall)
        return store.set_aside(setback.wall)


def settle(store: Store, undone: Iterable[Entry]) -> None:
    """After an act was undone or brought back: what the confirmations in it still say."""
    entries = store.all_entries(SUBJECT)
    undone_ids, by_id = undone_by(entries), {entry.id: entry for entry in entries}
    for entry in undone:
        confirmation = _confirmation(entry, by_id) if entry.subject == SUBJECT else None
        if confirmation is None:
            continue
        newest = datetime.fromisoformat(confirmation.body["newest"])
        undone_now = confirmation.id in undone_ids
        store.set_time(
            max(newest, store.known_time().newest) if undone_now else confirmation.recorded_at
        )


def _confirmation(entry: Entry | None, by_id: Mapping[int, Entry]) -> Entry | None:
    """The confirmation that an undo goes back to; None where it is damaged or not there."""
    while entry is not None and entry.kind == UNDO and not entry.damaged:
        entry = by_id.get(entry.body["event"]) if entry.body["event"] < entry.id else None
    return None if entry is None or entry.damaged else entry
