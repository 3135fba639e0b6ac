"""Pieces of a figure over time: lines with their shade, stretches shaded, limits."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np

from curewatch.climate.psychrometrics import FloatArray
from curewatch.climate.series import Interval
from curewatch.logbook.air_history import AirCourse, AirHistory
from curewatch.walltime import to_ms
from dashboard.figures.palette import Figure, Screen, faded, palette

_MOST_SPELLS = 400


def soft_ribbon(
    x: tuple[float, float], y: tuple[float, float], deepest: float, upright: bool, colour: str
) -> Figure:
    """A prediction from early to late, palest there. deepest: where on its way it is likely [-];
    upright: whether it goes upwards."""
    shades = ((0.0, 0.2), (min(max(deepest, 0.0), 1.0), 0.75), (1.0, 0.2))
    scale = [[round(place, 4), faded(colour, share)] for place, share in shades]
    way = "vertical" if upright else "horizontal"
    return {
        "type": "scatter",
        "mode": "lines",
        "x": [x[0], x[1], x[1], x[0]],
        "y": [y[0], y[0], y[1], y[1]],
        "fill": "toself",
        "fillgradient": {"type": way, "colorscale": scale},
        "line": {"width": 0},
        "hoveron": "fills",
        "hoverinfo": "text",
    }


def _numbers(values: FloatArray, turn: Callable[[float], float]) -> list[float | None]:
    return [None if np.isnan(value) else round(turn(float(value)), 2) for value in values]


def _runs(values: np.ndarray[Any, np.dtype[np.bool_]]) -> Iterator[slice]:
    """The stretches of buckets that hold something."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], values.astype(int), [0]))))
    yield from (slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True))


def _bridged(values: FloatArray, most: int) -> FloatArray:
    """The values with short gaps bridged, so that a sensor that reports seldom draws a line."""
    measured = np.flatnonzero(~np.isnan(values))
    if measured.size < 2:
        return values
    numbers = np.arange(values.size)
    filled: FloatArray = np.interp(numbers, measured, values[measured], np.nan, np.nan)
    behind = numbers - measured[np.searchsorted(measured, numbers, "right").clip(1) - 1]
    ahead = measured[np.searchsorted(measured, numbers).clip(None, measured.size - 1)] - numbers
    filled[behind + ahead > most] = np.nan
    return filled


def line(
    x: Sequence[float], y: Sequence[float | None], colour: str, dash: str, yaxis: str, width: float
) -> Figure:
    """A line that says nothing itself when touched. width [px]"""
    return {
        "type": "scatter",
        "mode": "lines",
        "x": list(x),
        "y": list(y),
        "line": {"color": colour, "dash": dash, "width": width},
        "hoverinfo": "skip",
        "yaxis": yaxis,
    }


def panel_title(text: str, top: float) -> Figure:
    """The title of a panel above its left corner. top: share of the figure's height [-]"""
    return {
        "text": text,
        "xref": "paper",
        "yref": "paper",
        "x": 0,
        "y": top,
        "xanchor": "left",
        "yanchor": "bottom",
        "showarrow": False,
    }


def area(x: Sequence[float], low: Sequence[float], high: Sequence[float]) -> Figure:
    """A shade between two lines."""
    return {
        "type": "scatter",
        "mode": "lines",
        "x": [*x, *x[::-1]],
        "y": [*high, *low[::-1]],
        "fill": "toself",
        "line": {"width": 0},
        "hoverinfo": "skip",
    }


def course(
    history: AirHistory,
    course: AirCourse,
    turn: Callable[[float], float],
    look: tuple[str, str, str],
    screen: Screen,
) -> Iterator[Figure]:
    """One quantity: its shade from least to most, its line, and points that stand alone."""
    colour, dash, yaxis = look
    x = [round(time_ * 1000) for time_ in history.times]
    mean = _bridged(course.mean, max(2, round(1800 / history.bucket_s)))
    if np.nanmax(course.high - course.low) > 0:
        for run in _runs(~np.isnan(course.mean)):
            low, high = ([turn(float(e)) for e in side[run]] for side in (course.low, course.high))
            shade = area(x[run], [round(e, 2) for e in low], [round(e, 2) for e in high])
            yield shade | {"fillcolor": faded(colour, 0.16), "yaxis": yaxis}
    yield line(x, _numbers(mean, turn), colour, dash, yaxis, max(2.0, screen.font_px / 8))
    alone = [run.start for run in _runs(~np.isnan(mean)) if run.stop - run.start == 1]
    if alone:
        dots = line([x[n] for n in alone], _numbers(mean[alone], turn), colour, dash, yaxis, 0)
        size = screen.font_px * 0.55
        yield dots | {"mode": "markers", "marker": {"color": colour, "size": size}}


def shades(spells: Sequence[Interval], yref: str, colour: str) -> list[Figure]:
    """Spells as shades over the height of a panel, behind its lines."""
    return [
        {
            "type": "rect",
            "xref": "x",
            "yref": f"{yref} domain",
            "x0": to_ms(interval.start),
            "x1": to_ms(interval.end),
            "y0": 0,
            "y1": 1,
            "line": {"width": 0},
            "fillcolor": colour,
            "layer": "below",
        }
        for interval in spells[:_MOST_SPELLS]
    ]


def limit(value: float, yref: str, colour: str, text: str, screen: Screen) -> tuple[Figure, Figure]:
    """A limit as a dotted line with its words above its right end."""
    pen = {"color": colour, "width": max(1.5, screen.font_px / 12), "dash": "dot"}
    shape = {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "yref": yref}
    shape |= {"y0": value, "y1": value, "line": pen, "layer": "below"}
    note = {"text": text, "xref": "paper", "x": 1, "yref": yref, "y": value, "showarrow": False}
    note |= {"xanchor": "right", "yanchor": "bottom"}
    note |= {"bgcolor": faded(palette(screen.theme)["bg"], 0.75), "borderpad": 1}
    return shape, note | {"font": {"color": colour, "size": screen.font_px * 0.9}}
