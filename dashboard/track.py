"""The panel's temperature under the ribbons: measured, outlook, least temperatures, dew."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from html import escape

from curewatch.bench.views import Track
from curewatch.notice_words import sentences
from curewatch.wording import words
from curewatch.wording.words import ReaderFormat
from dashboard.axis import Axis
from dashboard.drawing import Size, cut, text_px


@dataclass(frozen=True)
class Scale:
    """Temperatures [C] to pixels between top and foot. [px]"""

    low_c: float
    high_c: float
    top: float
    foot: float

    def y(self, value_c: float) -> float:
        """Where a temperature stands. [px]"""
        share = (value_c - self.low_c) / (self.high_c - self.low_c)
        return self.foot - share * (self.foot - self.top)


def _visible(
    axis: Axis, times: Sequence[datetime], values: Sequence[float]
) -> list[tuple[datetime, float]]:
    return [(at, value) for at, value in zip(times, values, strict=True) if axis.shows(at)]


def scale(track: Track, axis: Axis, top: float, foot: float) -> Scale:
    """The range that shows all that is on the axis, minimums included, 4 K at least."""
    seen = [v for _, v in _visible(axis, track.times, track.surface_c)]
    for values in (track.cool_c, track.warm_c):
        seen += [v for _, v in _visible(axis, track.ahead_times, values)]
    middle = sum(seen) / len(seen) if seen else 20.0
    seen += [c for _, c in track.minimums if abs(c - middle) < 15]
    low, high = min(seen, default=18.0), max(seen, default=22.0)
    spare = max(4.0 - (high - low), 1.2) / 2
    return Scale(low - spare, high + spare, top, foot)


def _line(axis: Axis, held: Scale, points: Sequence[tuple[datetime, float]]) -> str:
    return " ".join(f"{axis.x(at):.1f},{held.y(value):.1f}" for at, value in points)


def _outlook_word(
    axis: Axis, held: Scale, likely: Sequence[tuple[datetime, float]], track: Track, size: Size
) -> str:
    """The outlook's name beside its beginning, where it is clear of the least temperatures."""
    at, value = likely[0]
    font, left = size.font_px * 0.86, axis.x(at) + size.font_px * 0.5
    taken = [held.y(each) for _, each in track.minimums]
    for base in (held.y(value) - font * 0.45, held.y(value) + font * 1.25):
        inside = held.top < base - font and base < held.foot - 4
        clear = all(not line - font * 1.6 < base < line + font * 2.3 for line in taken)
        if inside and clear and left + text_px("outlook", font) < axis.right:
            return (
                f'<text class="tick outlook-word" x="{left:.1f}" y="{base:.1f}" '
                f'font-size="{font:.1f}">outlook</text>'
            )
    return ""


def _band(axis: Axis, held: Scale, track: Track, size: Size) -> str:
    cool = _visible(axis, track.ahead_times, track.cool_c)
    warm = _visible(axis, track.ahead_times, track.warm_c)
    likely = _visible(axis, track.ahead_times, track.likely_c)
    edge = f"{_line(axis, held, warm)} {_line(axis, held, cool[::-1])}"
    if not likely:
        return ""
    return (
        f'<polygon class="outlook" points="{edge}"/>'
        f'<polyline class="likely" points="{_line(axis, held, likely)}"/>'
        f"{_outlook_word(axis, held, likely, track, size)}"
    )


def _dew(axis: Axis, track: Track, top: float, foot: float) -> str:
    drawn = []
    for start, end in track.dew:
        left, right = axis.x(start), axis.x(end)
        if right - left < 1:
            continue
        box = f'x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{foot - top:.1f}"'
        drawn.append(f'<rect {box} class="dew"/>')
    return "".join(drawn)


def _dew_words(axis: Axis, track: Track, size: Size, top: float) -> str:
    """Written last: the outlook's line goes behind them."""
    drawn = []
    for start, end in track.dew:
        left, right = axis.x(start), axis.x(end)
        if right - left > text_px("dew risk", size.font_px) + 8:
            drawn.append(
                f'<text class="dew-word" x="{right - 6:.1f}" y="{top + size.font_px:.1f}" '
                f'text-anchor="end" font-size="{size.font_px * 0.9:.1f}">dew risk</text>'
            )
    return "".join(drawn)


def _minimum_words(sharing: Sequence[str], value_c: float, manner: ReaderFormat) -> str:
    names = words.short(sharing[0]) if len(sharing) == 1 else f"{len(sharing)} products"
    return f"{manner.temperature(value_c, 0)}: minimum of {names}"


def _word_x(axis: Axis, track: Track, font: float, said: str) -> float:
    """Where a least temperature's words begin: near the left, right of the now-line where that
    would go through them. [px]"""
    usual, wide = axis.left + font * 3.6, text_px(said, font)
    now = axis.x(track.ahead_times[0]) if track.ahead_times else axis.left
    after = now + font * 0.5
    crossed = usual - font * 0.5 < now < usual + wide
    return after if crossed and after + wide < axis.right else usual


def _minimums(axis: Axis, held: Scale, track: Track, size: Size, manner: ReaderFormat) -> str:
    drawn, font, used = [], size.font_px * 0.86, list[float]()
    by_value: dict[float, list[str]] = {}
    for name, value in track.minimums:
        by_value.setdefault(round(value, 1), []).append(name)
    for value in sorted(by_value, reverse=True):
        if not held.low_c < value < held.high_c:
            continue
        y = held.y(value)
        said = cut(_minimum_words(by_value[value], value, manner), font, axis.right - axis.left)
        below = y + font * 1.05
        base = below if below < held.foot else y - font * 0.35
        drawn.append(f'<path class="minimum" d="M{axis.left:.1f} {y:.1f}H{axis.right:.1f}"/>')
        if all(abs(base - other) > font * 1.1 for other in used):
            used.append(base)
            place = f'x="{_word_x(axis, track, font, said):.1f}" y="{base:.1f}"'
            drawn.append(
                f'<text class="minimum-word" {place} font-size="{font:.1f}">{escape(said)}</text>'
            )
    return "".join(drawn)


def _mark_x(axis: Axis, track: Track, font: float) -> float:
    """Where temperatures are written: on the left edge, but clear of a now-line that stands there
    and of the word beside it. [px]"""
    usual = axis.left + 4
    now = axis.x(track.ahead_times[0]) if track.ahead_times else axis.left
    crossed = usual - 4 < now < usual + font * 2
    return now + font + text_px("outlook", font * 1.1) if crossed else usual


def _marks(axis: Axis, held: Scale, track: Track, size: Size, manner: ReaderFormat) -> str:
    """Two or three temperatures written on the left edge."""
    low, high = manner.degrees(held.low_c), manner.degrees(held.high_c)
    room = max((held.foot - held.top) / (size.font_px * 1.6), 1)
    step = next((s for s in (1, 2, 5, 10, 20) if (high - low) / s <= room), 50)
    drawn, font = [], size.font_px * 0.8
    x = _mark_x(axis, track, font)
    for mark in range(math.ceil(low / step) * step, math.floor(high) + 1, step):
        value_c = mark if manner.unit == "C" else (mark - 32) * 5 / 9
        y = held.y(value_c)
        lines = [held.y(each) for _, each in track.minimums]
        clear = all(abs(y - line) > font for line in lines)
        if clear and held.top + font < y < held.foot - font * 0.4:
            drawn.append(
                f'<text class="tick" x="{x:.1f}" y="{y + font * 0.35:.1f}" '
                f'font-size="{font:.1f}">{manner.number(mark, 0)}°</text>'
            )
    return "".join(drawn)


def _name(track: Track, size: Size, top: float) -> str:
    if not size.label_px:
        return ""
    font, small = size.font_px * 1.12, size.font_px * 0.82
    said = "not measured"
    if track.times:
        by_air = track.led is not None and track.led.source.quantity == "air_temperature"
        said = "from the air" if by_air else "measured"
    return (
        f'<text class="part" x="0" y="{top + font * 1.3:.1f}" font-size="{font:.1f}">'
        f"{escape(cut(track.place, font, size.label_px - 8))}</text>"
        f'<text class="detail" x="0" y="{top + font * 1.3 + small * 1.3:.1f}" '
        f'font-size="{small:.1f}">{said}</text>'
    )


def _said(track: Track, manner: ReaderFormat) -> str:
    if not track.surface_c:
        return f"{track.place}: nothing measured. {sentences(track.basis, manner)}"
    now = manner.temperature(track.surface_c[-1])
    return f"{track.place}: {now} now. {sentences(track.basis, manner)}"


def temperature(
    track: Track, axis: Axis, size: Size, manner: ReaderFormat, between: tuple[float, float]
) -> str:
    """The temperature's drawing between top and foot [px], on the ribbons' axis."""
    top, foot = between
    held = scale(track, axis, top, foot)
    measured = _visible(axis, track.times, track.surface_c)
    line = f'<polyline class="measured" points="{_line(axis, held, measured)}"/>'
    return (
        f'<g role="img" aria-label="{escape(_said(track, manner), quote=True)}">'
        f'<path class="edge" d="M{axis.left:.1f} {top:.1f}H{axis.right:.1f}M{axis.left:.1f} '
        f'{foot:.1f}H{axis.right:.1f}"/>{_dew(axis, track, top, foot)}'
        f"{_band(axis, held, track, size)}{line if measured else ''}"
        f"{_minimums(axis, held, track, size, manner)}{_marks(axis, held, track, size, manner)}"
        f"{_dew_words(axis, track, size, top)}"
        f"{_name(track, size, top)}</g>"
    )
