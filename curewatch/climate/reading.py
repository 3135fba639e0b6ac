"""One measured instant at one place, checked."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Literal, get_args

from curewatch.climate.flag import Flag
from curewatch.errors import ReadingError
from curewatch.frozen import frozen

Quantity = Literal["surface_temperature", "air_temperature", "relative_humidity"]
QUANTITIES: tuple[Quantity, ...] = get_args(Quantity)
LIMITS: dict[Quantity, tuple[float, float]] = {
    "surface_temperature": (-50.0, 90.0),
    "air_temperature": (-50.0, 60.0),
    "relative_humidity": (0.0, 100.0),
}
UNITS: dict[Quantity, str] = {
    "surface_temperature": "C",
    "air_temperature": "C",
    "relative_humidity": "%",
}
AHEAD = timedelta(minutes=5)
USUAL_PLACES = ("panel", "air", "outdoors", "shelf")
RESERVED = ("bench", "button")
TYPED = "typed"
TYPED_SD_C, TYPED_SD_PCT = 0.6, 5.0
"""Standard uncertainty of what a person reads off a thermometer or hygrometer. [C], [%]"""
AIR_PLACE = "air"
_PLACE = re.compile(r"[a-z0-9][a-z0-9_-]{0,39}")


@dataclass(frozen=True, slots=True)
class Reading:
    """A value [C or %] of a quantity at a place, at an aware instant.

    `flag` is None for a reading the model may use, else the reason it may not.
    """

    place: str
    quantity: Quantity
    value: float
    at: datetime
    source: str = TYPED
    flag: Flag | None = None


def utc(at: datetime, where: str = "") -> datetime:
    """The instant in UTC; a naive one is refused."""
    if at.tzinfo is None:
        raise ReadingError(
            f"the time {at.isoformat()} has no zone",
            where=where,
            fix="add Z or an offset like +01:00",
        )
    return at.astimezone(UTC)


def check_place(place: str) -> str:
    """A place's name: lower case, digits, - and _, at most 40."""
    if not _PLACE.fullmatch(place):
        raise ReadingError(
            f"{place[:60]!r} is not a name for a place",
            fix="use lower-case letters, digits, - and _, at most 40, like 'panel'",
        )
    if place in RESERVED:
        raise ReadingError(
            f"{place!r} cannot be a place: curewatch/{place}/ is not for sensors",
            fix="name it otherwise, like 'workbench'",
        )
    return place


def check_quantity(quantity: str) -> Quantity:
    """One of the quantities curewatch knows."""
    for candidate in QUANTITIES:
        if quantity == candidate:
            return candidate
    raise ReadingError(
        f"{quantity[:60]!r} is not a quantity curewatch knows",
        fix=f"use one of {', '.join(QUANTITIES)}",
    )


def make_reading(
    place: str,
    quantity: str,
    value: float,
    at: datetime,
    source: str = TYPED,
    flag: Flag | None = None,
) -> Reading:
    """A reading whose every part was checked; value in [C] or [%].

    Raises ReadingError where the value is not finite or outside its range.
    """
    place, checked = check_place(place), check_quantity(quantity)
    low, high = LIMITS[checked]
    name, unit = checked.replace("_", " "), UNITS[checked]
    if not math.isfinite(value):
        raise ReadingError(
            f"{name} {value} is not a finite number", where=source, fix="check the sensor"
        )
    if not low <= value <= high:
        raise ReadingError(
            f"{name} {value:g} {unit} is outside {low:g}..{high:g} {unit}",
            where=source,
            fix="check the sensor and its unit",
        )
    return Reading(place, checked, float(value), utc(at, source), source[:200], flag)


@frozen
class PlaceSettings:
    """What is known of a place's sensors: old_after_min [min], lag_min [min], sensor_error_c [K],
    humidity_error_pct [%]."""

    old_after_min: float = 30.0
    lag_min: float = 3.0
    sensor_error_c: float = 0.3
    humidity_error_pct: float = 3.0


@frozen
class Source:
    """The readings of a quantity at one place, by a sensor or typed; or heat that was entered."""

    quantity: Quantity
    place: str
    typed: bool
    heat: bool = False

    @property
    def kind(self) -> str:
        """typed, by a sensor, or heat that was entered."""
        return "heat" if self.heat else "typed" if self.typed else "sensor"


@frozen
class HeatSpell:
    """Heat on the metal from `start` to `until`; surface_c: there, None if not entered. [C]"""

    start: datetime
    until: datetime
    surface_c: float | None = None


def added(spells: Sequence[HeatSpell], spell: HeatSpell) -> tuple[HeatSpell, ...]:
    """The spells with one more; it replaces those it overlaps, so that it may correct them."""
    apart = [
        present
        for present in spells
        if present.until <= spell.start or present.start >= spell.until
    ]
    return tuple(sorted((*apart, spell), key=lambda present: present.start))
