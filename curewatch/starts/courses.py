"""Whole courses of the coming days, drawn from the outlook and its band.

Notes
-----
The outlook's cool and warm paths say how far off it may be at each hour. One mix could be asked of
those alone; but whole days are neither all cool nor all warm, so the courses wander between them:

    surface(h) = likely(h) + sd(h) z(h),   z = sqrt(0.65) w(h) + sqrt(0.35) c

w: of first order, forgetting with 36 h; c: held over the whole course; both N(0, 1). The errors of
the outlook on a year of open weather went together by 0.91, 0.79, 0.64, 0.38 and 0.31 over 6, 12,
24, 48 and 96 h, which the two terms follow. Each draw has its mirror image, so that their mean is
the likely path.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from curewatch.climate.conditions import LARGEST_SD_PCT, WALK_PCT
from curewatch.climate.outlook import P90, Outlook
from curewatch.climate.psychrometrics import FloatArray

LASTING_SHARE, FORGETS_H = 0.35, 36.0


@dataclass(frozen=True, eq=False)
class Courses:
    """Drawn courses: sample i is at start + i*step_s.

    surface_c, air_c [C], humidity_pct [%], each of shape (courses, n); likely_c: the surface's
    likely path [C], shape (n,); step_s [s].
    """

    start: datetime
    step_s: float
    likely_c: FloatArray
    surface_c: FloatArray
    air_c: FloatArray
    humidity_pct: FloatArray

    def instant(self, sample: float) -> datetime:
        """When a sample is."""
        return self.start + timedelta(seconds=self.step_s * sample)

    def warmed(self, rise_k: FloatArray, most_c: float, *, room: bool) -> Courses:
        """The same with heat that makes them warmer, the surface never above a temperature.

        rise_k: [K], shape (courses, n); most_c: to which it is taken back where it would be warmer
        [C]; room: whether it warms the air too.
        """
        highest = np.maximum(self.surface_c, most_c)
        surface = np.minimum(self.surface_c + rise_k, highest)
        air = self.air_c + (surface - self.surface_c if room else 0.0)
        likely = np.minimum(self.likely_c + rise_k.mean(axis=0), np.maximum(self.likely_c, most_c))
        return replace(self, likely_c=likely, surface_c=surface, air_c=air)

    def sample(self, at: datetime) -> float:
        """Which sample an instant is, between two of them too. [-]"""
        return (at - self.start).total_seconds() / self.step_s


def _mirrored(draws: FloatArray) -> FloatArray:
    return np.concatenate((draws, -draws))


def departures(hours: FloatArray, count: int, rng: np.random.Generator) -> FloatArray:
    """Departures from the likely path, in its standard deviations.

    Parameters
    ----------
    hours : array, shape (n,)
        From now on, rising. [h]
    count : int
        How many courses; even.
    rng : Generator
        Where the chances come from.

    Returns
    -------
    array, shape (count, n)
        z [-], each row with its mirror image.
    """
    whole_hours = int(np.ceil(hours[-1])) + 1
    keeps = np.exp(-1 / FORGETS_H)
    steps = rng.standard_normal((count // 2, whole_hours + 1))
    wander = np.empty_like(steps)
    wander[:, 0] = steps[:, 0]
    for hour in range(1, whole_hours + 1):
        wander[:, hour] = keeps * wander[:, hour - 1] + np.sqrt(1 - keeps**2) * steps[:, hour]
    lasting = rng.standard_normal((count // 2, 1))
    whole = np.sqrt(1 - LASTING_SHARE) * wander + np.sqrt(LASTING_SHARE) * lasting
    below = np.floor(hours).astype(np.intp)
    part = hours - below
    between: FloatArray = (1 - part) * whole[:, below] + part * whole[:, below + 1]
    return _mirrored(between)


def drawn(ahead: Outlook, count: int, rng: np.random.Generator) -> Courses:
    """Courses of the outlook's whole length; count: how many, even."""
    hours = np.arange(ahead.likely_c.size) * ahead.step_s / 3600
    away = departures(hours, count, rng)
    colder, warmer = ahead.likely_c - ahead.cool_c, ahead.warm_c - ahead.likely_c
    away *= np.where(away < 0, colder / P90, warmer / P90)  # in place: a fortnight is 6 MB
    sd_pct = np.minimum(WALK_PCT * np.sqrt(hours), LARGEST_SD_PCT)
    humidity = ahead.humidity_pct + sd_pct * _mirrored(rng.standard_normal((count // 2, 1)))
    return Courses(
        ahead.start,
        ahead.step_s,
        ahead.likely_c,
        ahead.likely_c + away,
        ahead.air_c + away,
        np.clip(humidity, 0.0, 100.0, out=humidity),
    )
