"""The chance to be in time by when it is mixed: steps of a tenth over the starts ahead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from curewatch.formats import MOST_TENTHS, ReaderFormat, tenths
from curewatch.frozen import frozen
from curewatch.starts.windows import SURE
from curewatch.walltime import to_ms
from dashboard.figures.lines import limit, line
from dashboard.figures.palette import Figure, Screen, axis, faded, ground, palette
from dashboard.figures.ticks import time_axis, time_ticks

READER = "reader"
HEIGHT_PX = {"garage": 250.0, "desk": 170.0, "phone": 150.0}
_MARGINS_EM = {"l": 0.4, "r": 0.4, "t": 0.6, "b": 1.8}
_BEYOND, _MOST_POINTS = timedelta(hours=1), 300


@frozen
class StartPoint:
    """A start with its chance [-], None where it must not be mixed, and what it says when it is
    touched (hover)."""

    at: datetime
    chance: float | None
    hover: str

    @property
    def tenths(self) -> int | None:
        """The chance in tenths, rounded down."""
        return None if self.chance is None else tenths(self.chance)


@frozen
class StartsDrawing:
    """What is drawn: every start, for this reader and this screen."""

    every: Sequence[StartPoint]
    say: ReaderFormat
    screen: Screen

    @property
    def starts(self) -> Sequence[StartPoint]:
        """The starts that are drawn: an hour further than there is any chance."""
        last = max((point.at for point in self.every if point.tenths), default=self.every[0].at)
        seen = [point for point in self.every if point.at <= last + _BEYOND]
        return seen[:: 1 + len(seen) // _MOST_POINTS]


def _steps(drawn: StartsDrawing, colour: str, share: float, *, sure: bool) -> Figure:
    """The chances as steps, filled; sure: only those that reach what is asked."""
    rows = drawn.starts
    shares = [None if sure and (point.chance or 0) < SURE else point.tenths for point in rows]
    wide = max(2.0, drawn.screen.font_px / 9)
    figure = line([to_ms(point.at) for point in rows], shares, colour, "solid", "y", wide)
    figure["line"]["shape"] = "hv"
    return figure | {"fill": "tozeroy", "fillcolor": faded(colour, share)}


def _reader(drawn: StartsDrawing) -> Figure:
    """An unseen line that says the chance of a start."""
    rows = drawn.starts
    return {
        "type": "scatter",
        "mode": "markers",
        "name": READER,
        "x": [to_ms(point.at) for point in rows],
        "y": [point.tenths or 0 for point in rows],
        "text": [point.hover for point in rows],
        "hoverinfo": "none",
        "marker": {"opacity": 0, "size": 1},
    }


def _forbidden(drawn: StartsDrawing) -> Iterator[Figure]:
    """The spells in which it must not be mixed, shaded."""
    colours, rows = palette(drawn.screen.theme), drawn.starts
    for point, following in pairwise(rows):
        if point.chance is None:
            shape: Figure = {"type": "rect", "yref": "paper"}
            shape |= {"x0": to_ms(point.at), "x1": to_ms(following.at)}
            shape |= {"y0": 0, "y1": 1, "line": {"width": 0}, "layer": "below"}
            yield shape | {"fillcolor": faded(colours["stop"], 0.22)}


def _axes(drawn: StartsDrawing) -> Figure:
    rows, screen = drawn.starts, drawn.screen
    start, end = rows[0].at, rows[-1].at + timedelta(minutes=1)
    most = max(2, round(screen.width_px / screen.font_px / 6))
    inset = (end - start) / 30
    marks = time_ticks(start + inset, end - inset, most, drawn.say)
    spike = {"showspikes": True, "spikemode": "across", "spikesnap": "hovered data"}
    spike |= {"spikedash": "solid", "spikethickness": max(2.0, screen.font_px / 8)}
    spike |= {"spikecolor": palette(screen.theme)["fg"]}
    return {
        "xaxis": time_axis(screen, start, end, marks, **spike),
        "yaxis": axis(screen, range=[0, 10], showgrid=False, showticklabels=False),
    }


def figure(drawn: StartsDrawing) -> Figure:
    """The whole picture."""
    colours, screen = palette(drawn.screen.theme), drawn.screen
    layout = ground(screen)
    levels = [
        limit(most, "y", colours[colour], f"{most} in 10", screen)
        for most, colour in ((MOST_TENTHS, "window-mark"), (5, "dim"))
    ]
    layout["shapes"] = [*_forbidden(drawn), *(shape for shape, _ in levels)]
    layout["annotations"] = [note for _, note in levels]
    layout |= _axes(drawn)
    layout |= {
        "height": HEIGHT_PX[screen.layout],
        "margin": {side: round(screen.font_px * em) for side, em in _MARGINS_EM.items()},
        "hovermode": "x",
        "hoverdistance": -1,
        "dragmode": False,
    }
    traces = [
        _steps(drawn, colours["outlook"], 0.28, sure=False),
        _steps(drawn, colours["ready"], 0.6, sure=True),
        _reader(drawn),
    ]
    return {"data": traces, "layout": layout}
