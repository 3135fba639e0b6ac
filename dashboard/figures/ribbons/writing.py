"""The words on and over ribbons, and the flag of now, as plotly annotations."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from curewatch.formats import ReaderFormat
from curewatch.walltime import to_ms
from dashboard.figures.palette import Figure, Screen, faded, palette
from dashboard.figures.ribbons.axis import Axis
from dashboard.figures.ribbons.lanes import RibbonRoom, RibbonRow, flag_px, place_ms
from dashboard.figures.ribbons.lettering import Word, divided, fitting, placed, words_of
from dashboard.figures.ribbons.segments import Segment
from dashboard.figures.sizes import text_px


def note(text: str, x: float, y: float, font_px: float, colour: str, **more: object) -> Figure:
    """Bold words in the middle of a place. [ms], [px]"""
    font = {"size": round(font_px, 1), "color": colour, "weight": 700}
    return {"text": text, "x": x, "y": y, "showarrow": False, "font": font, **more}


def word_lists(
    segments: tuple[Segment, ...], axis: Axis, font_px: float
) -> tuple[list[Word], list[Word]]:
    """The words of a ribbon that stand inside it, and those that need room over it."""
    return divided(words_of(axis, segments), font_px)


def _ms(axis: Axis, x_px: float) -> float:
    return round(place_ms(axis.start, axis.span_s, axis.right, x_px))


def inside(row: RibbonRow, axis: Axis, screen: Screen) -> Iterator[Figure]:
    """The words that fit into their stretch, on a plate."""
    colours = palette(screen.theme)
    font = min(row.font_px, row.bar_height * (0.72 if row.lane.otherwise else 0.92))
    within, _ = word_lists(row.lane.segments, axis, font)
    middle = row.bar_top + row.bar_height * (0.27 if row.lane.otherwise else 0.5)
    font = font * 0.62 if row.lane.otherwise else font
    for word in within:
        plate = {"bgcolor": faded(colours["bg"], 0.88), "borderpad": 1 if row.dense else 3}
        yield note(word.text, _ms(axis, word.middle), middle, font, colours["fg"], **plate)


def above(row: RibbonRow, axis: Axis, screen: Screen) -> Iterator[tuple[Figure, Figure]]:
    """The words of narrow stretches, over the bar, each with the line that leads to its stretch."""
    colours, font = palette(screen.theme), row.font_px
    _, over = word_lists(row.lane.segments, axis, font)
    words = [] if row.dense else fitting(over, font, axis.right - axis.left)
    for word, start in zip(words, placed(words, font, axis.left, axis.right), strict=True):
        half = text_px(word.text, font) / 2
        foot = _ms(axis, start + min(half, font))
        pen = {"color": colours["fg"], "width": 1.5}
        line = {"type": "line", "x0": foot, "x1": _ms(axis, word.middle), "line": pen}
        line |= {"y0": row.bar_top - 4, "y1": row.bar_top + 6}
        y, plate = row.bar_top - font * 0.75, {"bgcolor": faded(colours["bg"], 0.75)}
        yield note(word.text, _ms(axis, start + half), y, font, colours["fg"], **plate), line


def flag(
    now: datetime, axis: Axis, foot: float, say: ReaderFormat, room: RibbonRoom
) -> list[Figure]:
    """The line of now, the veil over what is ahead, and the time on its flag: shapes, then the
    annotation. [px]"""
    colours, font = palette(room.screen.theme), room.font_px
    text, at = say.clock(now), to_ms(now)
    half = flag_px(text, font) / 2
    middle = min(max(axis.x(now), half), axis.right - half)
    pen = {"color": colours["fg"], "width": 3}
    line = {"type": "line", "x0": at, "x1": at, "y0": font * 1.2, "y1": foot, "line": pen}
    plate = {"bgcolor": colours["fg"], "borderpad": 2}
    return [line, note(text, _ms(axis, middle), font * 0.72, font, colours["bg"], **plate)]


def veil(now: datetime, until: datetime, row: RibbonRow, screen: Screen) -> Figure:
    """What lies ahead stands lighter."""
    share = 0.3 if screen.theme == "dark" else 0.35
    return {
        "type": "rect",
        "x0": to_ms(now),
        "x1": to_ms(until),
        "y0": row.bar_top,
        "y1": row.bar_top + row.bar_height,
        "line": {"width": 0},
        "fillcolor": faded(palette(screen.theme)["bg"], share),
    }
