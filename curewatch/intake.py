"""The one door for readings: a sensor's offset applied, the reading judged, then stored.

Heard, typed, sent by the page or read from a file, every reading comes through here. What a reading
becomes depends only on what was measured when, and on the checks told by then: one that comes
twice, late, or after a restart is judged as it would have been before.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from curewatch.config import PlaceSettings
from curewatch.doubt import STUCK, WAITED, since_of
from curewatch.heard import stated
from curewatch.judge import Judge, Known
from curewatch.reading import LIMITS, Reading
from curewatch.sensor_log import Flat, Move, Offsets, add_flat, add_move, checks, is_sensor
from curewatch.store import Store

TAIL = 200
TOGETHER = timedelta(hours=1)
_USUAL = PlaceSettings()
Sensor = tuple[str, str]


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
        self._stuck: dict[tuple[str, str, str], str] = {}

    def take(self, readings: Sequence[Reading], lags_s: Sequence[float] = ()) -> int:
        """Store readings in one transaction, corrected and judged; returns how many were new.

        lags_s: how far each one's own time lies behind its arrival [s]; left out where it has none
        of its own. Nothing is remembered of readings that could not be stored.
        """
        judge = self._judge or self._remembered()
        self._follow()
        lags = lags_s or (0.0,) * len(readings)
        self._judge = None
        judged = [self._judged(judge, each, lag) for each, lag in zip(readings, lags, strict=True)]
        self._keep_moves(readings, lags)
        self._keep_flats(judged)
        new = self._store.add_readings(judged)
        self._judge = judge
        return new

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
        doubt = judge.doubt(reading, known)
        return replace(reading, doubt=doubt) if doubt != reading.doubt else reading

    def _error(self, reading: Reading) -> float:
        return stated(self.places.get(reading.place) or _USUAL, reading.quantity)

    def _remembered(self) -> Judge:
        """A judge that has seen the ends of the stored series, and where each sensor sits."""
        self._follow()
        judge, self._stuck = Judge(), {}
        self._homes, self._seen, self._both = {}, {}, set()
        ends: dict[tuple[str, str, str], Reading] = {}
        for each in self._store.tail(TAIL):
            ends[each.source, each.place, each.quantity] = each
            offset, checked_s = self._offsets.at(each.source, each.quantity, each.at.timestamp())
            fresh = each if each.doubt == WAITED else replace(each, doubt="")
            raw = round(each.value - offset, 6)
            judge.doubt(fresh, Known(raw, 0.0, self._error(each), checked_s))
            self._settle(each)
        for each in ends.values():
            judge.resume(each, self._store.same_since_s(each))
        return judge

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

    def _keep_flats(self, judged: Sequence[Reading]) -> None:
        for each in judged:
            if not each.doubt.startswith(STUCK):
                continue
            key = (each.source, each.place, each.quantity)
            if self._stuck.get(key) != each.doubt:
                self._stuck[key] = each.doubt
                since = since_of(each.doubt) or each.at
                add_flat(self._store, Flat(*key, since, each.at))

    def _keep_moves(self, readings: Sequence[Reading], lags_s: Sequence[float]) -> None:
        for each, lag_s in zip(readings, lags_s, strict=True):
            move = self._settle(each)
            if move is not None:
                add_move(self._store, move, each.at + timedelta(seconds=lag_s))
