"""The garage's next hours: likely, and how much cooler or warmer it may turn out.

Notes
-----
With at least two days of readings the hours ahead are a mixture of ways from now back to the usual
day (`diurnal`), each weighed at each horizon by how it did on the garage's own last days. With less
history the present value is held. The band is the 92nd percentile of this very method's errors on
its own past, by horizon (the 90th held 83 to 87 % of what came: the weights were chosen on the same
days), together with a first guess that counts as two days of experience.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from curewatch.climate.conditions import ASSUMED_PCT, ASSUMED_SD_C
from curewatch.climate.dew_course import DewCourse, learned
from curewatch.climate.diurnal import (
    DECAY_H,
    HORIZONS_H,
    INDOORS,
    LAGS_H,
    MEAN_H,
    hourly_means,
    usual_course,
    ways,
    week_of,
    weighted,
    weights,
)
from curewatch.climate.psychrometrics import FloatArray, dew_point_c
from curewatch.climate.reading import Reading
from curewatch.climate.series import indexed
from curewatch.climate.sources import (
    ELSEWHERE_SD_C,
    ELSEWHERE_SD_PCT,
    WALK_C,
    WALK_PCT,
    SampledReadings,
    UncertainSeries,
    Uncertainties,
    blended,
    for_surface,
)
from curewatch.frozen import frozen
from curewatch.notice import Duration, Measure, Notice, notice

HISTORY_H = 336
USUAL_H = 72.0
HOURS_S = 3600.0 * np.arange(-HISTORY_H + 1, 1, dtype=np.float64)
HUMIDITY_ERRORS = Uncertainties(0.0, 0.0, WALK_PCT, ELSEWHERE_SD_PCT)
LEAST_HISTORY_H = 48
STEP_S = 300.0
P90, OWN_QUANTILE = 1.645, 0.92
FIRST_GUESS_C = (
    (0.0, 0.0),
    (1.0, 0.5),
    (3.0, 1.3),
    (6.0, 2.2),
    (12.0, 3.4),
    (24.0, 4.7),
    (96.0, 6.5),
)
GUESS_COUNTS_H = 48.0
NEAR_H = 3


@dataclass(frozen=True, eq=False)
class Outlook:
    """Surface, air and humidity ahead: sample i is at start + i*step_s.

    likely_c, cool_c, warm_c: surface [C], the 50, 5 and 95 % paths; air_c [C], humidity_pct [%];
    all of shape (n,). step_s [s]. method and basis say how it was found. dew_margin_k: what a
    warning of dew takes off the gap [K], shape (n,), nothing where None.
    """

    start: datetime
    step_s: float
    likely_c: FloatArray
    cool_c: FloatArray
    warm_c: FloatArray
    air_c: FloatArray
    humidity_pct: FloatArray
    method: str
    basis: tuple[Notice, ...]
    dew_margin_k: FloatArray | None = None

    @property
    def dew_c(self) -> FloatArray:
        """The air's dew point. [C], shape (n,)"""
        return np.asarray(dew_point_c(self.air_c, np.clip(self.humidity_pct, 1.0, 100.0)))

    @property
    def dew_gap_k(self) -> FloatArray:
        """How far the likely surface is above the dew point, on the careful side. [K]"""
        margin = 0.0 if self.dew_margin_k is None else self.dew_margin_k
        gap: FloatArray = self.likely_c - self.dew_c - margin
        return gap


@frozen
class _Past:
    """Hourly values ending now, oldest first, nan where nothing was measured [C]; the latest value
    [C], its age [h], and the uncertainty of what it is now [C]."""

    hours: FloatArray
    latest: float
    age_h: float
    sd_c: float


def _past(
    series_at: Callable[[FloatArray], UncertainSeries | None], old_after_min: float
) -> _Past | None:
    """A temperature's last two weeks by the hour; series_at: its values at seconds from now."""
    series = series_at(HOURS_S)
    if series is None:
        return None
    last_s = max(float(share.read_s[-1]) for share in series.shares)
    latest = series_at(np.array([last_s]))
    if latest is None or last_s <= -3600.0 * HISTORY_H:
        return None
    reach = max(2.0, 2 * old_after_min / 60)
    hours = np.where(series.walk / WALK_C**2 > reach / 2, np.nan, series.value)
    hours[-1] = latest.value[0]
    return _Past(hours, float(latest.value[0]), -last_s / 3600, float(series.sd[-1]))


def _guess(ahead_h: FloatArray) -> FloatArray:
    corners = np.array(FIRST_GUESS_C)
    guess: FloatArray = np.interp(ahead_h, corners[:, 0], corners[:, 1])
    return guess


def _p90(errors: FloatArray, guess: float) -> float:
    measured = np.sort(errors[np.isfinite(errors)])
    if measured.size == 0:
        return guess
    ranks = np.arange(measured.size)
    own = float(np.interp(OWN_QUANTILE * ranks[-1], ranks, measured))
    weight = measured.size / (measured.size + GUESS_COUNTS_H)
    return weight * own + (1 - weight) * guess


def _band(errors: FloatArray, ahead_h: FloatArray) -> FloatArray:
    """Half width of the 90 % band [K] at each horizon [h]; never narrower further ahead."""
    guess = _guess(HORIZONS_H.astype(np.float64))
    widths = [_p90(errors[:, i], float(guess[i])) for i in range(HORIZONS_H.size)]
    rising = np.maximum.accumulate(np.concatenate(([0.0], widths)))
    return np.interp(ahead_h, np.concatenate(([0.0], HORIZONS_H)), rising)


def _ahead(hours: float) -> FloatArray:
    return np.arange(math.floor(hours * 3600 / STEP_S) + 1, dtype=np.float64) * STEP_S / 3600


def _departure_now(past: _Past) -> float:
    """How far from its usual course it is now, by a reading that may be hours old. [K]"""
    usual_then = usual_course(hourly_means(past.hours), np.array([-past.age_h]))[0]
    return float((past.latest - usual_then) * np.exp(-past.age_h / DECAY_H))


def _basis(counts: FloatArray) -> Notice:
    near = counts[:, :NEAR_H].mean(axis=1)
    if near[INDOORS:].sum() <= 0.5:
        return notice("forecast-own-days")
    lag = LAGS_H[int(near[INDOORS:].argmax())]
    return notice("forecast-outdoors", lag=Duration(60.0 * lag))


def _learned(
    past: _Past, outdoors: _Past | None, ahead_h: FloatArray
) -> tuple[FloatArray, FloatArray, Notice]:
    """By the ways that held best on its own last days: likely and half the band [C], and which."""
    week, grid = week_of(past.hours), HORIZONS_H.astype(np.float64)
    before = None if outdoors is None else week_of(outdoors.hours).departure
    past_predictions = ways(week.means, week.present, grid, before)
    counts = weights(week.errors(past_predictions))
    band = _band(week.errors(weighted(past_predictions, counts, grid)), ahead_h)
    means = hourly_means(past.hours)[None, :]
    outdoor_departure = None if outdoors is None else np.array([_departure_now(outdoors)])
    predictions = ways(means, means[:, 0] + _departure_now(past), ahead_h, outdoor_departure)
    return weighted(predictions, counts, ahead_h)[0], band, _basis(counts)


def _enough(past: _Past) -> bool:
    hours_measured = int(np.isfinite(past.hours[-MEAN_H:]).sum())
    return hours_measured >= LEAST_HISTORY_H and bool(np.isfinite(hourly_means(past.hours)).all())


def _held(past: _Past, ahead_h: FloatArray) -> tuple[FloatArray, FloatArray]:
    week = week_of(past.hours)
    errors = week.errors(week.present[:, None])
    free = np.maximum(_guess(ahead_h), P90 * WALK_C * np.sqrt(np.minimum(ahead_h, 24.0)))
    own = _band(errors, ahead_h)
    return np.full(ahead_h.size, past.latest), np.maximum(own, free)


def _course(
    past: _Past | None, outdoors: _Past | None, ahead_h: FloatArray, assumed_c: float
) -> tuple[FloatArray, FloatArray, str, Notice]:
    """The likely course of the metal and its band, by which method, and what that rests on. [C]"""
    if past is None:
        likely, band = np.full(ahead_h.size, assumed_c), np.full(ahead_h.size, P90 * ASSUMED_SD_C)
        return likely, band, "assumed", notice("forecast-assumed", assumed=Measure(assumed_c, "C"))
    if not _enough(past):
        return *_held(past, ahead_h), "held", notice("forecast-held")
    usable = outdoors if outdoors is not None and _enough(outdoors) else None
    likely, band, basis = _learned(past, usable, ahead_h)
    return likely, band, "learned", basis


def _shift(gap_c: float, surface: FloatArray) -> FloatArray:
    """The air keeps its present distance from the surface, which dies away. [C]"""
    faded: FloatArray = np.exp(-np.arange(surface.size) * STEP_S / (3600 * DECAY_H))
    moved: FloatArray = surface + gap_c * faded
    return moved


def _gap_c(sampled: SampledReadings, place: str, errors: Uncertainties) -> float:
    """How much warmer the air is now than the surface, 0 where only one of both was read. [K]"""
    surface = sampled.at("surface_temperature", place, errors)
    air = sampled.around("air_temperature", place, errors)
    metal, ambient = blended(for_surface(air), surface), blended(for_surface(surface), air)
    if surface is None or air is None or metal is None or ambient is None:
        return 0.0
    return float(ambient.value[0] - metal.value[0])


def _dew_course(past: _Past | None, sampled: SampledReadings, place: str) -> DewCourse:
    """How the dew point goes with the temperature here, by the last fortnight's hours."""
    series = sampled.around("relative_humidity", place, HUMIDITY_ERRORS)
    if past is None or series is None:
        return DewCourse()
    return learned(past.hours, np.where(series.walk / WALK_PCT**2 > 1.0, np.nan, series.value))


def outlook(
    readings: Sequence[Reading],
    now: datetime,
    *,
    place: str = "panel",
    assumed_c: float,
    hours: float = USUAL_H,
    old_after_min: float = 30.0,
    sensor_sd_c: float = 0.0,
    typed_sd_c: float = 0.0,
) -> Outlook:
    """The next hours of a place, from readings up to now.

    Parameters
    ----------
    readings : sequence of Reading
        Of all places; flagged ones are left out.
    now : datetime
        Where the outlook begins; later readings are left out.
    place : str
        Where the metal is.
    assumed_c : float
        Temperature of the surface where nothing was measured. [C]
    hours : float
        How far to look ahead. [h]
    old_after_min : float
        An older last reading is named in the basis. [min]
    sensor_sd_c, typed_sd_c : float
        Standard uncertainty of one reading by a sensor, and of a typed one, which an offset
        carries on into the hours ahead. [C]

    Returns
    -------
    Outlook
        Samples five minutes apart.
    """
    ahead_h, readings = _ahead(hours), indexed(readings)
    uncertainty = Uncertainties(sensor_sd_c, typed_sd_c, WALK_C, ELSEWHERE_SD_C)
    present = SampledReadings(readings, now, np.zeros(1), 0.0)
    humidity = present.around("relative_humidity", place, HUMIDITY_ERRORS)

    def metal(grid: FloatArray) -> UncertainSeries | None:
        sampled = SampledReadings(readings, now, grid, 0.0)
        surface = sampled.at("surface_temperature", place, uncertainty)
        return blended(for_surface(sampled.around("air_temperature", place, uncertainty)), surface)

    def outside(grid: FloatArray) -> UncertainSeries | None:
        return SampledReadings(readings, now, grid, 0.0).at(
            "air_temperature", "outdoors", uncertainty
        )

    past = _past(metal, old_after_min)
    outdoors = _past(outside, old_after_min) if past is not None and _enough(past) else None
    likely, band, method, basis = _course(past, outdoors, ahead_h, assumed_c)
    old: tuple[Notice, ...] = ()
    if past is not None:
        band = np.hypot(band, P90 * past.sd_c)
        if past.age_h * 60 > old_after_min:
            old = (notice("forecast-reading-old", age=Duration(60 * past.age_h, "down")),)
    air_c = _shift(_gap_c(present, place, uncertainty), likely)
    pct, margin_k = np.full(ahead_h.size, ASSUMED_PCT), np.zeros(ahead_h.size)
    if humidity is not None:
        course = _dew_course(past, SampledReadings(readings, now, HOURS_S, 0.0), place)
        pct = course.humidity_pct(air_c, float(humidity.value[0]))
        margin_k = course.margin_k(ahead_h)
    cool, warm = likely - band, likely + band
    return Outlook(now, STEP_S, likely, cool, warm, air_c, pct, method, (basis, *old), margin_k)
