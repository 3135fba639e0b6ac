"""The one door for readings: a sensor's offset applied, the reading checked, then stored.

Heard, typed, sent by the page or read from a file, every reading comes through here. What a reading
becomes depends only on what was measured when, and on the checks entered by then: one that comes
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
from curewatch.quality.calibration import (
    Move,
    Offsets,
    StuckSpell,
    add_move,
    add_stuck_spell,
    checks,
    is_sensor,
)
from curewatch.quality.control import QualityControl
from curewatch.quality.state import ReadingContext
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
    """Takes readings into a store; remembers of each sensor what checking the next one needs."""

    def __init__(self, store: Store, places: Mapping[str, PlaceSettings] | None = None) -> None:
        self.places: Mapping[str, PlaceSettings] = places or {}
        self._store = store
        self._quality_control: QualityControl | None = None
        self._offsets, self._last_entry = Offsets([]), -1
        self._homes: dict[Sensor, str] = {}
        self._last_at: dict[Sensor, dict[str, datetime]] = {}
        self._at_both: set[Sensor] = set()
        self._stuck: dict[Series, Flag] = {}
        self._failed: list[tuple[Reading, str]] = []
        self._logged: set[tuple[str, str]] = set()

    def take(self, readings: Sequence[Reading], lags_s: Sequence[float] = ()) -> int:
        """Store readings in one transaction, corrected and checked; returns how many were new.

        lags_s: how far each one's own time lies behind its arrival [s]; left out where it has none
        of its own. Nothing is remembered of readings that could not be stored.
        """
        control = self._quality_control or self._remembered()
        self._follow()
        self._quality_control = None
        with_lags = list(zip(readings, lags_s or repeat(0.0, len(readings)), strict=True))
        judged = [self._surely_checked(control, reading, lag_s) for reading, lag_s in with_lags]
        for reading, lag_s in with_lags:
            self._try(reading, partial(self._record_move, reading, lag_s), None)
        for reading in judged:
            self._try(reading, partial(self._record_stuck_spell, reading), None)
        failed, self._failed = self._failed, []
        with self._store.together():
            new = self._store.add_readings(judged)
            if failed:
                self._store.add_refusals([_unchecked(*failure) for failure in failed])
        self._quality_control = control
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

    def _surely_checked(self, control: QualityControl, reading: Reading, lag_s: float) -> Reading:
        judged = self._try(reading, partial(self._checked, control, reading, lag_s), None)
        if judged is None:
            control.forget(reading)
            return replace(reading, flag=reading.flag or Flag("unjudged"))
        return judged

    def _follow(self) -> None:
        """Take up checks that were entered meanwhile, also by another process."""
        newest = self._store.newest_entry()
        if newest != self._last_entry:
            self._offsets, self._last_entry = Offsets(checks(self._store)), newest

    def _checked(self, control: QualityControl, reading: Reading, lag_s: float) -> Reading:
        source, quantity = reading.source, reading.quantity
        offset, checked_s = self._offsets.at(source, quantity, reading.at.timestamp())
        raw = reading.value
        if offset:
            low, high = LIMITS[quantity]
            value = min(max(round(raw + offset, 6), low), high)
            reading = replace(reading, value=value)
        context = ReadingContext(raw, lag_s, self._error(reading), checked_s)
        flag = control.flag(reading, context)
        return replace(reading, flag=flag) if flag != reading.flag else reading

    def _error(self, reading: Reading) -> float:
        return stated(self.places.get(reading.place) or _USUAL, reading.quantity)

    def _remembered(self) -> QualityControl:
        """Quality control after the ends of the stored series, and where each sensor sits."""
        self._follow()
        control, self._stuck = QualityControl(), {}
        self._homes, self._last_at, self._at_both = {}, {}, set()
        ends: dict[Series, Reading] = {}
        for reading in self._store.tail(TAIL):
            ends[reading.source, reading.place, reading.quantity] = reading
            self._try(reading, partial(self._recall, control, reading), None)
        for reading in ends.values():
            self._try(reading, partial(self._resume, control, reading), None)
        return control

    def _recall(self, control: QualityControl, reading: Reading) -> None:
        """Show a stored reading to the quality control as it came."""
        source, quantity = reading.source, reading.quantity
        offset, checked_s = self._offsets.at(source, quantity, reading.at.timestamp())
        fresh = reading if reading.flag == WAITED else replace(reading, flag=None)
        raw = round(reading.value - offset, 6)
        control.flag(fresh, ReadingContext(raw, 0.0, self._error(reading), checked_s))
        self._settle(reading)

    def _resume(self, control: QualityControl, last: Reading) -> None:
        control.resume(last, self._store.same_since_s(last))

    def _settle(self, reading: Reading) -> Move | None:
        """Note where a sensor reports; a move where that is not where it was before."""
        if not is_sensor(reading.source):
            return None
        key, place, at = (reading.source, reading.quantity), reading.place, reading.at
        last_at = self._last_at.setdefault(key, {})
        before, newest = last_at.get(place), max(last_at.values(), default=at)
        last_at[place] = at if before is None else max(at, before)
        home = self._homes.setdefault(key, place)
        if at < newest or (place == home and len(last_at) == 1):
            return None
        beside = [
            other_place
            for other_place in last_at
            if other_place != place and at - last_at[other_place] <= TOGETHER
        ]
        if not beside:
            self._at_both.discard(key)
        if place == home or key in self._at_both:
            return None
        returned = before is not None and at - before <= TOGETHER
        at_both = bool(beside) and (returned or at == last_at[home])
        if at_both:
            self._at_both.add(key)
        else:
            self._homes[key] = place
        return Move(reading.source, reading.quantity, home, place, at, at_both)

    def _record_stuck_spell(self, reading: Reading) -> None:
        if reading.flag is None or reading.flag.code != "stuck":
            return
        key = (reading.source, reading.place, reading.quantity)
        if self._stuck.get(key) != reading.flag:
            self._stuck[key] = reading.flag
            since = reading.flag.since or reading.at
            add_stuck_spell(
                self._store,
                StuckSpell(reading.source, reading.place, reading.quantity, since, reading.at),
            )

    def _record_move(self, reading: Reading, lag_s: float) -> None:
        move = self._settle(reading)
        if move is not None:
            add_move(self._store, move, reading.at + timedelta(seconds=lag_s))


def _unchecked(reading: Reading, why: str) -> Refusal:
    """A reading that could not be checked, where the refused ones are shown."""
    sentence = f"a reading could not be checked ({why}): it is kept, and not used"
    return Refusal(reading.source, sentence, 1, reading.at)
