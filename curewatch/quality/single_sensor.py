"""Why a reading of one sensor is flagged, by that sensor's own past. Pure.

Notes
-----
Thresholds, each with its reason. "Derived" was worked out, "common practice" has no source.

* A step beyond `margin + rate * minutes`, at most `most`, is a jump:
  metal 5 K + 8 K/min: 1 mm of steel (3.9 kJ/m2K) that takes in 500 W/m2 from a lamp warms by
  7.7 K/min (derived). Air 8 K + 10 K/min: a door opened on 20 K of difference reaches a probe that
  lags a minute as 12.6 K in the first minute (derived). Humidity 20 % + 30 %/min: the same door,
  or a breath (common practice). `most` is what lies between a heated garage and the frost outdoors.
  Air goes at most `soon` = 15 K within half an hour, and up to `most` in three hours: in 2.39
  million five-minute steps of real rooms none between 6 and 30 K was honest (read, the data are not
  carried here). Metal under a lamp does go further, so its `soon` is its `most`.
* A new level is believed once three readings, over three minutes at least, agree about it: longer
  than a burst of faults lasts, short beside any time on a label (common practice). Air that is
  further off than `soon` must agree for half an hour, or another thermometer must have gone along
  at least half the way: real faults last for minutes.
* 85 C exactly is what a widespread one-wire thermometer gives when it did not measure (common
  practice); no cure is watched on metal that hot.
* A humidity of 100 % for six hours, or 24 outdoors, is a wet or broken sensor; a fog may last a
  night. At 0 % for half an hour it is broken: air in a garage is never that dry.
* A lag between a sensor's own time and the arrival that stays the same within 90 s over five
  readings and 20 minutes, and is a whole number of half hours from one to 14 hours, is a wrong
  zone; one beyond 14 hours a wrong clock. Readings that waited somewhere lag differently.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

from curewatch.climate.flag import Flag, instant
from curewatch.climate.reading import Quantity

PERSISTS, PERSISTS_S = 3, 180.0
SOON_S, LATER_S, FAR_PERSISTS_S = 1800.0, 3 * 3600.0, 1800.0
FORGOTTEN_S = 12 * 3600.0
FAILED_C = 85.0
PINNED_PCT = (0.1, 99.9)
DRY_S, WET_S, WET_OUTDOORS_S = 1800.0, 6 * 3600.0, 24 * 3600.0
LAG_READINGS, LAG_S, LAG_APART_S = 5, 1200.0, 90.0
HALF_HOUR_S, ZONE_S = 1800.0, (3600.0, 14 * 3600.0)
UNUSUAL, NEVER = 4.0, -math.inf


class StepLimits(NamedTuple):
    """How far a quantity can go: margin [C or %], rate [C or % a minute], most at all and most
    within half an hour [C or %]."""

    margin: float
    rate: float
    most: float
    soon: float

    def allowed(self, gap_s: float) -> float:
        """The furthest a quantity can go in a time. [C or %]

        Parameters
        ----------
        gap_s : float
            Between two readings, whichever came first. [s]

        Returns
        -------
        float
            margin + rate * minutes, at most `soon` within half an hour and `most` after three
            hours, straight between. [C or %]
        """
        later = min(max((abs(gap_s) - SOON_S) / (LATER_S - SOON_S), 0.0), 1.0)
        cap = self.soon + later * (self.most - self.soon)
        return min(cap, self.margin + self.rate * abs(gap_s) / 60)


STEP_LIMITS: dict[Quantity, StepLimits] = {
    "surface_temperature": StepLimits(5.0, 8.0, 40.0, 40.0),
    "air_temperature": StepLimits(8.0, 10.0, 30.0, 15.0),
    "relative_humidity": StepLimits(20.0, 30.0, 60.0, 60.0),
}


def within_step_limits(quantity: Quantity, gap_s: float, step: float) -> bool:
    """Whether a step is within what the quantity can go in a time.

    Parameters
    ----------
    quantity : Quantity
    gap_s : float
        Between two readings. [s]
    step : float
        Between their values. [C or %]

    Returns
    -------
    bool
    """
    return abs(step) <= STEP_LIMITS[quantity].allowed(gap_s)


def _far(quantity: Quantity, step: float) -> bool:
    return quantity == "air_temperature" and abs(step) > STEP_LIMITS[quantity].soon


def _alone() -> bool:
    return False


@dataclass(slots=True)
class StepTest:
    """The step test: the value last believed, and a candidate that may follow.

    Values in [C] or [%], times in [s].
    """

    value: float = math.nan
    at_s: float = NEVER
    candidate: float = math.nan
    candidate_s: float = NEVER
    first_s: float = NEVER
    count: int = 0

    def check(
        self,
        quantity: Quantity,
        at_s: float,
        value: float,
        seconded: Callable[[], bool] = _alone,
    ) -> Flag | None:
        """Why a value is flagged as a jump; None where it is believed.

        Parameters
        ----------
        quantity : Quantity
        at_s : float
            When it was measured, since 1970. [s]
        value : float
            [C or %]
        seconded : callable
            Whether another sensor went along; asked only about a far step of the air.

        Returns
        -------
        Flag or None
            "jump" with the step [K or %] and the seconds it took.

        Notes
        -----
        Believed where the last value is forgotten, where the step is within its limits, where
        enough readings agree about the new level, or where another sensor went along.
        """
        gap, step = at_s - self.at_s, value - self.value
        if (
            gap > FORGOTTEN_S
            or within_step_limits(quantity, gap, step)
            or self._persists(quantity, at_s, value)
            or (_far(quantity, step) and seconded())
        ):
            self.value, self.at_s, self.count = value, at_s, 0
            return None
        return Flag("jump", gap=round(step, 3), seconds=round(gap, 3))

    def _persists(self, quantity: Quantity, at_s: float, value: float) -> bool:
        if self.count and within_step_limits(
            quantity, at_s - self.candidate_s, value - self.candidate
        ):
            self.count += 1
        else:
            self.first_s, self.count = at_s, 1
        self.candidate, self.candidate_s = value, at_s
        needed_s = FAR_PERSISTS_S if _far(quantity, value - self.value) else PERSISTS_S
        return self.count >= PERSISTS and at_s - self.first_s >= needed_s


@dataclass(slots=True)
class PersistenceTest:
    """The persistence test: how long a value has been the same to the last digit. Value in [C] or
    [%], times in [s].

    seen: what other sensors gave when the run began; away_s: since when one of them is far off;
    longest_s: the longest run of this day and of the day before.
    """

    value: float = math.nan
    from_s: float = NEVER
    count: int = 0
    away_s: float = math.inf
    seen: dict[int, float] = field(default_factory=dict)
    day: int = 0
    longest_s: tuple[float, float] = (0.0, 0.0)

    def add(self, at_s: float, value: float) -> None:
        """Take note of a value; one that is not the same begins a new run."""
        if value == self.value:
            self.count += 1
            return
        self._end(at_s)
        self.value, self.from_s, self.count, self.away_s = value, at_s, 1, math.inf
        if self.seen:
            self.seen = {}

    def _end(self, at_s: float) -> None:
        today, before = self.longest_s
        day = int(at_s // 86_400)
        if day != self.day:
            before, today = (today if day == self.day + 1 else 0.0), 0.0
            self.day = day
        if self.count:
            today = max(today, at_s - self.from_s)
        self.longest_s = (today, before)

    def unusual(self, at_s: float) -> bool:
        """Whether it stands still much longer than it did at any time of the last days.

        Parameters
        ----------
        at_s : float
            Now, since 1970. [s]

        Returns
        -------
        bool
            Whether this run is UNUSUAL times the longest one of this day and the day before.
        """
        today, before = self.longest_s
        return before > 0 and at_s - self.from_s > UNUSUAL * max(today, before)


@dataclass(slots=True)
class SaturationTest:
    """The saturation test: since when a humidity is at an end of its scale [s]."""

    from_s: float = math.inf

    def check(self, place: str, at_s: float, value: float) -> Flag | None:
        """Why a humidity that stays at an end of its scale is flagged; None where it is not.

        Parameters
        ----------
        place : str
            Outdoors a fog may last a night.
        at_s : float
            When it was measured, since 1970. [s]
        value : float
            Relative humidity. [%]

        Returns
        -------
        Flag or None
            "end" with the value and since when.
        """
        low, high = PINNED_PCT
        if low < value < high:
            self.from_s = math.inf
            return None
        self.from_s = min(self.from_s, at_s)
        wet_s = WET_OUTDOORS_S if place == "outdoors" else WET_S
        if at_s - self.from_s < (DRY_S if value <= low else wet_s):
            return None
        return Flag("end", since=instant(self.from_s), value=value)


@dataclass(slots=True)
class ClockTest:
    """The clock test: how far a sensor's own time lies behind its arrival [s]."""

    lag_s: float = 0.0
    from_s: float = NEVER
    count: int = 0

    def check(self, at_s: float, lag_s: float) -> Flag | None:
        """Why the sensor's clock is flagged; None where it is not.

        Parameters
        ----------
        at_s : float
            The sensor's own time, since 1970. [s]
        lag_s : float
            How far it lies behind the arrival. [s]

        Returns
        -------
        Flag or None
            "zone" where the lag is a whole number of half hours, "clock" beyond 14 hours.
        """
        if lag_s < ZONE_S[0] - LAG_APART_S:
            self.count = 0
            return None
        if not self.count or abs(lag_s - self.lag_s) > LAG_APART_S:
            self.lag_s, self.from_s, self.count = lag_s, at_s, 0
        self.count += 1
        if self.count < LAG_READINGS or at_s - self.from_s < LAG_S:
            return None
        if lag_s > ZONE_S[1] + LAG_APART_S:
            return Flag("clock", seconds=round(lag_s))
        halves = round(lag_s / HALF_HOUR_S)
        if abs(lag_s - halves * HALF_HOUR_S) > LAG_APART_S:
            return None
        return Flag("zone", seconds=halves * HALF_HOUR_S)
