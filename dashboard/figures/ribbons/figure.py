"""Ribbons over one time axis, the temperature under them, as a plotly figure. Pure.

Time runs in milliseconds since 1970 on a linear axis with our own marks, so that no zone and no
change of the clock is plotly's; heights are pixels from the top.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from curewatch.bench.views import Track
from curewatch.formats import ReaderFormat
from curewatch.walltime import to_ms
from dashboard.figures.palette import Figure, ground
from dashboard.figures.palette import axis as plain_axis
from dashboard.figures.ribbons import axis as axes
from dashboard.figures.ribbons import course
from dashboard.figures.ribbons.axis import Axis, Stretch
from dashboard.figures.ribbons.bands import reach_of, ribbon
from dashboard.figures.ribbons.lanes import RibbonLane, RibbonRoom, Rows, rows
from dashboard.figures.ribbons.writing import above, flag, inside, veil, word_lists
from dashboard.figures.ticks import time_axis


class RibbonPicture(NamedTuple):
    """The figure without its names, and where the rows are, beside which the names stand. [px]"""

    figure: Figure
    rows: Rows


def _axes(axis: Axis, placed: Rows, room: RibbonRoom, say: ReaderFormat) -> Figure:
    marks = axes.ticks(axis, say, room.font_px * 5)
    half = room.font_px * 1.2
    shown = [(to_ms(at), text) for at, text in marks if half < axis.x(at) < axis.right - half]
    foot = placed.height - room.axis_px
    across = time_axis(
        room.screen,
        axis.start,
        axis.end,
        shown,
        fixedrange=room.screen.layout == "phone",
        tickfont={"size": round(room.font_px, 1)},
    )
    down = plain_axis(room.screen, range=[foot, 0], showgrid=False, showticklabels=False)
    return {"xaxis": across, "yaxis": down}


def _layout(axis: Axis, placed: Rows, room: RibbonRoom, say: ReaderFormat) -> Figure:
    """The ground with its axes; it can be dragged and zoomed, but not on the phone."""
    figure = ground(room.screen)
    figure["font"] = figure["font"] | {"size": room.font_px}
    figure["hoverlabel"]["font"] = figure["hoverlabel"]["font"] | {"size": room.font_px * 0.8}
    figure |= {"width": round(axis.right), "height": round(placed.height)}
    figure |= {"margin": {"l": 0, "r": 0, "t": 0, "b": round(room.axis_px)}}
    figure |= {"hovermode": "closest", "hoverdistance": 12}
    figure |= {"dragmode": False if room.screen.layout == "phone" else "pan"}
    return figure | _axes(axis, placed, room, say)


def _rows(lanes: Sequence[RibbonLane], axis: Axis, room: RibbonRoom, track: Track | None) -> Rows:
    callouts = [
        bool(word_lists(ribbon_lane.segments, axis, room.font_px)[1]) for ribbon_lane in lanes
    ]
    return rows(lanes, callouts, room, track=track is not None)


def picture(
    lanes: Sequence[RibbonLane],
    stretch: Stretch,
    now: datetime,
    room: RibbonRoom,
    say: ReaderFormat,
    track: Track | None = None,
) -> RibbonPicture:
    """Lanes over a stretch of time as a plotly figure; the names are the page's to write."""
    axis = Axis(*stretch, 0.0, room.width - room.names_px)
    placed, reach, screen = _rows(lanes, axis, room, track), reach_of(*stretch), room.screen
    figure = _layout(axis, placed, room, say)
    traces = [trace for row in placed.rows for trace in ribbon(row, reach, screen)]
    figure["shapes"] += [veil(now, reach[1], row, screen) for row in placed.rows]
    for row in placed.rows:
        for note, leader in above(row, axis, screen):
            figure["annotations"].append(note)
            figure["shapes"].append(leader)
        figure["annotations"] += inside(row, axis, screen)
    if track and placed.track:
        track = course.within(track, reach)
        scale = course.heights(track, axis, *placed.track)
        traces += course.traces(track, scale, screen, say)
        figure["shapes"] += course.shapes(track, scale, reach, screen)
        figure["annotations"] += course.notes(track, scale, axis, room, say)
    line, time = flag(now, axis, placed.height - room.axis_px, say, room)
    figure["shapes"].append(line)
    figure["annotations"].append(time)
    return RibbonPicture({"data": traces, "layout": figure}, placed)
