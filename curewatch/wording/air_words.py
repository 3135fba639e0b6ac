"""Sentences about a stretch of the air: its lines, each moment of it, its spells and its steps."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

import numpy as np

from curewatch.bench.views import Track
from curewatch.climate.series import Interval
from curewatch.durations import duration
from curewatch.formats import ReaderFormat
from curewatch.logbook.air_history import GAP, AirCourse, AirHistory
from curewatch.store.readings import FlaggedSpan
from curewatch.store.store import StepSummary
from curewatch.units import minutes
from curewatch.walltime import from_ms
from curewatch.wording import sensor_words, words

SPANS = {"24h": "24 h", "7d": "7 days", "30d": "30 days", "year": "A year", "all": "All"}
FORECAST = "forecast, 9 in 10 within the band"
NOTHING = "Nothing was measured at that time."


def name(place: str, quantity: str) -> str:
    """What a line of the figure is called."""
    if quantity == GAP:
        return "above dew point"
    if quantity == "relative_humidity":
        return "humidity"
    if quantity == "surface_temperature":
        return "surface" if place == "panel" else f"surface, {place}"
    return place


def moment(at: datetime, history: AirHistory, say: ReaderFormat) -> str:
    """An instant as a point of the figure stands for it: with its day, or as one of days."""
    if history.bucket_s >= 86_400:
        first, last = (at + side * timedelta(seconds=history.bucket_s / 2) for side in (-1, 1))
        last -= timedelta(hours=1)
        days = (
            say.day(first) if history.bucket_s == 86_400 else f"{say.day(first)} to {say.day(last)}"
        )
        return f"{days} {say.local(last).year}"
    return f"{say.local(at):%a} {say.day(at)}, {say.clock(at)}"


def _between(course: AirCourse, index: int, say: ReaderFormat) -> str:
    """A value of a point, with its least and most where these differ."""
    low, mean, high = (float(band[index]) for band in (course.low, course.mean, course.high))
    value = words.value(say, course.quantity, mean)
    if high - low < 0.15:
        return value
    least, most = (words.bare(say, course.quantity, value) for value in (low, high))
    return f"{value} ({least} to {most})"


def readouts(history: AirHistory, say: ReaderFormat) -> list[tuple[int, str]]:
    """What each point with a value says when it is touched: its number, its lines."""
    texts = []
    for index, at_s in enumerate(history.times):
        measured = [course for course in history.courses if not math.isnan(course.mean[index])]
        if measured:
            lines = [f"{name(e.place, e.quantity)} {_between(e, index, say)}" for e in measured]
            when = moment(from_ms(round(at_s * 1000)), history, say)
            texts.append((index, "<br>".join((when, *lines))))
    return texts


def ahead(track: Track, index: int, say: ReaderFormat) -> str:
    """What a point of the forecast says when it is touched."""
    at = track.ahead_times[index]
    values = (track.likely_c[index], track.cool_c[index], track.warm_c[index])
    likely, cool, warm = (say.temperature(value) for value in values)
    when = f"{say.local(at):%a} {say.day(at)}, {say.clock(at)}"
    return f"{when}<br>forecast {likely}<br>between {cool} and {warm} (9 in 10)"


def flagged(span: FlaggedSpan, say: ReaderFormat, now: datetime) -> tuple[str, str]:
    """A reading that is not used, and its reason."""
    value = words.value(say, span.quantity, span.value)
    many = f", {span.count} readings" if span.count > 1 else ""
    reason = sensor_words.flag(span.flag, span.quantity, say, now)
    reading = f"{say.moment(span.first, now)}, {span.source}: {value}{many}"
    return reading, f"flagged, not used: {reason}"


def step(
    work: StepSummary, names: Mapping[str, str], say: ReaderFormat, now: datetime
) -> tuple[str, str]:
    """A step with what it was made with, and when it was on the bench."""
    made = names.get(work.row.sheet, work.row.sheet)
    title = f"{work.part}: {made}" if work.part else made
    until = f" to {say.moment(work.row.closed_at, now)}" if work.row.closed_at else ", on the bench"
    return title, f"mixed {say.moment(work.row.mixed_at, now)}{until}"


def _total(spells: Sequence[Interval], history: AirHistory) -> str:
    """How long spells lasted in all; in buckets of hours and days each may have been shorter."""
    total = duration(sum(minutes(spell.end - spell.start) for spell in spells))
    return f"for {total} in all" if history.bucket_s < 3600 else f"for at most {total} in all"


def _range(course: AirCourse, say: ReaderFormat) -> str:
    low, high = float(np.nanmin(course.low)), float(np.nanmax(course.high))
    least, most = (words.value(say, course.quantity, value) for value in (low, high))
    return (
        f"{name(course.place, course.quantity)} {least if least == most else f'{least} to {most}'}"
    )


def summary(history: AirHistory, say: ReaderFormat) -> str:
    """What the figure shows, in words."""
    if not history.courses:
        return NOTHING
    sentences = [f"{'; '.join(_range(course, say) for course in history.courses)}."]
    sentences[0] = sentences[0][0].upper() + sentences[0][1:]
    if history.of("surface_temperature"):
        limit = say.temperature(history.limit_c, 0)
        under = f"Below {limit} {_total(history.below, history)}" if history.below else ""
        sentences.append(f"{under or f'Never below {limit}'}.")
    if history.of(GAP):
        near = f"less than {say.difference(3, 0)} above dew point"
        text = f"{near} {_total(history.damp, history)}" if history.damp else f"never {near}"
        sentences.append(f"{text[0].upper()}{text[1:]}.")
    if history.bucket_s >= 3600:
        bucket = duration(history.bucket_s / 60)
        sentences.append(
            f"Each point is the mean of {bucket}; the shade around a line is least to most."
        )
    return " ".join(sentences)
