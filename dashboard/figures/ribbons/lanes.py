"""What a ribbon shows and where it stands: lanes in rows, each with its name beside or over it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

from curewatch.frozen import frozen
from dashboard.figures.palette import Screen
from dashboard.figures.ribbons.segments import Segment
from dashboard.figures.sizes import text_px

_FONT_PX = {"garage": 31.0, "desk": 16.0, "phone": 15.0}
_LEAST_FONT_PX = 14.0
_TRACK_PX = {"garage": 118.0, "desk": 84.0, "phone": 84.0}
_TRACK_LANES, _LEAST_TRACK_EM, _LANE_EM = 6, 2.4, 1.6
_BAR_PX, _MOST_LANE_EM = 26.0, 6.5


@frozen
class RibbonLane:
    """One ribbon: its name, a line more about it, its stretches, what each of them says when it is
    touched, where a touch leads, and its stretches as they would be otherwise."""

    name: str
    detail: str
    segments: tuple[Segment, ...]
    hover: tuple[str, ...]
    href: str = ""
    otherwise: tuple[Segment, ...] = ()


@frozen
class RibbonRoom:
    """The room of the whole picture, its names included, on a screen. [px]"""

    width: float
    height: float
    screen: Screen

    @property
    def font_px(self) -> float:
        """Letters where there is room for them: in the garage as wide as the screen lets. [px]"""
        usual = _FONT_PX[self.screen.layout]
        return min(usual, max(self.width / 54, 18.0)) if self.screen.layout == "garage" else usual

    @property
    def names_px(self) -> float:
        """How wide the column of names is; 0: they stand over their ribbons. [px]"""
        if self.screen.layout == "phone":
            return 0.0
        # a window that is being made larger may be measured while it is narrower than the names
        return round(min(max(self.width * 0.19, 250.0), self.width / 2))

    @property
    def axis_px(self) -> float:
        """How high the flag of now is, and the times under the ribbons. [px]"""
        return self.font_px * 1.25


@frozen
class RibbonRow:
    """Where a lane's name and its bar stand; dense: no word stands over the bar. [px]"""

    lane: RibbonLane
    top: float
    height: float
    bar_top: float
    bar_height: float
    font_px: float
    dense: bool


@frozen
class Rows:
    """All rows, the room for the temperature under them (from, to), and the height. [px]"""

    rows: tuple[RibbonRow, ...]
    track: tuple[float, float] | None
    height: float


def _phone(lanes: Sequence[RibbonLane], room: RibbonRoom, track: bool) -> Rows:
    """Every step a row with its name; as high as it needs."""
    font, top = room.font_px, room.axis_px + 6
    rows = []
    for lane in lanes:
        name = font * 1.5
        high = name + _BAR_PX + font * 0.8
        rows.append(RibbonRow(lane, top, high, top + name, _BAR_PX, font, True))
        top += high
    foot = top + (_TRACK_PX["phone"] if track else 0.0)
    return Rows(tuple(rows), (top + 4, foot) if track else None, foot + room.axis_px)


def rows(
    lanes: Sequence[RibbonLane], callouts: Sequence[bool], room: RibbonRoom, *, track: bool
) -> Rows:
    """The lanes in rows of even bars. callouts: which lanes have a word over their bar; track:
    whether the temperature is to be drawn, for which there is room under few lanes."""
    if room.screen.layout == "phone":
        return _phone(lanes, room, track)
    top, foot = room.axis_px, room.height - room.axis_px
    usual = _TRACK_PX[room.screen.layout] * room.font_px / _FONT_PX[room.screen.layout]
    least, lane_px = _LEAST_TRACK_EM * room.font_px, _LANE_EM * room.font_px
    with_track = min(_TRACK_LANES, math.floor((foot - top - least) / lane_px))
    tracked = track and len(lanes) <= with_track
    split = max(foot - usual, min(top + len(lanes) * lane_px, foot - least)) if tracked else foot
    count = max(len(lanes), 1)
    even = min((split - top) / count, room.font_px * _MOST_LANE_EM)
    if track and not tracked and with_track > 0:
        # one lane more, for which the temperature gives way, is not taller than those above it
        even = min(even, max(foot - top - usual, with_track * lane_px) / with_track)
    dense = even < room.font_px * 2.5
    font = max(min(room.font_px, even * 0.96), _LEAST_FONT_PX)
    heads = [font * 1.3 if above and not dense else 0.0 for above in callouts]
    gap = max(even * 0.12, 3.0)
    bar = max((even * count - sum(heads)) / count - gap, font * 0.5)
    ribbon_rows = []
    for lane, head in zip(lanes, heads, strict=True):
        ribbon_rows.append(RibbonRow(lane, top, head + bar + gap, top + head, bar, font, dense))
        top += head + bar + gap
    return Rows(tuple(ribbon_rows), (top + 6, foot) if tracked else None, room.height)


def name_fits(row: RibbonRow) -> bool:
    """Whether a second line has room under the name."""
    return row.bar_height > row.font_px * 2.2


def place_ms(start: datetime, span_s: float, width_px: float, x_px: float) -> float:
    """Which instant stands at a place on the axis. [ms]"""
    return start.timestamp() * 1000 + x_px / width_px * span_s * 1000


def flag_px(text: str, font_px: float) -> float:
    """How wide the flag of now is. [px]"""
    return text_px(text, font_px) + font_px * 0.5
