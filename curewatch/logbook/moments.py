"""What was measured at the instants that an inspection asks about: at the start, when clamps went
on and off, at each coat, and every four hours."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from curewatch.climate import psychrometrics
from curewatch.climate.reading import AIR_PLACE, Quantity, Reading
from curewatch.frozen import frozen

if TYPE_CHECKING:
    from curewatch.garage.step import Step

EVERY = timedelta(hours=4)
NEAR = timedelta(minutes=20)
MOST = 42
VALUES = (
    "surface_temperature",
    "air_temperature",
    "relative_humidity",
    "dew_point",
    "dew_point_spread",
)
WORDS = {"coated": "coat", "clamped": "clamps on", "unclamped": "clamps off"}


@frozen
class Moment:
    """What was measured within 20 minutes of an instant, by quantity [C, %, K]; what was not is
    absent."""

    name: str
    at: datetime
    values: Mapping[str, float]

    @property
    def regular(self) -> bool:
        """Whether it is one of every four hours, at which nothing was done."""
        return self.name.startswith("after ")


class _Held:
    """The readings of one quantity, of the first of some places that has any, in order of time."""

    def __init__(self, readings: Sequence[Reading], quantity: Quantity, places: Sequence[str]):
        of = [reading for reading in readings if reading.quantity == quantity and not reading.flag]
        chosen = next(
            (at_place for at in places if (at_place := [r for r in of if r.place == at])), []
        )
        self.readings = sorted(chosen, key=lambda reading: reading.at)
        self.times = [reading.at for reading in self.readings]

    def near(self, at: datetime) -> float | None:
        """The value nearest an instant, None where all are further off. [C or %]"""
        place = bisect_left(self.times, at)
        close = self.readings[max(0, place - 1) : place + 1]
        nearest = min(close, key=lambda reading: abs(reading.at - at), default=None)
        return nearest.value if nearest is not None and abs(nearest.at - at) <= NEAR else None


def _instants(step: Step, end: datetime) -> Iterator[tuple[str, datetime]]:
    yield "start", step.mixed_at
    for number, coat in enumerate(step.of("coated"), 1):
        yield f"{WORDS[coat.kind]} {number}", coat.at
    for mark in step.of("clamped", "unclamped"):
        yield WORDS[mark.kind], mark.at
    tested = step.reached.get("clamp_time")
    if tested is not None and not step.of("unclamped"):
        yield WORDS["unclamped"], tested.at
    for count in range(1, MOST + 1):
        at = step.mixed_at + count * EVERY
        if at >= end:
            return
        yield f"after {count * EVERY // timedelta(hours=1)} h", at


def moments(step: Step, readings: Sequence[Reading], end: datetime) -> tuple[Moment, ...]:
    """The moments of a step from mixing to its end, in order of time."""
    skin = _Held(readings, "surface_temperature", [step.place])
    room = _Held(readings, "air_temperature", [step.place, AIR_PLACE])
    damp = _Held(readings, "relative_humidity", [step.place, AIR_PLACE])
    listed = []
    for name, at in sorted(_instants(step, end), key=lambda named: named[1]):
        surface_c, air_c, pct = skin.near(at), room.near(at), damp.near(at)
        measured = {"surface_temperature": surface_c, "air_temperature": air_c}
        measured |= {"relative_humidity": pct}
        if air_c is not None and pct is not None:
            measured["dew_point"] = dew_c = float(psychrometrics.dew_point_c(air_c, max(1.0, pct)))
            measured["dew_point_spread"] = None if surface_c is None else surface_c - dew_c
        values = {key: value for key, value in measured.items() if value is not None}
        listed.append(Moment(name, at, values))
    return tuple(listed)
