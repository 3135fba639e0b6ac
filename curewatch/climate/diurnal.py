"""The usual course of a garage's day, and how a departure from it dies away."""

from __future__ import annotations

import numpy as np

from curewatch.climate.psychrometrics import FloatArray

DECAY_H, MEAN_H = 48.0, 168


def hourly_means(hours: FloatArray) -> FloatArray:
    """Mean of the seven days before the last hour, by hour of the day. [unit of hours]

    hours: shape (..., n), oldest first; element k of the answer, shape (..., 24), is for k hours
    after the last one. An hour never measured is nan.
    """
    last = hours[..., -MEAN_H - 1 : -1]
    days = last.reshape(*last.shape[:-1], last.shape[-1] // 24, 24)
    known = np.isfinite(days)
    total = np.where(known, days, 0.0).sum(axis=-2)
    count = known.sum(axis=-2)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def usual_course(means: FloatArray, ahead_h: FloatArray) -> FloatArray:
    """Hourly means of shape (..., 24), see hourly_means, at hours ahead. [C]; ahead_h [h]"""
    slot = np.mod(ahead_h, 24.0)
    low = np.floor(slot).astype(int)
    part = slot - low
    usual: FloatArray = (1 - part) * means[..., low % 24] + part * means[..., (low + 1) % 24]
    return usual


def damped_return(
    means: FloatArray,
    present: FloatArray,
    ahead_h: FloatArray,
    outdoors: FloatArray | None = None,
    lag_h: float = 6.0,
) -> FloatArray:
    """Return of a departure to the hourly means. [C], shape (..., h)

    means: shape (..., 24), see hourly_means; present: shape (...,) [C]; ahead_h: [h], shape (h,);
    outdoors: its departure [K], shape (...,); lag_h: of the garage behind it [h].
    """
    departure = (present - means[..., 0])[..., None]
    fade = np.exp(-ahead_h / DECAY_H)
    if outdoors is None:
        gone = departure * fade
    else:
        near = np.exp(-ahead_h / lag_h)
        gone = outdoors[..., None] * (fade - near) + departure * near
    back: FloatArray = usual_course(means, ahead_h) + gone
    return back
