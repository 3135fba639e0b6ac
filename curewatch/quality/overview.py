"""Every sensor as it stands: its last value, flag and check, where it was before; and what is
believed of a stretch."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.frozen import frozen
from curewatch.quality.availability import Disagreement, LastReadings, Place, moving, splits
from curewatch.quality.calibration import Move, SensorCheck, checks, moves, stuck_spells

if TYPE_CHECKING:
    from curewatch.climate.reading import Reading
    from curewatch.store.readings import Ahead
    from curewatch.store.store import Store

MOVED = timedelta(days=8)


@frozen
class Sensor:
    """A series: its last reading, the last usable one where that is flagged, its check and its
    move.

    old: it is silent for longer than its place allows; move: the last within some days.
    """

    last: Reading
    old: bool
    usable: Reading | None
    check: SensorCheck | None
    move: Move | None


@frozen
class Sensors:
    """All sensors, those at one place that do not agree, and readings of the future."""

    all: tuple[Sensor, ...]
    splits: tuple[Disagreement, ...]
    ahead: tuple[Ahead, ...] = ()


def sensors(store: Store, now: datetime, place: Place) -> Sensors:
    """Everything known of the sensors as of now."""
    ends = LastReadings(store.latest(now), store.usable(now), place)
    check_of = {(check.source, check.quantity): check for check in checks(store)}
    move_of = {
        (move.source, move.quantity): move for move in moves(store) if now - move.at <= MOVED
    }
    usable_of = {
        (reading.source, reading.place, reading.quantity): reading for reading in ends.usable
    }
    rows = []
    for reading in ends.latest:
        key = (reading.source, reading.quantity)
        move = move_of.get(key)
        rows.append(
            Sensor(
                reading,
                now - reading.at > timedelta(minutes=place(reading.place).old_after_min),
                usable_of.get((reading.source, reading.place, reading.quantity))
                if reading.flag
                else None,
                check_of.get(key),
                move if move and reading.place in (move.before, move.after) else None,
            )
        )
    return Sensors(tuple(rows), tuple(splits(ends.usable, place)), tuple(store.ahead(now)))


def believed(store: Store, start: datetime, end: datetime, *, bucket_s: float) -> list[Reading]:
    """The usable readings of a stretch without those of a sensor that was stuck then, as is known
    by now. bucket_s: as Store.readings takes it [s]"""
    return moving(store.readings(start, end, bucket_s=bucket_s), stuck_spells(store))
