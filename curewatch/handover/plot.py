"""What was measured along one step, gaps left as gaps, and its small drawing."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from html import escape

from curewatch.climate.psychrometrics import dew_point_spread_c
from curewatch.climate.reading import AIR_PLACE, Quantity, Reading
from curewatch.frozen import frozen

POINTS = 240
LEAST_BUCKET_S = 60.0
GAP_BUCKETS = 3.0
LEAST_GAP_H = 0.75
WIDTH, LEFT, RIGHT = 680, 52, 10
TEMPERATURE = (8.0, 88.0)
SPREAD = (110.0, 150.0)
HEIGHT = 170
SURFACE_COLOUR, AIR_COLOUR, SPREAD_COLOUR, LIMIT_COLOUR = "#0072B2", "#777777", "#B34A00", "#444444"
Point = tuple[float, float]


@frozen
class Trace:
    """Points (hours since mixing [h], value) of surface_c and air_c [C] and of spread_k [K];
    length_h: of the whole stretch [h]."""

    length_h: float
    surface_c: tuple[Point, ...]
    air_c: tuple[Point, ...]
    spread_k: tuple[Point, ...]

    @property
    def empty(self) -> bool:
        """Whether nothing at all was measured."""
        return not (self.surface_c or self.air_c)


def bucket_s(start: datetime, end: datetime) -> float:
    """How coarsely a stretch is read for a drawing. [s]"""
    return max(LEAST_BUCKET_S, (end - start).total_seconds() / POINTS)


def trace(
    readings: Sequence[Reading], start: datetime, end: datetime, place: str = "panel"
) -> Trace:
    """What was measured at a place between two instants, the spread where all of it was there."""
    width = bucket_s(start, end)
    buckets_of: dict[tuple[str, Quantity], dict[int, Reading]] = defaultdict(dict)
    for reading in readings:
        if start <= reading.at <= end and not reading.flag:
            bucket = int((reading.at - start).total_seconds() // width)
            buckets_of[reading.place, reading.quantity][bucket] = reading

    def of(quantity: Quantity, places: Sequence[str]) -> dict[int, Reading]:
        return next((buckets for at in places if (buckets := buckets_of.get((at, quantity)))), {})

    skin = of("surface_temperature", [place])
    room = of("air_temperature", [place, AIR_PLACE])
    damp = of("relative_humidity", [place, AIR_PLACE])
    metal = skin or room
    spread = tuple(
        (
            _hours(metal[at], start),
            dew_point_spread_c(metal[at].value, room[at].value, damp[at].value),
        )
        for at in sorted(metal.keys() & room.keys() & damp.keys())
    )
    length_h = (end - start).total_seconds() / 3600
    return Trace(length_h, _points(skin, start), _points(room, start), spread)


def _hours(reading: Reading, start: datetime) -> float:
    return (reading.at - start).total_seconds() / 3600


def _points(bucket_readings: dict[int, Reading], start: datetime) -> tuple[Point, ...]:
    return tuple(
        (_hours(bucket_readings[at], start), bucket_readings[at].value)
        for at in sorted(bucket_readings)
    )


def pieces(points: Sequence[Point], gap_h: float) -> Iterator[list[Point]]:
    """The points cut wherever nothing was heard for longer. gap_h [h]"""
    piece: list[Point] = []
    for point in points:
        if piece and point[0] - piece[-1][0] > gap_h:
            yield piece
            piece = []
        piece.append(point)
    if piece:
        yield piece


def nice_step(span: float, most: int) -> float:
    """A round step that cuts a span into at most so many pieces. [unit of span]

    >>> nice_step(7.0, 4), nice_step(36.0, 8), nice_step(0.4, 4)
    (2.0, 5.0, 0.1)
    """
    rough = max(span, 1e-9) / most
    power: float = 10.0 ** math.floor(math.log10(rough))
    return next(round(step * power, 9) for step in (1, 2, 5, 10) if step * power >= rough - 1e-12)


@frozen
class _Scale:
    """From hours and values to the drawing's units."""

    length_h: float
    low: float
    high: float
    top: float
    bottom: float

    def x(self, hours: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * hours / self.length_h

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return self.bottom - (self.bottom - self.top) * share


def _scale(points: Sequence[Point], also: float, length_h: float, box: Point) -> _Scale:
    values = [*(value for _, value in points), also]
    low, high = min(values), max(values)
    step = nice_step(max(high - low, 4.0), 3)
    return _Scale(
        length_h, math.floor(low / step) * step, math.ceil(high / step + 0.01) * step, *box
    )


def _line(points: Sequence[Point], scale: _Scale, gap_h: float, colour: str, dash: str) -> str:
    drawn = []
    for piece in pieces(points, gap_h):
        moves = " ".join(f"{scale.x(h):.1f},{scale.y(v):.1f}" for h, v in piece)
        if len(piece) == 1:
            x, y = moves.split(",")
            drawn.append(f'<circle cx="{x}" cy="{y}" r="1.6" fill="{colour}"/>')
        else:
            drawn.append(
                f'<polyline points="{moves}" fill="none" stroke="{colour}" stroke-width="1.6"'
                f' stroke-dasharray="{dash}"/>'
            )
    return "".join(drawn)


def _text(x: float, y: float, words: str, anchor: str = "end", colour: str = "#333333") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="10" fill="{colour}">'
        f"{escape(words)}</text>"
    )


def _across(y: float, colour: str, dash: str = "") -> str:
    return (
        f'<line x1="{LEFT}" x2="{WIDTH - RIGHT}" y1="{y:.1f}" y2="{y:.1f}" stroke="{colour}"'
        f' stroke-width="0.7" stroke-dasharray="{dash}"/>'
    )


def _marks(scale: _Scale, say: Callable[[float], str]) -> str:
    step = nice_step(scale.high - scale.low, 3)
    count = round((scale.high - scale.low) / step)
    values = [scale.low + step * index for index in range(count + 1)]
    return "".join(
        _across(scale.y(value), "#dddddd") + _text(LEFT - 5, scale.y(value) + 3.5, say(value))
        for value in values
        if value <= scale.high + 1e-9
    )


def _hour_marks(length_h: float) -> str:
    minutes = length_h < 2
    step = nice_step(length_h * 60, 8) / 60 if minutes else max(1.0, nice_step(length_h, 8))
    scale, drawn = _Scale(length_h, 0, 1, *SPREAD), ""
    for index in range(int(length_h / step + 1e-9) + 1):
        words = f"{round(index * step * 60)} min" if minutes else f"{index * step:g} h"
        x = scale.x(index * step)
        anchor = "end" if x > WIDTH - RIGHT - 12 else "middle"
        drawn += _text(x, HEIGHT - 6, words, anchor)
    return drawn


def drawing(
    trace: Trace,
    least_c: float,
    spread_k: float,
    temperature: Callable[[float], str],
    difference: Callable[[float], str],
) -> str:
    """A step's temperature over its spread above the dew point, as SVG; '' where nothing was heard.

    least_c: the product's minimum [C]; spread_k: the least spread [K]; temperature, difference:
    how values are said.
    """
    if trace.empty or trace.length_h <= 0:
        return ""
    gap_h = max(LEAST_GAP_H, GAP_BUCKETS * trace.length_h / POINTS)
    upper = _scale([*trace.surface_c, *trace.air_c], least_c, trace.length_h, TEMPERATURE)
    lower = _scale(trace.spread_k, spread_k, trace.length_h, SPREAD)
    parts = [
        _marks(upper, temperature),
        _across(upper.y(least_c), LIMIT_COLOUR, "5 3"),
        _line(trace.air_c, upper, gap_h, AIR_COLOUR, "2 2"),
        _line(trace.surface_c, upper, gap_h, SURFACE_COLOUR, ""),
    ]
    if trace.spread_k:
        parts += [
            _marks(lower, difference),
            _across(lower.y(spread_k), LIMIT_COLOUR, "5 3"),
            _line(trace.spread_k, lower, gap_h, SPREAD_COLOUR, ""),
        ]
    else:
        parts.append(
            _text(LEFT, 132, "no gap to the dew point: humidity or air was not measured", "start")
        )
    parts.append(_hour_marks(trace.length_h))
    label = "Temperature and gap to the dew point, hours since mixing"
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{label}">'
        f"{''.join(parts)}</svg>"
    )
