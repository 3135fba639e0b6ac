"""What is known at an instant: what was measured by then, and the outlooks worked out from it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from curewatch.climate.outlook import USUAL_H, Outlook, outlook
from curewatch.climate.reading import TYPED_SD_C, PlaceSettings
from curewatch.climate.series import IndexedReadings, indexed


@dataclass
class Snapshot:
    """What is known at an instant: the readings, and the outlooks worked out from them.

    start: from when on the readings are those of minutes, those before it of hours.
    """

    now: datetime
    readings: IndexedReadings
    start: datetime | None = None
    outlooks: dict[tuple[str, float, float], Outlook] = field(default_factory=dict)
    earlier: dict[datetime, Snapshot] = field(default_factory=dict)

    def as_of(self, then: datetime) -> Snapshot:
        """What was measured by an earlier instant."""
        if then not in self.earlier:
            readings = [reading for reading in self.readings if reading.at <= then]
            self.earlier[then] = Snapshot(then, indexed(readings))
        return self.earlier[then]

    def ahead(
        self, place: str, assumed_c: float, how: PlaceSettings, hours: float = USUAL_H
    ) -> Outlook:
        """The outlook of a place; assumed_c stands where nothing was measured [C]; hours [h]."""
        key = (place, assumed_c, hours)
        if key not in self.outlooks:
            self.outlooks[key] = outlook(
                self.readings,
                self.now,
                place=place,
                assumed_c=assumed_c,
                hours=hours,
                old_after_min=how.old_after_min,
                sensor_sd_c=how.sensor_error_c,
                typed_sd_c=TYPED_SD_C,
            )
        return self.outlooks[key]
