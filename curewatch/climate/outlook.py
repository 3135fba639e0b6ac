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
from curewatch.climate.diurnal import (
    DECAY_H,
    HORIZONS_H,
    INDOORS,
    LAGS_H,
    MEAN_H,
    hourly_means,
    usual_course,
    ways,
    weighted,
    weights,
)
from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import Reading
from curewatch.climate.series import indexed
from curewatch.climate.sources import (
    ELSEWHERE_SD_C,
    ELSEWHERE_SD_PCT,
    WALK_C,
    WALK_PCT,
    Errors,
    Known,
    Looked,
    blended,
    for_surface,
)
from curewatch.durations import duration

HISTORY_H = 336
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
    all of shape (n,). step_s [s]. method and words say how it was found.
    """

    start: datetime
    step_s: float
    likely_c: FloatArray
    cool_c: FloatArray
    warm_c: FloatArray
    air_c: FloatArray
    humidity_pct: FloatArray
    method: str
    words: str


@dataclass(frozen=True)
class _Past:
    """Hourly values ending now, oldest first, nan where nothing was measured [C]; the latest value
    [C], its age [h], and the uncertainty of what it is now [C]."""

    hours: FloatArray
    latest: float
    age_h: float
    sd_c: float


def _past(known_at: Callable[[FloatArray], Known | None], old_after_min: float) -> _Past | None:
    """A temperature's last two weeks by the hour; known_at: what is known at seconds from now."""
    known = known_at(3600.0 * np.arange(-HISTORY_H + 1, 1, dtype=np.float64))
    if known is None:
        return None
    last_s = max(float(each.read_s[-1]) for each in known.shares)
    latest = known_at(np.array([last_s]))
    if latest is None or last_s <= -3600.0 * HISTORY_H:
        return None
    reach = max(2.0, 2 * old_after_min / 60)
    hours = np.where(known.walk / WALK_C**2 > reach / 2, np.nan, known.value)
    hours[-1] = latest.value[0]
    return _Past(hours, float(latest.value[0]), -last_s / 3600, float(known.sd[-1]))


def _windows(hours: FloatArray) -> FloatArray:
    """The last seven days as they stood at each hour of the past seven. [C], shape (167, 169)"""
    rows: FloatArray = np.lib.stride_tricks.sliding_window_view(hours[:-1], MEAN_H + 1)
    return rows


@dataclass(frozen=True, eq=False)
class _Week:
    """The past as it stood at each hour of the last week: what would have been told from it.

    present [C], shape (origins,); means [C], shape (origins, 24); true [C], (origins, horizons).
    """

    present: FloatArray
    means: FloatArray
    true: FloatArray

    @property
    def departure(self) -> FloatArray:
        """Of the present from its hour's mean. [K], shape (origins,)"""
        gap: FloatArray = self.present - self.means[:, 0]
        return gap

    def errors(self, told: FloatArray) -> FloatArray:
        """Absolute errors of what would have been told. [K], shape (origins, horizons)"""
        missed: FloatArray = np.abs(told - self.true)
        return missed


def _week(past: _Past) -> _Week:
    windows = _windows(past.hours)
    last = past.hours.size - 1
    at = last - windows.shape[0] + np.arange(windows.shape[0])[:, None] + HORIZONS_H[None, :]
    true = np.where(at <= last, past.hours[np.minimum(at, last)], np.nan)
    return _Week(windows[:, -1], hourly_means(windows), true)


def _guess(ahead_h: FloatArray) -> FloatArray:
    known = np.array(FIRST_GUESS_C)
    guess: FloatArray = np.interp(ahead_h, known[:, 0], known[:, 1])
    return guess


def _p90(errors: FloatArray, guess: float) -> float:
    known = np.sort(errors[np.isfinite(errors)])
    if known.size == 0:
        return guess
    own = float(np.quantile(known, OWN_QUANTILE))
    weight = known.size / (known.size + GUESS_COUNTS_H)
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
    then = usual_course(hourly_means(past.hours), np.array([-past.age_h]))[0]
    return float((past.latest - then) * np.exp(-past.age_h / DECAY_H))


def _words(counts: FloatArray) -> str:
    near = counts[:, :NEAR_H].mean(axis=1)
    if near[INDOORS:].sum() <= 0.5:
        return "goes on as its own last days teach"
    lag = LAGS_H[int(near[INDOORS:].argmax())]
    return f"follows outdoors with about {duration(60 * lag)} of lag, then its last days"


def _learned(
    past: _Past, outdoors: _Past | None, ahead_h: FloatArray
) -> tuple[FloatArray, FloatArray, str]:
    """By the ways that held best on its own last days: likely and half the band [C], in words."""
    week, grid = _week(past), HORIZONS_H.astype(np.float64)
    before = None if outdoors is None else _week(outdoors).departure
    tried = ways(week.means, week.present, grid, before)
    counts = weights(week.errors(tried))
    band = _band(week.errors(weighted(tried, counts, grid)), ahead_h)
    means = hourly_means(past.hours)[None, :]
    gone = None if outdoors is None else np.array([_departure_now(outdoors)])
    told = ways(means, means[:, 0] + _departure_now(past), ahead_h, gone)
    return weighted(told, counts, ahead_h)[0], band, _words(counts)


def _enough(past: _Past) -> bool:
    known = int(np.isfinite(past.hours[-MEAN_H:]).sum())
    return known >= LEAST_HISTORY_H and bool(np.isfinite(hourly_means(past.hours)).all())


def _held(past: _Past, ahead_h: FloatArray) -> tuple[FloatArray, FloatArray]:
    week = _week(past)
    errors = week.errors(week.present[:, None])
    free = np.maximum(_guess(ahead_h), P90 * WALK_C * np.sqrt(np.minimum(ahead_h, 24.0)))
    own = _band(errors, ahead_h)
    return np.full(ahead_h.size, past.latest), np.maximum(own, free)


def _shift(gap_c: float, surface: FloatArray) -> FloatArray:
    """The air keeps its present distance from the surface, which dies away. [C]"""
    faded: FloatArray = np.exp(-np.arange(surface.size) * STEP_S / (3600 * DECAY_H))
    moved: FloatArray = surface + gap_c * faded
    return moved


def _gap_c(looked: Looked, place: str, errors: Errors) -> float:
    """How much warmer the air is now than the surface, 0 where only one of both was read. [K]"""
    skin = looked.at("surface_temperature", place, errors)
    room = looked.around("air_temperature", place, errors)
    metal, around = blended(for_surface(room), skin), blended(for_surface(skin), room)
    if skin is None or room is None or metal is None or around is None:
        return 0.0
    return float(around.value[0] - metal.value[0])


def outlook(
    readings: Sequence[Reading],
    now: datetime,
    *,
    place: str = "panel",
    assumed_c: float,
    hours: float = 72.0,
    old_after_min: float = 30.0,
    sensor_sd_c: float = 0.0,
    typed_sd_c: float = 0.0,
) -> Outlook:
    """The next hours of a place, from readings up to now.

    assumed_c: surface where nothing was measured [C]; hours: how far [h]; old_after_min: an older
    last reading is said [min]; sensor_sd_c, typed_sd_c: doubt of one reading by a sensor, and of a
    typed one, which an offset carries on into the hours ahead [C].
    """
    ahead_h, readings = _ahead(hours), indexed(readings)
    warmth = Errors(sensor_sd_c, typed_sd_c, WALK_C, ELSEWHERE_SD_C)
    present = Looked(readings, now, np.zeros(1), 0.0)
    damp = present.around("relative_humidity", place, Errors(0.0, 0.0, WALK_PCT, ELSEWHERE_SD_PCT))
    pct = np.full(ahead_h.size, ASSUMED_PCT if damp is None else damp.value[0])

    def metal(grid: FloatArray) -> Known | None:
        looked = Looked(readings, now, grid, 0.0)
        skin = looked.at("surface_temperature", place, warmth)
        return blended(for_surface(looked.around("air_temperature", place, warmth)), skin)

    def outside(grid: FloatArray) -> Known | None:
        return Looked(readings, now, grid, 0.0).at("air_temperature", "outdoors", warmth)

    past = _past(metal, old_after_min)
    if past is None:
        likely, band = np.full(ahead_h.size, assumed_c), np.full(ahead_h.size, P90 * ASSUMED_SD_C)
        method, words = "assumed", f"no reading: {assumed_c:.3g} C assumed"
    elif _enough(past):
        outdoors = _past(outside, old_after_min)
        usable = outdoors if outdoors is not None and _enough(outdoors) else None
        likely, band, words = _learned(past, usable, ahead_h)
        method = "learned"
    else:
        likely, band = _held(past, ahead_h)
        method, words = "held", "held as it is now: less than two days of readings"
    if past is not None:
        band = np.hypot(band, P90 * past.sd_c)
        if past.age_h * 60 > old_after_min:
            words += f"; the last reading is {duration(60 * past.age_h, 'down')} old"
    air_c = _shift(_gap_c(present, place, warmth), likely)
    return Outlook(now, STEP_S, likely, likely - band, likely + band, air_c, pct, method, words)
