"""What no sensor tells any more, or tells wrongly; and which two do not agree. Pure."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import combinations
from typing import TYPE_CHECKING

from curewatch.climate.reading import AIR_PLACE, PlaceSettings, Quantity, Reading
from curewatch.quality.calibration import Flat, is_sensor
from curewatch.quality.control import FRESH_S, MOST_MEMBERS, apart_limit

if TYPE_CHECKING:
    from curewatch.climate.flag import Flag
    from curewatch.climate.series import IndexedReadings

REMEMBERED = timedelta(days=8)
Where = tuple[str, Quantity]
Place = Callable[[str], PlaceSettings]


@dataclass(frozen=True)
class Lost:
    """A place's quantity for which there is no usable reading of late.

    since: the last usable reading, or where there is none, the last heard; flag: why what is heard
    is not used, None where nothing is heard; steps: the numbers of those that lean on it.
    """

    place: str
    quantity: Quantity
    since: datetime
    flag: Flag | None = None
    steps: tuple[int, ...] = ()


@dataclass(frozen=True)
class Split:
    """Two sensors at one place that differ now by more than both errors, and both are used.

    gap [K or %]; at: when the later of the two was read.
    """

    place: str
    quantity: Quantity
    sources: tuple[str, str]
    gap: float
    at: datetime


def lost(
    latest: Sequence[Reading], usable: Sequence[Reading], now: datetime, place: Place
) -> list[Lost]:
    """What is lost at `now`, each within its place's own limit; what was only typed is not.

    latest: the last reading of every series, flagged ones too; usable: the last usable ones.
    """
    last_used = _newest(usable)
    found = []
    for where, last in _newest([each for each in latest if is_sensor(each.source)]).items():
        used, limit = last_used.get(where), timedelta(minutes=place(last.place).old_after_min)
        if now - last.at > REMEMBERED or (used is not None and now - used.at <= limit):
            continue
        flag = last.flag if now - last.at <= limit else None
        since = used.at if used is not None and flag else last.at
        found.append(Lost(*where, since, flag))
    return found


def _newest(readings: Sequence[Reading]) -> dict[Where, Reading]:
    found: dict[Where, Reading] = {}
    for each in sorted(readings, key=lambda each: each.at):
        found[each.place, each.quantity] = each
    return found


def leans_on(place: str, heard: AbstractSet[Where]) -> Iterator[Where]:
    """What a step at a place follows, of all that was ever heard: its metal, else the air; and
    the humidity."""
    wanted: tuple[tuple[Where, ...], ...] = (
        (
            (place, "surface_temperature"),
            (place, "air_temperature"),
            (AIR_PLACE, "air_temperature"),
        ),
        ((place, "relative_humidity"), (AIR_PLACE, "relative_humidity")),
    )
    for choices in wanted:
        yield from [each for each in choices if each in heard][:1]


def splits(usable: Sequence[Reading], place: Place) -> list[Split]:
    """Sensors that do not agree at one place and are both used, as none is known to be better."""
    groups: dict[Where, list[Reading]] = {}
    for each in usable:
        if is_sensor(each.source):
            groups.setdefault((each.place, each.quantity), []).append(each)
    pairs = (pair for group in groups.values() for pair in combinations(group[:MOST_MEMBERS], 2))
    return [found for one, other in pairs if (found := _split(one, other, place)) is not None]


def _split(one: Reading, other: Reading, place: Place) -> Split | None:
    error = stated(place(one.place), one.quantity)
    gap, apart_s = abs(one.value - other.value), abs((one.at - other.at).total_seconds())
    if gap <= apart_limit(one.quantity, (error, error)) or apart_s > FRESH_S:
        return None
    sources = (one.source, other.source)
    return Split(one.place, one.quantity, sources, gap, max(one.at, other.at))


@dataclass(frozen=True)
class Ends:
    """What every series gave last: `latest` with the flagged ones, `usable` without."""

    latest: Sequence[Reading]
    usable: Sequence[Reading]
    place: Place

    def lost(self, now: datetime, steps: Mapping[int, str]) -> tuple[Lost, ...]:
        """What is lost, with the steps that lean on it; steps: the place of each by number."""
        heard = {(each.place, each.quantity) for each in self.latest if now - each.at < REMEMBERED}
        leaning = {number: set(leans_on(place, heard)) for number, place in steps.items()}
        return tuple(
            replace(
                each,
                steps=tuple(n for n, on in leaning.items() if (each.place, each.quantity) in on),
            )
            for each in lost(self.latest, self.usable, now, self.place)
        )


def uncertainty(
    readings: IndexedReadings, place: str, quantity: Quantity, at: datetime, how: Place
) -> float:
    """Of one reading at an instant: as stated, or half of what two sensors differ then. [C or %]

    Where no humidity is heard at the place itself, that of the air stands for it.
    """
    held = readings.by_sensors(quantity, place)
    if quantity == "relative_humidity" and not held:
        place, held = AIR_PLACE, readings.by_sensors(quantity, AIR_PLACE)
    until = bisect_right(held, at, key=lambda each: each.at)
    since = bisect_right(held, at - timedelta(seconds=FRESH_S), key=lambda each: each.at)
    last = {each.source: each for each in held[since:until]}
    differing = [each.gap / 2 for each in splits(list(last.values()), how)]
    return max((stated(how(place), quantity), *differing))


def stated(how: PlaceSettings, quantity: Quantity) -> float:
    """The stated error of a place's sensors. [C or %]"""
    return how.humidity_error_pct if quantity == "relative_humidity" else how.sensor_error_c


def moving(readings: list[Reading], spells: Sequence[Flat]) -> list[Reading]:
    """The readings without those that a stuck sensor gave before it was flagged."""
    if not spells:
        return readings
    held: dict[tuple[str, str, str], list[Flat]] = {}
    for spell in spells:
        held.setdefault((spell.source, spell.place, spell.quantity), []).append(spell)
    return [
        each
        for each in readings
        if not any(
            spell.since < each.at < spell.until
            for spell in held.get((each.source, each.place, each.quantity), ())
        )
    ]
