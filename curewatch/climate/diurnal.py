"""The usual course of a garage's day, ways from now back to it, and which of them held best.

Notes
-----
A way adds a share b of the usual day and lets the departure from it die away with tau:

    u_b(h) = M + b (m(h) - M)                      m: hourly mean of seven days, M: mean of m
    T(now + h) = u_b(h) + (T(now) - u_b(0)) exp(-h/tau)

b is 0, 0.5 or 1, tau 3 to 200 h; one more way holds the present. With an outdoor sensor the
departure may first go to that outdoors, with a lag L of the garage behind it:

    d(h) = d_out exp(-h/48) + (d0 - d_out) exp(-h/L)

At each horizon a way counts by its mean error over the garage's own last days, as a share of the
mean of all ways, evened out with the horizons beside it and pooled with USUALLY: the same share on
six virtual garages made of a year of open weather (Newark 2013; lags of 1.5 to 72 h, two of them
sunny), which counts as three independent spells of six hours or the horizon. A way that errs a
tenth more than the best counts 400 times less. The present held counts as if it erred a tenth less:
in a room so slow that nothing beats it, a week's luck else had the usual day err up to an eighth
more. The tenth was chosen on JFK 2013 behind lags; what it does at LaGuardia and in a real building
is in `tests/bench/outlook`. Ways by outdoors count up to half a day ahead, and
only where they erred less than the best of the others by a twentieth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from curewatch.climate.psychrometrics import FloatArray

DECAY_H, MEAN_H = 48.0, 168
SHARES = (0.0, 0.5, 1.0)
TAUS_H = (3.0, 6.0, 12.0, 24.0, 48.0, 100.0, 200.0)
LAGS_H = (1.5, 3.0, 6.0, 12.0)
HORIZONS_H = np.array([1, 2, 3, 6, 9, 12, 18, 24, 30, 42, 66])
TOLD_H, BEYOND_H = (1, 3, 6, 12, 24), 30
USUALLY = np.array(
    [
        [2.22, 1.99, 1.68, 1.38, 1.29],
        [1.42, 1.43, 1.39, 1.30, 1.28],
        [1.03, 1.10, 1.15, 1.17, 1.18],
        [0.88, 0.95, 1.03, 1.08, 1.00],
        [0.82, 0.90, 0.99, 1.06, 0.87],
        [0.80, 0.88, 0.99, 1.07, 0.81],
        [0.80, 0.88, 0.99, 1.08, 0.80],
        [2.09, 1.87, 1.58, 1.29, 1.23],
        [1.27, 1.28, 1.25, 1.18, 1.21],
        [0.86, 0.90, 0.95, 0.99, 1.12],
        [0.69, 0.72, 0.78, 0.85, 0.96],
        [0.63, 0.66, 0.71, 0.79, 0.85],
        [0.61, 0.63, 0.70, 0.78, 0.81],
        [0.60, 0.63, 0.69, 0.78, 0.80],
        [2.10, 1.87, 1.57, 1.26, 1.23],
        [1.25, 1.24, 1.21, 1.14, 1.21],
        [0.82, 0.84, 0.87, 0.93, 1.12],
        [0.64, 0.65, 0.69, 0.76, 0.96],
        [0.58, 0.58, 0.61, 0.68, 0.85],
        [0.56, 0.56, 0.59, 0.67, 0.80],
        [0.55, 0.55, 0.59, 0.68, 0.80],
        [0.79, 0.88, 0.99, 1.10, 0.81],
    ]
)
INDOORS = len(USUALLY)
POOLED_SPELLS, SPELL_H, SHARPNESS = 3.0, 6.0, 60.0
MUST_HELP, OUTDOORS_H = 0.95, 12
HELD, HELD_ERRS = INDOORS - 1, 0.9


def hourly_means(hours: FloatArray) -> FloatArray:
    """Mean of the seven days before the last hour, by hour of the day. [unit of hours]

    Parameters
    ----------
    hours : array, shape (..., n)
        Hourly values, oldest first, nan where nothing was measured; n > 168.

    Returns
    -------
    array, shape (..., 24)
        Element k is for k hours after the last one; nan for an hour never measured.
    """
    last = hours[..., -MEAN_H - 1 : -1]
    days = last.reshape(*last.shape[:-1], last.shape[-1] // 24, 24)
    measured = np.isfinite(days)
    total = np.where(measured, days, 0.0).sum(axis=-2)
    count = measured.sum(axis=-2)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def usual_course(means: FloatArray, ahead_h: FloatArray) -> FloatArray:
    """The usual day at some hours ahead. [C]

    Parameters
    ----------
    means : array, shape (..., 24)
        See `hourly_means`. [C]
    ahead_h : array, shape (h,)
        Hours from now. [h]

    Returns
    -------
    array, shape (..., h)
        Straight between whole hours. [C]
    """
    slot = np.mod(ahead_h, 24.0)
    low = np.floor(slot).astype(int)
    part = slot - low
    usual: FloatArray = (1 - part) * means[..., low % 24] + part * means[..., (low + 1) % 24]
    return usual


def _by_outdoors(
    departure: FloatArray, outdoor_departure: FloatArray, ahead_h: FloatArray
) -> list[FloatArray]:
    fade = np.exp(-ahead_h / DECAY_H)
    nears = [np.exp(-ahead_h / lag) for lag in LAGS_H]
    return [
        outdoor_departure[:, None] * (fade - near) + departure[:, None] * near for near in nears
    ]


def ways(
    means: FloatArray,
    present: FloatArray,
    ahead_h: FloatArray,
    outdoor_departure: FloatArray | None = None,
) -> FloatArray:
    """What each way predicts, see the module's notes. [C]

    Parameters
    ----------
    means : array, shape (origins, 24)
        See `hourly_means`. [C]
    present : array, shape (origins,)
        The value at each origin. [C]
    ahead_h : array, shape (h,)
        Hours from the origin. [h]
    outdoor_departure : array, shape (origins,), optional
        How far outdoors is from its own usual course; None: no sensor outdoors. [K]

    Returns
    -------
    array, shape (ways, origins, h)
        Predicted temperatures; the ways by outdoors come last. [C]
    """
    course, middle = usual_course(means, ahead_h), means.mean(axis=-1)[:, None]
    fades = [np.exp(-ahead_h / tau) for tau in TAUS_H]
    predictions = []
    for share in SHARES:
        usual = middle + share * (course - middle)
        off = present[:, None] - middle - share * (means[:, :1] - middle)
        predictions += [usual + off * fade for fade in fades]
    predictions.append(np.repeat(present[:, None], ahead_h.size, axis=1))
    if outdoor_departure is not None:
        predictions += [
            course + behind_outdoors
            for behind_outdoors in _by_outdoors(present - means[:, 0], outdoor_departure, ahead_h)
        ]
    return np.array(predictions)


def _usually(count: int) -> FloatArray:
    """What held on many garages. [-], shape (count, horizons)"""
    beyond = USUALLY[:, -2:].mean(axis=1, keepdims=True)
    table = np.concatenate((USUALLY, beyond), axis=1)
    rows = np.array([np.interp(HORIZONS_H, (*TOLD_H, BEYOND_H), row) for row in table])
    new = np.repeat(rows.min(axis=0, keepdims=True), count - len(rows), axis=0)
    return np.concatenate((rows, new))


def _with_neighbours(score: FloatArray) -> FloatArray:
    """Each horizon's half and a quarter of those beside it: after whole days shares look alike."""
    before, after = score[:, [0, *range(score.shape[1] - 1)]], np.roll(score, -1, axis=1)
    after[:, -1] = score[:, -1]
    smooth: FloatArray = 0.5 * score + 0.25 * (before + after)
    return smooth


def weights(errors: FloatArray) -> FloatArray:
    """How much each way counts at each of HORIZONS_H. [-]

    Parameters
    ----------
    errors : array, shape (ways, origins, horizons)
        Absolute errors of the ways over the last days, nan where not known yet. [K]

    Returns
    -------
    array, shape (ways, horizons)
        Weights that add up to 1 at each horizon. [-]
    """
    checked = np.isfinite(errors[0])
    count = checked.sum(axis=0)
    own = np.where(checked, errors, 0.0).sum(axis=1) / np.maximum(count, 1)
    scale = np.maximum(own[:INDOORS].mean(axis=0), 1e-9)
    spells = count / np.maximum(HORIZONS_H, SPELL_H)
    trust = spells / (spells + POOLED_SPELLS)
    score = _with_neighbours(trust * own / scale + (1 - trust) * _usually(len(errors)))
    score[HELD] *= HELD_ERRS
    best = score[:INDOORS].min(axis=0)
    helps = (score[INDOORS:] < MUST_HELP * best) & (HORIZONS_H <= OUTDOORS_H)
    score[INDOORS:] = np.where(helps, score[INDOORS:], np.inf)
    share = np.exp(-SHARPNESS * (score / score.min(axis=0) - 1))
    shares: FloatArray = share / share.sum(axis=0)
    return shares


def weighted(
    predictions: FloatArray, weights_by_horizon: FloatArray, ahead_h: FloatArray
) -> FloatArray:
    """The ways blended into one prediction. [C]

    Parameters
    ----------
    predictions : array, shape (ways, origins, h)
        See `ways`. [C]
    weights_by_horizon : array, shape (ways, horizons)
        See `weights`. [-]
    ahead_h : array, shape (h,)
        Hours from the origin. [h]

    Returns
    -------
    array, shape (origins, h)
        Predicted temperatures. [C]
    """
    rows = np.array([np.interp(ahead_h, HORIZONS_H, row) for row in weights_by_horizon])
    blend: FloatArray = np.einsum("woh,wh->oh", predictions, rows)
    return blend


def _windows(hours: FloatArray) -> FloatArray:
    """The last seven days as they stood at each hour of the past seven. [C], shape (167, 169)"""
    rows: FloatArray = np.lib.stride_tricks.sliding_window_view(hours[:-1], MEAN_H + 1)
    return rows


@dataclass(frozen=True, eq=False)
class Week:
    """The past as it stood at each hour of the last week: what would have been predicted from it.

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

    def errors(self, predicted: FloatArray) -> FloatArray:
        """Absolute errors of what would have been predicted. [K], shape (origins, horizons)"""
        missed: FloatArray = np.abs(predicted - self.true)
        return missed


def week_of(hours: FloatArray) -> Week:
    """The last week of hourly values that end now, oldest first. [C], shape (n,)"""
    windows = _windows(hours)
    last = hours.size - 1
    at = last - windows.shape[0] + np.arange(windows.shape[0])[:, None] + HORIZONS_H[None, :]
    true = np.where(at <= last, hours[np.minimum(at, last)], np.nan)
    return Week(windows[:, -1], hourly_means(windows), true)
