"""What no sensor measures any more, or measures wrongly; and which two do not agree. Pure."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import combinations
from typing import TYPE_CHECKING

from curewatch.climate.reading import AIR_PLACE, PlaceSettings, Quantity, Reading
from curewatch.frozen import frozen
from curewatch.quality.calibration import StuckSpell, is_sensor
from curewatch.quality.control import FRESH_S, MOST_MEMBERS, apart_limit

if TYPE_CHECKING:
    from curewatch.climate.flag import Flag
    from curewatch.climate.series import IndexedReadings

REMEMBERED = timedelta(days=8)
Where = tuple[str, Quantity]
Place = Callable[[str], PlaceSettings]


@frozen
class Outage:
    """A place's quantity for which there is no usable reading of late.

    since: the last usable reading, or where there is none, the last one; flag: why what comes is
    not used, None where nothing comes; steps: the numbers of those that lean on it.
    """

    place: str
    quantity: Quantity
    since: datetime
    flag: Flag | None = None
    steps: tuple[int, ...] = ()


@frozen
class Disagreement:
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
) -> list[Outage]:
    """What is lost at `now`, each within its place's own limit; what was only typed is not.

    latest: the last reading of every series, flagged ones too; usable: the last usable ones.
    """
    last_used = _newest(usable)
    outages = []
    for where, last in _newest(
        [reading for reading in latest if is_sensor(reading.source)]
    ).items():
        usable_reading, limit = (
            last_used.get(where),
            timedelta(minutes=place(last.place).old_after_min),
        )
        if now - last.at > REMEMBERED or (
            usable_reading is not None and now - usable_reading.at <= limit
        ):
            continue
        flag = last.flag if now - last.at <= limit else None
        since = usable_reading.at if usable_reading is not None and flag else last.at
        outages.append(Outage(*where, since, flag))
    return outages


def _newest(readings: Sequence[Reading]) -> dict[Where, Reading]:
    newest: dict[Where, Reading] = {}
    for reading in sorted(readings, key=lambda reading: reading.at):
        newest[reading.place, reading.quantity] = reading
    return newest


def leans_on(place: str, measured: AbstractSet[Where]) -> Iterator[Where]:
    """What a step at a place follows, of all that was ever measured: its metal, else the air; and
    the humidity."""
    preferences: tuple[tuple[Where, ...], ...] = (
        (
            (place, "surface_temperature"),
            (place, "air_temperature"),
            (AIR_PLACE, "air_temperature"),
        ),
        ((place, "relative_humidity"), (AIR_PLACE, "relative_humidity")),
    )
    for choices in preferences:
        yield from [where for where in choices if where in measured][:1]


def splits(usable: Sequence[Reading], place: Place) -> list[Disagreement]:
    """Sensors that do not agree at one place and are both used, as none is known to be better."""
    groups: dict[Where, list[Reading]] = {}
    for reading in usable:
        if is_sensor(reading.source):
            groups.setdefault((reading.place, reading.quantity), []).append(reading)
    pairs = (pair for group in groups.values() for pair in combinations(group[:MOST_MEMBERS], 2))
    return [split for first, second in pairs if (split := _split(first, second, place)) is not None]


def _split(first: Reading, second: Reading, place: Place) -> Disagreement | None:
    error = stated(place(first.place), first.quantity)
    gap, apart_s = abs(first.value - second.value), abs((first.at - second.at).total_seconds())
    if gap <= apart_limit(first.quantity, (error, error)) or apart_s > FRESH_S:
        return None
    sources = (first.source, second.source)
    return Disagreement(first.place, first.quantity, sources, gap, max(first.at, second.at))


@frozen
class LastReadings:
    """What every series gave last: `latest` with the flagged ones, `usable` without."""

    latest: Sequence[Reading]
    usable: Sequence[Reading]
    place: Place

    def lost(self, now: datetime, steps: Mapping[int, str]) -> tuple[Outage, ...]:
        """What is lost, with the steps that lean on it; steps: the place of each by number."""
        measured = {
            (reading.place, reading.quantity)
            for reading in self.latest
            if now - reading.at < REMEMBERED
        }
        sources_by_step = {
            number: set(leans_on(place, measured)) for number, place in steps.items()
        }
        return tuple(
            replace(
                outage,
                steps=tuple(
                    n
                    for n, sources in sources_by_step.items()
                    if (outage.place, outage.quantity) in sources
                ),
            )
            for outage in lost(self.latest, self.usable, now, self.place)
        )


def uncertainty(
    readings: IndexedReadings, place: str, quantity: Quantity, at: datetime, how: Place
) -> float:
    """Of one reading at an instant: as stated, or half of what two sensors differ then. [C or %]

    Parameters
    ----------
    readings : IndexedReadings
        Around that instant.
    place, quantity : str
        Where no humidity is measured at the place itself, that of the air stands for it.
    at : datetime
        The instant.
    how : callable
        The settings of a place by its name.

    Returns
    -------
    float
        [C or %]
    """
    by_sensors = readings.by_sensors(quantity, place)
    if quantity == "relative_humidity" and not by_sensors:
        place, by_sensors = AIR_PLACE, readings.by_sensors(quantity, AIR_PLACE)
    end = bisect_right(by_sensors, at, key=lambda reading: reading.at)
    begin = bisect_right(
        by_sensors, at - timedelta(seconds=FRESH_S), key=lambda reading: reading.at
    )
    last = {reading.source: reading for reading in by_sensors[begin:end]}
    differing = [split.gap / 2 for split in splits(list(last.values()), how)]
    return max((stated(how(place), quantity), *differing))


def stated(how: PlaceSettings, quantity: Quantity) -> float:
    """The stated error of a place's sensors. [C or %]"""
    return how.humidity_error_pct if quantity == "relative_humidity" else how.sensor_error_c


def moving(readings: list[Reading], spells: Sequence[StuckSpell]) -> list[Reading]:
    """The readings without those that a stuck sensor gave before it was flagged."""
    if not spells:
        return readings
    spells_by_series: dict[tuple[str, str, str], list[StuckSpell]] = {}
    for spell in spells:
        spells_by_series.setdefault((spell.source, spell.place, spell.quantity), []).append(spell)
    return [
        reading
        for reading in readings
        if not any(
            spell.since < reading.at < spell.until
            for spell in spells_by_series.get((reading.source, reading.place, reading.quantity), ())
        )
    ]
