"""The one door for readings: a sensor's offset applied, the reading judged, then stored.

Heard, typed, sent by the page or read from a file, every reading comes through here. What a reading
becomes depends only on what was measured when, and on the checks told by then: one that comes
twice, late, or after a restart is judged as it would have been before. Where judging one fails,
that one is kept with a flag and counted among the refused, and the others go on.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from itertools import repeat
from typing import TypeVar

from curewatch.climate.flag import WAITED, Flag
from curewatch.climate.reading import LIMITS, PlaceSettings, Reading
from curewatch.quality.availability import stated
from curewatch.quality.calibration import Flat, Move, Offsets, add_flat, add_move, checks, is_sensor
from curewatch.quality.control import Judge
from curewatch.quality.state import Known
from curewatch.store.store import Store
from curewatch.store.turned_away import Refusal

TAIL = 200
TOGETHER = timedelta(hours=1)
DISK = (OSError, sqlite3.Error)
_USUAL = PlaceSettings()
_Found = TypeVar("_Found")
Sensor = tuple[str, str]
Series = tuple[str, str, str]


class Intake:
    """Takes readings into a store; remembers of each sensor what judging the next one needs."""

    def __init__(self, store: Store, places: Mapping[str, PlaceSettings] | None = None) -> None:
        self.places: Mapping[str, PlaceSettings] = places or {}
        self._store = store
        self._judge: Judge | None = None
        self._offsets, self._told = Offsets([]), -1
        self._homes: dict[Sensor, str] = {}
        self._seen: dict[Sensor, dict[str, datetime]] = {}
        self._both: set[Sensor] = set()
        self._stuck: dict[Series, Flag] = {}
        self._failed: list[tuple[Reading, str]] = []
        self._logged: set[tuple[str, str]] = set()

    def take(self, readings: Sequence[Reading], lags_s: Sequence[float] = ()) -> int:
        """Store readings in one transaction, corrected and judged; returns how many were new.

        lags_s: how far each one's own time lies behind its arrival [s]; left out where it has none
        of its own. Nothing is remembered of readings that could not be stored.
        """
        judge = self._judge or self._remembered()
        self._follow()
        self._judge = None
        held = list(zip(readings, lags_s or repeat(0.0, len(readings)), strict=True))
        judged = [self._surely_judged(judge, each, lag_s) for each, lag_s in held]
        for each, lag_s in held:
            self._try(each, partial(self._keep_move, each, lag_s), None)
        for each in judged:
            self._try(each, partial(self._keep_flat, each), None)
        failed, self._failed = self._failed, []
        with self._store.together():
            new = self._store.add_readings(judged)
            if failed:
                self._store.add_refusals([_unchecked(*each) for each in failed])
        self._judge = judge
        return new

    def _try(self, reading: Reading, what: Callable[[], _Found], otherwise: _Found) -> _Found:
        """What comes of one reading; where that fails it is noted, and the others go on.

        What the disk says is no fault of a reading, and is raised.
        """
        try:
            return what()
        except DISK:
            raise
        except Exception as error:
            why = f"{type(error).__name__}: {error}"
            self._failed.append((reading, why))
            if (reading.source, why) not in self._logged:
                self._logged.add((reading.source, why))
                import logging

                logging.getLogger(__name__).exception(
                    "a reading from %s could not be checked", reading.source
                )
            return otherwise

    def _surely_judged(self, judge: Judge, reading: Reading, lag_s: float) -> Reading:
        found = self._try(reading, partial(self._judged, judge, reading, lag_s), None)
        if found is None:
            judge.forget(reading)
            return replace(reading, flag=reading.flag or Flag("unjudged"))
        return found

    def _follow(self) -> None:
        """Take up checks that were told meanwhile, also by another process."""
        newest = self._store.newest_entry()
        if newest != self._told:
            self._offsets, self._told = Offsets(checks(self._store)), newest

    def _judged(self, judge: Judge, reading: Reading, lag_s: float) -> Reading:
        source, quantity = reading.source, reading.quantity
        offset, checked_s = self._offsets.at(source, quantity, reading.at.timestamp())
        raw = reading.value
        if offset:
            low, high = LIMITS[quantity]
            value = min(max(round(raw + offset, 6), low), high)
            reading = replace(reading, value=value)
        known = Known(raw, lag_s, self._error(reading), checked_s)
        flag = judge.flag(reading, known)
        return replace(reading, flag=flag) if flag != reading.flag else reading

    def _error(self, reading: Reading) -> float:
        return stated(self.places.get(reading.place) or _USUAL, reading.quantity)

    def _remembered(self) -> Judge:
        """A judge that has seen the ends of the stored series, and where each sensor sits."""
        self._follow()
        judge, self._stuck = Judge(), {}
        self._homes, self._seen, self._both = {}, {}, set()
        ends: dict[Series, Reading] = {}
        for each in self._store.tail(TAIL):
            ends[each.source, each.place, each.quantity] = each
            self._try(each, partial(self._recall, judge, each), None)
        for each in ends.values():
            self._try(each, partial(self._resume, judge, each), None)
        return judge

    def _recall(self, judge: Judge, reading: Reading) -> None:
        """Show a stored reading to the judge as it came."""
        source, quantity = reading.source, reading.quantity
        offset, checked_s = self._offsets.at(source, quantity, reading.at.timestamp())
        fresh = reading if reading.flag == WAITED else replace(reading, flag=None)
        raw = round(reading.value - offset, 6)
        judge.flag(fresh, Known(raw, 0.0, self._error(reading), checked_s))
        self._settle(reading)

    def _resume(self, judge: Judge, last: Reading) -> None:
        judge.resume(last, self._store.same_since_s(last))

    def _settle(self, reading: Reading) -> Move | None:
        """Note where a sensor reports; a move where that is not where it was before."""
        if not is_sensor(reading.source):
            return None
        key, place, at = (reading.source, reading.quantity), reading.place, reading.at
        seen = self._seen.setdefault(key, {})
        before, newest = seen.get(place), max(seen.values(), default=at)
        seen[place] = at if before is None else max(at, before)
        home = self._homes.setdefault(key, place)
        if at < newest or (place == home and len(seen) == 1):
            return None
        beside = [each for each in seen if each != place and at - seen[each] <= TOGETHER]
        if not beside:
            self._both.discard(key)
        if place == home or key in self._both:
            return None
        back = before is not None and at - before <= TOGETHER
        both = bool(beside) and (back or at == seen[home])
        if both:
            self._both.add(key)
        else:
            self._homes[key] = place
        return Move(reading.source, reading.quantity, home, place, at, both)

    def _keep_flat(self, reading: Reading) -> None:
        if reading.flag is None or reading.flag.code != "stuck":
            return
        key = (reading.source, reading.place, reading.quantity)
        if self._stuck.get(key) != reading.flag:
            self._stuck[key] = reading.flag
            since = reading.flag.since or reading.at
            add_flat(
                self._store,
                Flat(reading.source, reading.place, reading.quantity, since, reading.at),
            )

    def _keep_move(self, reading: Reading, lag_s: float) -> None:
        move = self._settle(reading)
        if move is not None:
            add_move(self._store, move, reading.at + timedelta(seconds=lag_s))


def _unchecked(reading: Reading, why: str) -> Refusal:
    """A reading that could not be checked, where the refused ones are shown."""
    sentence = f"a reading could not be checked ({why}): it is kept, and not used"
    return Refusal(reading.source, sentence, 1, reading.at)
