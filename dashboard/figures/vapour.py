"""Vapour in the room, building up while it is given off and clearing after, with its limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor, log10

from curewatch.durations import duration
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.protection.airing import Airing, course
from curewatch.protection.ventilation import Level
from dashboard.figures.lines import limit, line, panel_title
from dashboard.figures.palette import Figure, Screen, axis, faded, ground, palette

HEIGHT_EM = 21.0
READER = "reader"
_STEPS_MIN = (5, 10, 15, 30, 60, 120, 180, 240, 360, 720, 1440, 2880)


@frozen
class VapourDrawing:
    """What the figure is made of: an airing with a level, the reader's format, the screen."""

    airing: Airing
    level: Level
    say: ReaderFormat
    screen: Screen

    @property
    def unit(self) -> str:
        """What the level is counted in."""
        return "mg/m³" if self.level.ppm is None else "ppm"

    @property
    def limits(self) -> list[tuple[float, str]]:
        """The limits that can be drawn, each with its words. [ppm]"""
        vapour_limit = self.level.limit
        if vapour_limit is None:
            return []
        shift = f"{self._figure(vapour_limit.lowest_ppm)} ppm exposure limit"
        fire = f"{self._figure(vapour_limit.fire_ppm)} ppm, a tenth of the explosive limit"
        return [(vapour_limit.lowest_ppm, shift), (vapour_limit.fire_ppm, fire)]

    def _figure(self, value: float) -> str:
        return f"{float(f'{value:.3g}'):g}".replace(".", self.say.decimal)

    def hover(self, at_min: float, value: float) -> str:
        """A moment of the curve in words. at_min [min], value [ppm or mg/m3]"""
        over = self.level.over_min
        when = duration(at_min) if at_min <= over else f"{duration(at_min - over)} after the last"
        text = f"{when}: about {self._figure(float(f'{value:.2g}'))} {self.unit}"
        limits = self.limits
        if limits and value > limits[0][0]:
            text += f"<br>{self._figure(float(f'{value / limits[0][0]:.2g}'))} times the limit"
        return text


def _above(times: Sequence[float], values: Sequence[float], most: float) -> tuple[float, float]:
    """From when to when the level is above a limit; the same twice where it never is. [min]"""
    over = [at for at, value in zip(times, values, strict=True) if value > most]
    return (over[0], over[-1]) if over else (0.0, 0.0)


def _curves(drawn: VapourDrawing, least: float) -> Iterator[Figure]:
    times, values, still = course(drawn.airing)
    colours, px = palette(drawn.screen.theme), drawn.screen.font_px
    shown = [max(value, least / 10) for value in values]
    yield line(
        times, [max(value, least / 10) for value in still], colours["dim"], "dot", "y", px / 9
    )
    yield line(times, shown, colours["fg"], "solid", "y", max(2.5, px / 7))
    yield {
        "type": "scatter",
        "mode": "markers",
        "name": READER,
        "x": times,
        "y": shown,
        "text": [drawn.hover(at, value) for at, value in zip(times, values, strict=True)],
        "hovertemplate": "%{text}<extra></extra>",
        "marker": {"opacity": 0, "size": 1},
    }


def _cleared(drawn: VapourDrawing, least: float) -> Iterator[Figure]:
    """When so many percent are gone, on the falling side."""
    colours, px = palette(drawn.screen.theme), drawn.screen.font_px
    most = drawn.level.mg_m3 if drawn.level.ppm is None else drawn.level.ppm
    for share, left, side in (("90", 0.1, "top right"), ("99", 0.01, "bottom left")):
        assert drawn.airing.purge is not None
        at_min = drawn.level.over_min + drawn.airing.purge[share]
        yield {
            "type": "scatter",
            "mode": "markers+text",
            "x": [at_min],
            "y": [max(most * left, least)],
            "text": [f" {share} % gone "],
            "textposition": side,
            "textfont": {"color": colours["fg"], "size": px},
            "marker": {"color": colours["fg"], "size": px * 0.5},
            "hoverinfo": "skip",
            "cliponaxis": False,
        }


def _range(drawn: VapourDrawing, values: Sequence[float]) -> tuple[float, float]:
    """The least and the most of the axis. [ppm or mg/m3]"""
    tops = [max(values), *(value for value, _ in drawn.limits)]
    feet = [max(values) / 100, *(value / 3 for value, _ in drawn.limits[:1])]
    return min(feet) / 2, max(tops) * 2.5


def _time_marks(end_min: float, most: int) -> list[float]:
    step = next((minutes for minutes in _STEPS_MIN if end_min / minutes <= most), _STEPS_MIN[-1])
    return [float(step * number) for number in range(floor(end_min / step) + 1)]


def _axes(drawn: VapourDrawing, times: Sequence[float], least: float, most: float) -> Figure:
    screen = drawn.screen
    px = screen.font_px
    marks = _time_marks(times[-1], max(2, round(screen.width_px / (px * 7))))
    powers = range(ceil(log10(least)), floor(log10(most)) + 1)
    x = axis(screen, range=[0, times[-1] * 1.02], tickmode="array", tickvals=marks)
    x["ticktext"] = [duration(at) if at else "start" for at in marks]
    y = axis(screen, type="log", range=[log10(least), log10(most)], tickmode="array")
    y |= {"tickvals": [10.0**power for power in powers], "tickfont": {"size": px}}
    y["ticktext"] = [f"{10**power:g}".replace(".", drawn.say.decimal) for power in powers]
    return {"xaxis": x, "yaxis": y}


def figure(drawn: VapourDrawing) -> Figure:
    """The whole figure, as plain data for plotly."""
    screen = drawn.screen
    px, colours, layout = screen.font_px, palette(screen.theme), ground(screen)
    times, values, _ = course(drawn.airing)
    least, most = _range(drawn, values)
    layout["height"] = round(HEIGHT_EM * px)
    layout["shapes"].append(_stretch(0, drawn.level.over_min, faded(colours["amber"], 0.16)))
    for value, text in drawn.limits:
        shape, note = limit(value, "y", colours["stop"], text, screen)
        layout["shapes"].append(shape)
        layout["annotations"].append(note | {"y": log10(value)})
    if drawn.limits:  # beside the stretch of work, where the curve is far from it
        layout["annotations"][0] |= {"xref": "x", "x": drawn.level.over_min}
        layout["annotations"][0] |= {"xanchor": "left", "yanchor": "top"}
    layout["annotations"] += [
        panel_title(f"{drawn.level.solvent}, {drawn.unit}, mean of the room", 1),
        _without_fan(drawn),
    ]
    layout |= _axes(drawn, times, least, most)
    layout["margin"] = {"l": px * 3.4, "r": px * 0.8, "t": px * 1.7, "b": px * 1.9}
    layout |= {"hovermode": "x", "hoverdistance": -1, "dragmode": False}
    return {"data": [*_curves(drawn, least), *_cleared(drawn, least)], "layout": layout}


def _stretch(start: float, end: float, colour: str) -> Figure:
    return {
        "type": "rect",
        "yref": "paper",
        "x0": start,
        "x1": end,
        "y0": 0,
        "y1": 1,
        "line": {"width": 0},
        "fillcolor": colour,
        "layer": "below",
    }


def _without_fan(drawn: VapourDrawing) -> Figure:
    """The name of the dotted line, under its right end."""
    _, _, still = course(drawn.airing)
    return {
        "text": "without the fan",
        "xref": "paper",
        "x": 1,
        "y": log10(still[-1]),
        "yref": "y",
        "xanchor": "right",
        "yanchor": "top",
        "showarrow": False,
        "font": {"size": drawn.screen.font_px * 0.9},
    }


def above_min(airing: Airing) -> float:
    """How long the mean of the room is above the strictest limit found. [min]"""
    times, values, _ = course(airing)
    level = airing.level
    if level is None or level.limit is None:
        return 0.0
    start, end = _above(times, values, level.limit.lowest_ppm)
    return end - start
