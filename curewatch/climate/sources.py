"""Which of several sources of one quantity counts, and how much: a reading fades as it ages.

Notes
-----
A source is the readings of one quantity at one place, by a sensor or typed. It gives a straight
line between its readings, held outside them. Its variance is its own (instrument, and what it is
off by because it stands elsewhere or in the air) plus that of a random walk since it was read:

    walk = w^2 u (G - u)/G      between two readings G hours apart, u hours after the first
    walk = w^2 u                u hours before the first or after the last

Of a better source (own variance b) and a worse one (own variance a > b), the worse has the better
only where it has been read since. That gain and the better's share are

    x     = max(0, walk_better - walk_worse) / (a - b)
    share = exp(-3 x^2)
    var   = min(walk_better, walk_worse) + b + (a - b) (share^2 x + (1 - share)^2)

The walk since both were read is common to both, so it does not weigh them: only the gain and a - b
do, which are independent. The share of least variance, 1/(1 + x), would take from a probe that
reports every few minutes and leave much to a reading that events have refuted: 33 % after 8 h
beside a live air sensor. This one keeps 99 % for a quarter of an hour and has forgotten it after
five hours, half of it after two. It stays within what is known: share^2 x + (1 - share)^2 is never
more than x (as tanh(3 x^2/2) <= x) nor than 1 (as share (1 + x) <= 2), so that two sources are
never known worse than the better of them alone; 3.4 would be the most that may stand there.

Two that lie further apart than 2 sd contradict each other: the sd grows by 2 share (1 - share)
times the rest, which widens the result and weighs nothing.

Limits: an offset between two sources is not learned from the time when both were read; the error
of one source is taken as one over all its readings, and never averages out; where the worse source
is really the better instrument (own variances the other way round), the one read last counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import sqrt

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.reading import AIR_PLACE, Quantity, Reading, Source
from curewatch.climate.series import indexed
from curewatch.frozen import frozen

WALK_C, WALK_PCT = 0.75, 5.0
AIR_FOR_SURFACE_SD_C, ELSEWHERE_SD_C, ELSEWHERE_SD_PCT = 1.5, 1.0, 5.0
FADES, NEVER_NOUGHT = 3.0, 1e-9


@dataclass(frozen=True, eq=False)
class Share:
    """How much one source counts at each instant [-], shape (n,); read_s: when it was read [s]."""

    source: Source
    share: FloatArray
    read_s: FloatArray


@dataclass(frozen=True, eq=False)
class UncertainSeries:
    """A quantity at n instants: value, variance since it was read (walk), its own, and that of
    sources that contradict each other (torn), each of shape (n,) in its unit [C or %] and its
    square; shares add up to 1."""

    value: FloatArray
    walk: FloatArray
    own: FloatArray
    torn: FloatArray
    shares: tuple[Share, ...]

    @property
    def sd(self) -> FloatArray:
        """The whole uncertainty. [C or %]"""
        total: FloatArray = np.sqrt(self.walk + self.own + self.torn)
        return total

    def elsewhere(self, sd: float) -> UncertainSeries:
        """The same, off by a further sd because it stands for something else. [C or %]"""
        return replace(self, own=self.own + sd**2)


@frozen
class Uncertainties:
    """Uncertainty of one reading by a sensor and of a typed one, and the walk [C or %, the walk per
    square root of an hour]; elsewhere: of the garage's air for another place."""

    sensor: float
    typed: float
    walk: float
    elsewhere: float

    def of(self, source: Source) -> float:
        """Of one reading of a source. [C or %]"""
        return max(self.sensor, self.typed) if source.typed else self.sensor


def bridge_hours(seconds: FloatArray, read_s: FloatArray) -> FloatArray:
    """Variance of a walk of 1 per square root of an hour, tied at the readings. [h]

    Parameters
    ----------
    seconds : array, shape (n,)
        The instants. [s]
    read_s : array, shape (k,)
        Times of the readings, rising. [s]

    Returns
    -------
    array, shape (n,)
        0 at a reading, u (G - u)/G in a gap of G, the time from the nearest one outside. [h]
    """
    after = np.searchsorted(read_s, seconds, side="left")
    right = np.where(after < read_s.size, read_s[np.minimum(after, read_s.size - 1)], np.inf)
    left = np.where(after > 0, read_s[np.maximum(after - 1, 0)], -np.inf)
    behind, before = (seconds - left) / 3600, (right - seconds) / 3600
    hours: FloatArray = 1 / (1 / np.maximum(behind, 1e-12) + 1 / np.maximum(before, 1e-12))
    return hours


def blended(
    worse: UncertainSeries | None, better: UncertainSeries | None
) -> UncertainSeries | None:
    """Two sources of one quantity as one, see the module's notes.

    Parameters
    ----------
    worse, better : UncertainSeries or None
        On one grid of instants; the better has the smaller variance of its own.

    Returns
    -------
    UncertainSeries or None
        The other where one is missing; None where both are.
    """
    if worse is None or better is None:
        return worse if better is None else better
    gained = np.maximum(better.walk - worse.walk, 0.0)
    apart = np.maximum(worse.own - better.own, NEVER_NOUGHT)
    share = np.exp(-FADES * (gained / apart) ** 2)
    rest = 1 - share
    doubtful = np.abs(better.value - worse.value) - 2 * np.sqrt(gained + apart)
    contradicted = 2 * share * rest * np.maximum(doubtful, 0.0)
    torn = share * better.torn + rest * worse.torn + contradicted**2
    return UncertainSeries(
        share * better.value + rest * worse.value,
        np.minimum(better.walk, worse.walk) + share**2 * gained,
        better.own + rest**2 * apart,
        torn,
        tuple(
            replace(part_share, share=part_share.share * part)
            for part_series, part in ((better, share), (worse, rest))
            for part_share in part_series.shares
        ),
    )


@dataclass(frozen=True, eq=False)
class SampledReadings:
    """Readings on a grid of instants: seconds after `start` [s], shape (n,); until_s:
    later readings are left out [s]."""

    readings: Sequence[Reading]
    start: datetime
    grid: FloatArray
    until_s: float = np.inf

    def _source(self, source: Source, errors: Uncertainties) -> UncertainSeries | None:
        series = indexed(self.readings).of(source.quantity, source.place, source.typed)
        if series is None:
            return None
        seconds, values = series.seconds - self.start.timestamp(), series.values
        if seconds[-1] > self.until_s:
            before_end = seconds <= self.until_s
            seconds, values = seconds[before_end], values[before_end]
        if seconds.size == 0:
            return None
        even = np.ones(self.grid.size)
        return UncertainSeries(
            np.interp(self.grid, seconds, values),
            errors.walk**2 * bridge_hours(self.grid, seconds),
            even * errors.of(source) ** 2,
            0 * even,
            (Share(source, even, seconds),),
        )

    def at(self, quantity: Quantity, place: str, errors: Uncertainties) -> UncertainSeries | None:
        """One quantity at one place, what was typed and what a sensor gave."""
        typed, sensed = (self._source(Source(quantity, place, t), errors) for t in (True, False))
        return blended(typed, sensed)

    def around(
        self, quantity: Quantity, place: str, errors: Uncertainties
    ) -> UncertainSeries | None:
        """Air or humidity at a place; the garage's stands in for it."""
        garage, here = self.at(quantity, AIR_PLACE, errors), None
        if place != AIR_PLACE:
            here = self.at(quantity, place, errors)
        garage = garage.elsewhere(errors.elsewhere) if garage else None
        return blended(garage, here)


def for_surface(air: UncertainSeries | None) -> UncertainSeries | None:
    """The air taken for the metal: off by a further part of AIR_FOR_SURFACE_SD_C."""
    if air is None:
        return None
    return air.elsewhere(sqrt(AIR_FOR_SURFACE_SD_C**2 - ELSEWHERE_SD_C**2))


@frozen
class LeadingSource:
    """Which source counts most at an instant, and which better one it has replaced.

    age_min: since it was read, or until it is [min]; share: how much it counts [-]; instead_of: a
    source of the quantity itself that counts less, read instead_min from the instant [min].
    """

    source: Source
    age_min: float
    share: float
    instead_of: Source | None = None
    instead_min: float | None = None


def near_to(seconds: FloatArray, read_s: FloatArray) -> FloatArray:
    """How far each instant is from the nearest reading, before or after it. [s]

    Parameters
    ----------
    seconds : array, shape (n,)
        The instants. [s]
    read_s : array, shape (k,)
        Times of the readings, rising. [s]

    Returns
    -------
    array, shape (n,)
        Infinite where there is no reading. [s]
    """
    if read_s.size == 0:
        return np.full(seconds.size, np.inf)
    after = np.searchsorted(read_s, seconds)
    right = np.abs(read_s[np.minimum(after, read_s.size - 1)] - seconds)
    left = np.abs(read_s[np.maximum(after - 1, 0)] - seconds)
    nearest: FloatArray = np.minimum(left, right)
    return nearest


def _away_min(share: Share, at_s: float) -> float:
    return float(near_to(np.array([at_s]), share.read_s)[0]) / 60


def leading_source(shares: Sequence[Share], index: int, at_s: float) -> LeadingSource | None:
    """The source that counts most at one sample.

    Parameters
    ----------
    shares : sequence of Share
        The quantity's own source first.
    index : int
        Number of the sample; -1 is the last.
    at_s : float
        Its instant. [s]

    Returns
    -------
    LeadingSource or None
        None where nothing was read.
    """
    if not shares:
        return None
    ranked = sorted(shares, key=lambda candidate: -float(candidate.share[index]))
    most, own = ranked[0], shares[0]
    leading = LeadingSource(most.source, _away_min(most, at_s), float(most.share[index]))
    if own is most:
        return leading
    return replace(leading, instead_of=own.source, instead_min=_away_min(own, at_s))
