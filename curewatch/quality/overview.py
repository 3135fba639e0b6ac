"""Every sensor as it stands: its last value, flag and check, where it was before; and what is
believed of a stretch."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.quality.availability import Ends, Place, Split, moving, splits
from curewatch.quality.calibration import Check, Move, checks, flats, moves

if TYPE_CHECKING:
    from curewatch.climate.reading import Reading
    from curewatch.store.readings import Ahead
    from curewatch.store.store import Store

MOVED = timedelta(days=8)


@dataclass(frozen=True)
class Sensor:
    """A series: its last reading, the last usable one where that is flagged, and what was told.

    old: it is silent for longer than its place allows; move: the last within some days.
    """

    last: Reading
    old: bool
    usable: Reading | None
    check: Check | None
    move: Move | None


@dataclass(frozen=True)
class Sensors:
    """All sensors, those at one place that do not agree, and readings of the future."""

    all: tuple[Sensor, ...]
    splits: tuple[Split, ...]
    ahead: tuple[Ahead, ...] = ()


def sensors(store: Store, now: datetime, place: Place) -> Sensors:
    """Everything known of the sensors as of now."""
    ends = Ends(store.latest(now), store.usable(now), place)
    held = {(each.source, each.quantity): each for each in checks(store)}
    moved = {(each.source, each.quantity): each for each in moves(store) if now - each.at <= MOVED}
    used = {(each.source, each.place, each.quantity): each for each in ends.usable}
    found = []
    for each in ends.latest:
        key = (each.source, each.quantity)
        move = moved.get(key)
        found.append(
            Sensor(
                each,
                now - each.at > timedelta(minutes=place(each.place).old_after_min),
                used.get((each.source, each.place, each.quantity)) if each.flag else None,
                held.get(key),
                move if move and each.place in (move.before, move.after) else None,
            )
        )
    return Sensors(tuple(found), tuple(splits(ends.usable, place)), tuple(store.ahead(now)))


def believed(store: Store, start: datetime, end: datetime, *, bucket_s: float) -> list[Reading]:
    """The usable readings of a stretch without those of a sensor that was stuck then, as is known
    by now. bucket_s: as Store.readings takes it [s]"""
    return moving(store.readings(start, end, bucket_s=bucket_s), flats(store))
