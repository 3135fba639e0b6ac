"""What each place measured, felt and may bring: the store's readings by the places' settings."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, TypeVar

from curewatch.climate.conditions import Conditions, resampled
from curewatch.climate.outlook import HISTORY_H, USUAL_H, Outlook
from curewatch.climate.reading import TYPED_SD_C, TYPED_SD_PCT, PlaceSettings, Reading
from curewatch.climate.series import indexed
from curewatch.climate.snapshot import Snapshot
from curewatch.garage.memory import Memory
from curewatch.quality.availability import LastReadings, moving, uncertainty
from curewatch.quality.calibration import stuck_spells

if TYPE_CHECKING:
    from curewatch.store.store import Store

HISTORY = timedelta(hours=HISTORY_H + 1)
FINE = timedelta(hours=3)
Found = TypeVar("Found")


def hour_of(at: datetime) -> datetime:
    """The full hour before an instant."""
    return at.replace(minute=0, second=0, microsecond=0)


class PlaceAir:
    """Reads a store for what its places felt; knows nothing of steps."""

    def __init__(self, store: Store, places: Mapping[str, PlaceSettings] | None = None) -> None:
        self.store = store
        self.places = dict(places or {})
        self._memory = Memory()

    def place(self, name: str) -> PlaceSettings:
        """How that place is read, or the usual way."""
        return self.places.get(name) or PlaceSettings()

    def remembered(self, key: Hashable, mark: Any, work_out: Callable[[], Found]) -> Found:
        """What others worked out from this store, kept while its mark stands."""
        return self._memory.get(key, mark, work_out)

    def readings(self, start: datetime, now: datetime) -> list[Reading]:
        """Hourly means of the two weeks before, then minutes since `start` or the last hours."""
        fine = min(start, now - FINE) - timedelta(hours=1)
        hour = hour_of(fine)
        readings = self._hourly(now, hour) + self.store.readings(hour, now, bucket_s=60)
        return moving(readings, stuck_spells(self.store))

    def last_readings(self, now: datetime) -> LastReadings:
        """What every series gave last."""
        minute = now.replace(second=0, microsecond=0) if self.store.ahead(now) else None
        return self._memory.get(
            "ends",
            (self.store.revision(), minute),
            lambda: LastReadings(self.store.latest(now), self.store.usable(now), self.place),
        )

    def _hourly(self, now: datetime, until: datetime) -> list[Reading]:
        start = hour_of(now) - HISTORY
        mark = (start, until, self.store.measured(until))
        return self._memory.get(
            "hourly",
            mark,
            lambda: self.store.readings(start, until, bucket_s=3600) if start < until else [],
        )

    def at(
        self,
        readings: Sequence[Reading],
        place: str,
        start: datetime,
        end: datetime,
        assumed_c: float,
    ) -> Conditions:
        """A place from start to end; assumed_c stands where nothing was measured. [C]"""
        how, series = self.place(place), indexed(readings)
        return resampled(
            series,
            start,
            end,
            place=place,
            assumed_c=assumed_c,
            lag_min=how.lag_min,
            old_after_min=how.old_after_min,
            sensor_sd_c=uncertainty(series, place, "surface_temperature", end, self.place),
            humidity_sd_pct=uncertainty(series, place, "relative_humidity", end, self.place),
            typed_sd_c=TYPED_SD_C,
            typed_sd_pct=TYPED_SD_PCT,
        )

    def ahead(
        self, snapshot: Snapshot, place: str, assumed_c: float, hours: float = USUAL_H
    ) -> Outlook:
        """The outlook of a place; assumed_c stands where nothing was measured [C]; hours [h]."""
        error = uncertainty(
            snapshot.readings, place, "surface_temperature", snapshot.now, self.place
        )
        how = replace(self.place(place), sensor_error_c=error)
        return snapshot.ahead(place, assumed_c, how, hours)

    def snapshot(self, start: datetime, now: datetime) -> Snapshot:
        """The readings for everything since `start`, as known at `now`."""
        return Snapshot(now, indexed(self.readings(start, now)), start)
