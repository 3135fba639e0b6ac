"""The panel's temperature under the ribbons: measured, forecast, least temperatures, dew."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from curewatch.bench.views import Track
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.walltime import to_ms
from curewatch.wording import words
from dashboard.figures.lines import area, line
from dashboard.figures.palette import Figure, Screen, faded, palette
from dashboard.figures.ribbons.axis import Axis
from dashboard.figures.ribbons.lanes import RibbonRoom
from dashboard.figures.sizes import cut, text_px

_NEAR_C, _LEAST_RANGE_C, _MOST_POINTS = 15.0, 4.0, 160


@frozen
class Heights:
    """Temperatures [C] to pixels between top and foot. [px]"""

    low_c: float
    high_c: float
    top: float
    foot: float

    def y(self, value_c: float) -> float:
        """Where a temperature stands. [px]"""
        share = (value_c - self.low_c) / (self.high_c - self.low_c)
        return round(self.foot - share * (self.foot - self.top), 1)

    def shows(self, value_c: float) -> bool:
        """Whether a temperature is within the range."""
        return self.low_c < value_c < self.high_c


def within(track: Track, reach: tuple[datetime, datetime]) -> Track:
    """The track as far as it may be seen, in so many points that a line is drawn by them."""
    seen = [n for n, at in enumerate(track.times) if reach[0] <= at <= reach[1]]
    ahead = [n for n, at in enumerate(track.ahead_times) if reach[0] <= at <= reach[1]]
    seen, ahead = (numbers[:: max(1, len(numbers) // _MOST_POINTS)] for numbers in (seen, ahead))
    return replace(
        track,
        times=tuple(track.times[n] for n in seen),
        surface_c=tuple(track.surface_c[n] for n in seen),
        ahead_times=tuple(track.ahead_times[n] for n in ahead),
        likely_c=tuple(track.likely_c[n] for n in ahead),
        cool_c=tuple(track.cool_c[n] for n in ahead),
        warm_c=tuple(track.warm_c[n] for n in ahead),
    )


def heights(track: Track, axis: Axis, top: float, foot: float) -> Heights:
    """The range that shows all that is on the axis, near minimums too, 4 K at least."""
    seen = [v for at, v in zip(track.times, track.surface_c, strict=True) if axis.shows(at)]
    for values in (track.cool_c, track.warm_c):
        seen += [v for at, v in zip(track.ahead_times, values, strict=True) if axis.shows(at)]
    middle = sum(seen) / len(seen) if seen else 20.0
    seen += [value for _, value in track.minimums if abs(value - middle) < _NEAR_C]
    low, high = min(seen, default=18.0), max(seen, default=22.0)
    spare = max(_LEAST_RANGE_C - (high - low), 1.2) / 2
    return Heights(low - spare, high + spare, top, foot)


def traces(track: Track, heights: Heights, screen: Screen, say: ReaderFormat) -> Iterator[Figure]:
    """The measured line, then the likely one in its band, then what the arrow keys read."""
    colours, wide = palette(screen.theme), max(2.0, screen.font_px / 9)
    ahead = [to_ms(at) for at in track.ahead_times]
    if ahead:
        cool, warm, likely = (
            [heights.y(value) for value in values]
            for values in (track.cool_c, track.warm_c, track.likely_c)
        )
        yield area(ahead, cool, warm) | {"fillcolor": faded(colours["outlook"], 0.28)}
        yield line(ahead, likely, colours["outlook"], "dash", "y", wide)
    seen = [to_ms(at) for at in track.times]
    yield line(seen, [heights.y(c) for c in track.surface_c], colours["fg"], "solid", "y", wide)
    yield _reader(track, heights, say)


def _reader(track: Track, heights: Heights, say: ReaderFormat) -> Figure:
    points = [
        *((at, value, "") for at, value in zip(track.times, track.surface_c, strict=True)),
        *((at, v, ", forecast") for at, v in zip(track.ahead_times, track.likely_c, strict=True)),
    ]
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "reader",
        "x": [to_ms(at) for at, _, _ in points],
        "y": [heights.y(value) for _, value, _ in points],
        "text": [f"{say.clock(at)}: {say.temperature(v)}{more}" for at, v, more in points],
        "hovertemplate": "%{text}<extra></extra>",
        "marker": {"opacity": 0, "size": 1},
    }


def shapes(
    track: Track, heights: Heights, reach: tuple[datetime, datetime], screen: Screen
) -> list[Figure]:
    """Spells of dew risk, the least temperatures as dotted lines, and the edges."""
    colours = palette(screen.theme)
    first, last = (to_ms(moment) for moment in reach)
    drawn = [
        {
            "type": "rect",
            "x0": to_ms(start),
            "x1": to_ms(end),
            "y0": heights.top,
            "y1": heights.foot,
            "line": {"width": 0},
            "fillcolor": faded(colours["dew"], 0.32),
            "layer": "below",
        }
        for start, end in track.dew
    ]
    for value in sorted({round(least, 1) for _, least in track.minimums}):
        if heights.shows(value):
            pen = {"color": colours["stop"], "width": 2.5, "dash": "dot"}
            drawn.append(_level(heights.y(value), first, last, pen))
    for y in (heights.top, heights.foot):
        drawn.append(_level(y, first, last, {"color": colours["rule"], "width": 1}))
    return drawn


def _level(y: float, left: float, right: float, pen: Figure) -> Figure:
    return {
        "type": "line",
        "x0": left,
        "x1": right,
        "y0": y,
        "y1": y,
        "line": pen,
        "layer": "below",
    }


def _minimum_words(names: Sequence[str], value_c: float, say: ReaderFormat) -> str:
    shown = words.short_name(names[0]) if len(names) == 1 else f"{len(names)} products"
    stop = "stops" if len(names) == 1 else "stop"
    return f"below {say.temperature(value_c, 0)} {shown} {stop} curing"


def _beside_now(track: Track, axis: Axis, wide_px: float, usual_px: float) -> float:
    """Where words begin: near the left, right of the line of now where that would go through
    them. [px]"""
    now = axis.x(track.ahead_times[0]) if track.ahead_times else axis.left
    crossed = usual_px - 8 < now < usual_px + wide_px
    return now + 12 if crossed and now + 12 + wide_px < axis.right else usual_px


def notes(
    track: Track, heights: Heights, axis: Axis, room: RibbonRoom, say: ReaderFormat
) -> Iterator[Figure]:
    """The least temperatures and dew risk in words, and the marks of the scale."""
    colours, font = palette(room.screen.theme), room.font_px
    plate = faded(colours["bg"], 0.75)
    used = list[float]()
    by_value: dict[float, list[str]] = {}
    for name, value in track.minimums:
        by_value.setdefault(round(value, 1), []).append(name)
    for value in sorted(filter(heights.shows, by_value), reverse=True):
        y = heights.y(value)
        base = y + font * 0.75 if y + font * 1.2 < heights.foot else y - font * 0.7
        if all(abs(base - other) > font * 1.15 for other in used):
            used.append(base)
            text = cut(_minimum_words(by_value[value], value, say), font, axis.right - font * 4)
            left = _beside_now(track, axis, text_px(text, font), font * 3)
            yield _text(text, axis, left, base, font, colours["stop"]) | {"bgcolor": plate}
    yield from _dew_words(track, heights, axis, font, colours["fg"], used)
    for text, y in _marks(heights, font, say, used):
        left = _beside_now(track, axis, text_px(text, font), 4)
        yield _text(text, axis, left, y, font, colours["dim"]) | {"bgcolor": plate}


def _text(text: str, axis: Axis, left_px: float, y: float, font: float, colour: str) -> Figure:
    """Words from a place on. [px]"""
    at = axis.start.timestamp() * 1000 + left_px / axis.right * axis.span_s * 1000
    figure = {"text": text, "x": round(at), "y": y, "xanchor": "left", "showarrow": False}
    return figure | {"font": {"size": round(font, 1), "color": colour}, "borderpad": 0}


def _dew_words(
    track: Track, heights: Heights, axis: Axis, font: float, colour: str, used: Sequence[float]
) -> Iterator[Figure]:
    y = heights.top + font * 0.7
    if any(abs(y - other) < font * 1.15 for other in used):
        return
    for start, end in track.dew:
        left, right = axis.x(start), axis.x(end)
        wide = text_px("dew risk", font)
        if right - left > wide + 16:
            yield _text("dew risk", axis, right - wide - 6, y, font, colour)


def _marks(
    heights: Heights, font: float, say: ReaderFormat, used: Sequence[float]
) -> Iterator[tuple[str, float]]:
    """Two or three temperatures for the left edge, each with its height. [px]"""
    low, high = say.degrees(heights.low_c), say.degrees(heights.high_c)
    room = max((heights.foot - heights.top) / (font * 2), 1)
    step = next((degrees for degrees in (1, 2, 5, 10, 20) if (high - low) / degrees <= room), 50)
    for mark in range(math.ceil(low / step) * step, math.floor(high) + 1, step):
        y = heights.y(mark if say.unit == "C" else (mark - 32) * 5 / 9)
        clear = all(abs(y - other) > font * 1.1 for other in used)
        if clear and heights.top + font * 0.6 < y < heights.foot - font * 0.6:
            yield f"{say.number(mark, 0)}°", y
