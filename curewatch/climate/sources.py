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

WALK_C, WALK_PCT = 0.75, 5.0
AIR_FOR_SURFACE_SD_C, ELSEWHERE_SD_C, ELSEWHERE_SD_PCT = 1.5, 1.0, 5.0
TYPED_SD_C, TYPED_SD_PCT = 0.6, 5.0
FADES, NEVER_NOUGHT = 3.0, 1e-9


@dataclass(frozen=True, eq=False)
class Share:
    """How much one source counts at each instant [-], shape (n,); read_s: when it was read [s]."""

    source: Source
    share: FloatArray
    read_s: FloatArray


@dataclass(frozen=True, eq=False)
class Known:
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
        found: FloatArray = np.sqrt(self.walk + self.own + self.torn)
        return found

    def elsewhere(self, sd: float) -> Known:
        """The same, off by a further sd because it stands for something else. [C or %]"""
        return replace(self, own=self.own + sd**2)


@dataclass(frozen=True)
class Errors:
    """Uncertainty of one reading by a sensor and of a typed one, and the walk [C or %, the walk per
    square root of an hour]; elsewhere: of the garage's air for another place."""

    sensor: float
    typed: float
    walk: float
    elsewhere: float

    def of(self, source: Source) -> float:
        """Of one reading of a source. [C or %]"""
        return max(self.sensor, self.typed) if source.typed else self.sensor


def bridge_hours(seconds: FloatArray, known: FloatArray) -> FloatArray:
    """Variance of a walk of 1 per square root of an hour, tied at the readings. [h]

    seconds: the instants [s], shape (n,); known: times of the readings [s], rising, shape (k,).
    """
    after = np.searchsorted(known, seconds, side="left")
    right = np.where(after < known.size, known[np.minimum(after, known.size - 1)], np.inf)
    left = np.where(after > 0, known[np.maximum(after - 1, 0)], -np.inf)
    behind, before = (seconds - left) / 3600, (right - seconds) / 3600
    hours: FloatArray = 1 / (1 / np.maximum(behind, 1e-12) + 1 / np.maximum(before, 1e-12))
    return hours


def blended(worse: Known | None, better: Known | None) -> Known | None:
    """Two sources of one quantity as one, see the notes; either may be missing."""
    if worse is None or better is None:
        return worse if better is None else better
    gained = np.maximum(better.walk - worse.walk, 0.0)
    apart = np.maximum(worse.own - better.own, NEVER_NOUGHT)
    share = np.exp(-FADES * (gained / apart) ** 2)
    rest = 1 - share
    doubtful = np.abs(better.value - worse.value) - 2 * np.sqrt(gained + apart)
    contradicted = 2 * share * rest * np.maximum(doubtful, 0.0)
    torn = share * better.torn + rest * worse.torn + contradicted**2
    return Known(
        share * better.value + rest * worse.value,
        np.minimum(better.walk, worse.walk) + share**2 * gained,
        better.own + rest**2 * apart,
        torn,
        tuple(
            replace(each, share=each.share * part)
            for known, part in ((better, share), (worse, rest))
            for each in known.shares
        ),
    )


@dataclass(frozen=True, eq=False)
class Looked:
    """Readings looked at on a grid of instants: seconds after `start` [s], shape (n,); until_s:
    later readings are left out [s]."""

    readings: Sequence[Reading]
    start: datetime
    grid: FloatArray
    until_s: float = np.inf

    def _source(self, source: Source, errors: Errors) -> Known | None:
        found = indexed(self.readings).of(source.quantity, source.place, source.typed)
        if found is None:
            return None
        seconds, values = found.seconds - self.start.timestamp(), found.values
        if seconds[-1] > self.until_s:
            kept = seconds <= self.until_s
            seconds, values = seconds[kept], values[kept]
        if seconds.size == 0:
            return None
        even = np.ones(self.grid.size)
        return Known(
            np.interp(self.grid, seconds, values),
            errors.walk**2 * bridge_hours(self.grid, seconds),
            even * errors.of(source) ** 2,
            0 * even,
            (Share(source, even, seconds),),
        )

    def at(self, quantity: Quantity, place: str, errors: Errors) -> Known | None:
        """One quantity at one place, what was typed and what a sensor gave."""
        typed, sensed = (self._source(Source(quantity, place, t), errors) for t in (True, False))
        return blended(typed, sensed)

    def around(self, quantity: Quantity, place: str, errors: Errors) -> Known | None:
        """Air or humidity at a place; the garage's stands in for it."""
        garage, here = self.at(quantity, AIR_PLACE, errors), None
        if place != AIR_PLACE:
            here = self.at(quantity, place, errors)
        garage = garage.elsewhere(errors.elsewhere) if garage else None
        return blended(garage, here)


def for_surface(room: Known | None) -> Known | None:
    """The air taken for the metal: off by a further part of AIR_FOR_SURFACE_SD_C."""
    if room is None:
        return None
    return room.elsewhere(sqrt(AIR_FOR_SURFACE_SD_C**2 - ELSEWHERE_SD_C**2))


@dataclass(frozen=True)
class Charge:
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
    """How far each instant is from the nearest reading, before or after it. [s], shape (n,)

    seconds, read_s: the instants and the rising times of the readings [s].
    """
    if read_s.size == 0:
        return np.full(seconds.size, np.inf)
    after = np.searchsorted(read_s, seconds)
    right = np.abs(read_s[np.minimum(after, read_s.size - 1)] - seconds)
    left = np.abs(read_s[np.maximum(after - 1, 0)] - seconds)
    nearest: FloatArray = np.minimum(left, right)
    return nearest


def _away_min(each: Share, at_s: float) -> float:
    return float(near_to(np.array([at_s]), each.read_s)[0]) / 60


def charge(shares: Sequence[Share], index: int, at_s: float) -> Charge | None:
    """Who is in charge at a sample, at_s: its instant [s]; None where nothing was read."""
    if not shares:
        return None
    ranked = sorted(shares, key=lambda each: -float(each.share[index]))
    first, own = ranked[0], shares[0]
    found = Charge(first.source, _away_min(first, at_s), float(first.share[index]))
    if own is first:
        return found
    return replace(found, instead_of=own.source, instead_min=_away_min(own, at_s))
