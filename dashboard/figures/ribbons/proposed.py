"""A mix as it would be: its ribbon over the forecast, with the stopping time as a line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from curewatch.bench.track import minimums
from curewatch.bench.views import BenchView, StepView
from curewatch.formats import ReaderFormat
from curewatch.walltime import to_ms
from dashboard.figures.palette import Figure, Screen, palette
from dashboard.figures.ribbons.axis import choose
from dashboard.figures.ribbons.figure import picture
from dashboard.figures.ribbons.lanes import RibbonRoom
from dashboard.figures.ribbons.of_step import lane_of

HEIGHT_PX = {"garage": 330.0, "desk": 250.0, "phone": 250.0}
_FIGURE_SHARE = 0.81
NOW = "Mixed now"


@dataclass(frozen=True)
class ProposedDrawing:
    """The mix as it would be; heated: the same with the heat that is asked about; the bench it
    joins; stop_at: until when the user works."""

    view: StepView
    heated: StepView | None
    bench: BenchView
    stop_at: datetime | None


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


def figure(drawn: ProposedDrawing, say: ReaderFormat, screen: Screen) -> Figure:
    """The ribbon with the temperature under it."""
    now, alone = drawn.bench.now, replace(drawn.bench, steps=(drawn.view,))
    track = drawn.bench.track
    own = replace(track, minimums=minimums([drawn.view])) if track else None
    wide = screen.width_px if screen.layout == "phone" else screen.width_px / _FIGURE_SHARE
    room = RibbonRoom(wide, HEIGHT_PX[screen.layout], screen)
    lane = replace(lane_of(drawn.view, NOW, now, say, drawn.heated), href="", detail="")
    stretch = choose(alone)
    if drawn.stop_at and stretch[0] < drawn.stop_at:
        stretch = stretch[0], max(stretch[1], drawn.stop_at)
    found = picture([lane], stretch, now, room, say, own).figure
    if drawn.stop_at and drawn.stop_at <= stretch[1]:
        stop = _stop(drawn, say, screen, room.font_px)
        found["layout"]["shapes"].append(stop["shape"])
        found["layout"]["annotations"].append(stop["note"])
    return found
