"""A ribbon as plotly traces: soft edges, patterns, and stretches that can be touched."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

from curewatch.walltime import to_ms
from dashboard.figures.palette import Figure, Screen, faded, palette
from dashboard.figures.ribbons.lanes import RibbonRow
from dashboard.figures.ribbons.segments import Segment

_STOPS = 9
_PATTERN_STEPS = ((0.35, 0.3), (0.7, 0.65))
_PATTERNS: dict[str, dict[str, Any]] = {
    "clamped": {"shape": ".", "size": 9, "solidity": 0.3},
    "setting": {"shape": "/", "size": 14, "solidity": 0.32},
    "ready": {"path": "M1,2h9v2.6h-9Z M11,9h8v2.6h-8Z", "size": 20},
    "window": {"shape": "\\", "size": 20, "solidity": 0.13},
    "shut": {"shape": "x", "size": 14, "solidity": 0.2},
    "cured": {"shape": "-", "size": 10, "solidity": 0.16},
    "stalled": {"path": "M0,13l6,-6 6,6 6,-6 6,6v3l-6,-6 -6,6 -6,-6 -6,6Z", "size": 24},
}
Reach = tuple[datetime, datetime]


def box(left: float, right: float, top: float, foot: float) -> Figure:
    """A filled rectangle without a border. [ms], [px]"""
    return {
        "type": "scatter",
        "mode": "lines",
        "x": [left, right, right, left],
        "y": [top, top, foot, foot],
        "fill": "toself",
        "line": {"width": 0},
        "hoverinfo": "skip",
    }


def _scale(colour: str, share: float) -> list[list[Any]]:
    """The colour coming in over a share of the width as certainty does: by the normal
    distribution, of which the edge's two ends are the 5 % and the 95 %."""
    if share <= 0.002:
        return [[0, faded(colour, 1)], [1, faded(colour, 1)]]
    stops = []
    for number in range(_STOPS):
        place = number / (_STOPS - 1)
        cover = 0.5 * (1 + math.erf((place * 2 - 1) * 1.645 / math.sqrt(2)))
        stops.append([round(place * share, 5), faded(colour, round(cover, 3))])
    stops[0][1], stops[-1][1] = faded(colour, 0), faded(colour, 1)
    return [*stops, [1, faded(colour, 1)]]


def ends(segment: Segment, reach: Reach) -> tuple[datetime, datetime, datetime]:
    """Where a stretch begins to come in, is wholly there, and has gone; within a reach of time."""
    left = max(segment.start.early, reach[0])
    right = min(segment.end.late, reach[1]) if segment.end else reach[1]
    return left, min(max(segment.start.late, left), max(right, left)), max(right, left)


def stretch(
    segment: Segment, top: float, foot: float, reach: Reach, screen: Screen
) -> Iterator[Figure]:
    """The colour and the pattern of a stretch between two heights. [px]"""
    left, full, right = (to_ms(moment) for moment in ends(segment, reach))
    if right <= left:
        return
    colours = palette(screen.theme)
    scale = _scale(colours[segment.kind], (full - left) / (right - left))
    gradient = {"type": "horizontal", "colorscale": scale}
    yield box(left, right, top, foot) | {"fillgradient": gradient}
    if segment.kind in _PATTERNS:
        mark = colours.get(f"{segment.kind}-mark", colours["dim"])
        yield from _pattern(segment.kind, mark, (left, full, right), (top, foot))


def _pattern(
    kind: str, mark: str, places: tuple[int, int, int], heights: tuple[float, float]
) -> Iterator[Figure]:
    """The marks of a stretch, coming in by steps as its colour does."""
    left, full, right = places
    shares = [*_PATTERN_STEPS, (1.0, 1.0)] if full > left else [(0.0, 1.0)]
    begins = [left + (full - left) * share for share, _ in shares]
    for place, (begin, end) in enumerate(zip(begins, [*begins[1:], right], strict=True)):
        if end > begin:
            look = {"fgcolor": mark, "bgcolor": "rgba(0,0,0,0)", "fgopacity": shares[place][1]}
            yield box(begin, end, *heights) | {"fillpattern": _PATTERNS[kind] | look}


def touched(row: RibbonRow, reach: Reach) -> Iterator[Figure]:
    """Unseen boxes from the middle of one soft edge to the next: they tell, and lead on."""
    lane = row.lane
    for segment, text in zip(lane.segments, lane.hover, strict=True):
        begin = _middle(segment.start.early, segment.start.late)
        end = _middle(segment.end.early, segment.end.late) if segment.end else reach[1]
        left, right = to_ms(max(begin, reach[0])), to_ms(min(end, reach[1]))
        if right > left:
            spot = box(left, right, row.bar_top, row.bar_top + row.bar_height)
            yield spot | {
                "fillcolor": "rgba(0,0,0,0)",
                "hoveron": "fills",
                "hoverinfo": "text",
                "text": text,
                "meta": lane.href,
            }


def _middle(early: datetime, late: datetime) -> datetime:
    return early + (late - early) / 2


def ribbon(row: RibbonRow, reach: Reach, screen: Screen) -> Iterator[Figure]:
    """A lane's whole ribbon; how it would be otherwise stands in its lower half, apart."""
    top, foot = row.bar_top, row.bar_top + row.bar_height
    split = foot - row.bar_height * 0.46 if row.lane.otherwise else foot
    for segment in row.lane.segments:
        yield from stretch(segment, top, split, reach, screen)
    for segment in row.lane.otherwise:
        yield from stretch(segment, split + row.bar_height * 0.08, foot, reach, screen)
    yield from touched(row, reach)


def reach_of(start: datetime, end: datetime) -> Reach:
    """How far ribbons are drawn beyond an axis, so that it can be dragged."""
    spare = max(end - start, timedelta(hours=1))
    return start - spare, end + spare
