"""A mix as it would be: its ribbon over the forecast, with the stopping time as a line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from curewatch.bench.track import minimums
from curewatch.bench.views import BenchView, StepView
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.starts.windows import Window
from curewatch.walltime import to_ms
from dashboard.figures.palette import Figure, Screen, faded, palette
from dashboard.figures.ribbons.axis import choose
from dashboard.figures.ribbons.figure import picture
from dashboard.figures.ribbons.lanes import RibbonRoom
from dashboard.figures.ribbons.of_step import lane_of

HEIGHT_PX = {"garage": 330.0, "desk": 250.0, "phone": 250.0}
_FIGURE_SHARE = 0.81
NOW = "Mixed now"
_NEAR = timedelta(hours=12)


@frozen
class ProposedDrawing:
    """The mix as it would be; heated: the same with the heat that is asked about; the bench it
    joins; stop_at: until when the user works; window: in which it may be mixed to be in time."""

    view: StepView
    heated: StepView | None
    bench: BenchView
    stop_at: datetime | None
    window: Window | None = None


def _stop(drawn: ProposedDrawing, say: ReaderFormat, screen: Screen, font_px: float) -> Figure:
    """The stopping time as a line over the whole height, with its words at the foot."""
    assert drawn.stop_at is not None
    at, colour = to_ms(drawn.stop_at), palette(screen.theme)["stop"]
    pen = {"color": colour, "width": max(2.0, font_px / 9), "dash": "dash"}
    shape = {"type": "line", "x0": at, "x1": at, "yref": "paper", "y0": 0, "y1": 1, "line": pen}
    note = {
        "text": f"you stop {say.clock(drawn.stop_at)}",
        "x": at,
        "yref": "paper",
        "y": 1,
        "xanchor": "right",
        "yanchor": "top",
        "showarrow": False,
        "font": {"color": colour, "size": font_px * 0.85},
        "bgcolor": palette(screen.theme)["bg"],
    }
    return {"shape": shape, "note": note}


def _window(
    window: Window, last: datetime, say: ReaderFormat, screen: Screen, font_px: float
) -> Iterator[tuple[str, Figure]]:
    """When it may be mixed, shaded, and the latest start as a line with its words."""
    colour, end = palette(screen.theme)["ready"], min(window.end, last)
    place = {"yref": "paper", "y0": 0, "y1": 1}
    spell = {"type": "rect", "x0": to_ms(window.start), "x1": to_ms(end), "layer": "below"}
    yield "shapes", spell | place | {"line": {"width": 0}, "fillcolor": faded(colour, 0.2)}
    if window.end > last:
        return
    pen = {"color": palette(screen.theme)["window-mark"], "width": max(3.0, font_px / 7)}
    yield "shapes", {"type": "line", "x0": to_ms(end), "x1": to_ms(end), "line": pen} | place
    yield (
        "annotations",
        {
            "text": f"mix by {say.clock(end)}",
            "x": to_ms(end),
            "yref": "paper",
            "y": 0,
            "xanchor": "left",
            "yanchor": "bottom",
            "showarrow": False,
            "font": {"color": palette(screen.theme)["fg"], "size": font_px * 0.85},
            "bgcolor": palette(screen.theme)["bg"],
        },
    )


def _tonight(window: Window | None, now: datetime) -> datetime | None:
    """The latest start where it is near enough to be shown beside a mix of now."""
    return window.end if window and window.end - now < _NEAR else None


def figure(drawn: ProposedDrawing, say: ReaderFormat, screen: Screen) -> Figure:
    """The ribbon with the temperature under it."""
    now, alone = drawn.bench.now, replace(drawn.bench, steps=(drawn.view,))
    track = drawn.bench.track
    own = replace(track, minimums=minimums([drawn.view])) if track else None
    wide = screen.width_px if screen.layout == "phone" else screen.width_px / _FIGURE_SHARE
    room = RibbonRoom(wide, HEIGHT_PX[screen.layout], screen)
    lane = replace(lane_of(drawn.view, NOW, now, say, drawn.heated), href="", detail="")
    stretch = choose(alone)
    last = drawn.stop_at or _tonight(drawn.window, now)
    if last and stretch[0] < last:
        stretch = stretch[0], max(stretch[1], last)
    ribbon = picture([lane], stretch, now, room, say, own).figure
    if drawn.stop_at and drawn.stop_at <= stretch[1]:
        stop = _stop(drawn, say, screen, room.font_px)
        ribbon["layout"]["shapes"].append(stop["shape"])
        ribbon["layout"]["annotations"].append(stop["note"])
    if drawn.window and drawn.window.start < stretch[1]:
        for kind, piece in _window(drawn.window, stretch[1], say, screen, room.font_px):
            ribbon["layout"][kind].append(piece)
    return ribbon
