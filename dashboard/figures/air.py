"""The air's history in one figure: temperatures, gap to the dew point, humidity, steps."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime

import numpy as np

from curewatch.bench.views import Track
from curewatch.climate.psychrometrics import NEAR_DEW_K
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.logbook.air_history import GAP, AirCourse, AirHistory
from curewatch.store.store import StepSummary
from curewatch.walltime import to_ms
from curewatch.wording import air_words
from dashboard.figures.lines import area, course, limit, line, panel_title, shades
from dashboard.figures.palette import Figure, Screen, axis, faded, ground, palette
from dashboard.figures.steps import MOST_LANES, bars
from dashboard.figures.ticks import time_axis, time_ticks

_SHARES = {"temperature": 5.0, GAP: 2.2, "relative_humidity": 1.8, "steps": 0.5}
_LANE_SHARE, _BETWEEN = 0.42, 0.075
_LEAST_RANGE_C = 4.0
READER = "reader"


@frozen
class AirDrawing:
    """What a figure of the air is made of, beside the history: the present, the forecast, the
    products' names by id, how this reader likes figures, and the screen."""

    now: datetime
    track: Track | None
    names: Mapping[str, str]
    say: ReaderFormat
    screen: Screen


def styles(courses: Sequence[AirCourse]) -> list[tuple[AirCourse, str, str]]:
    """Each line of the temperatures with its colour's name and its dash, so that they differ in
    both."""
    surfaces = iter((("fg", "solid"), ("link", "longdash")))
    styled = []
    for air_course in courses:
        if air_course.quantity == "surface_temperature":
            styled.append((air_course, *next(surfaces)))
        elif air_course.quantity == "air_temperature":
            styled.append(
                (
                    air_course,
                    *(("dim", "dot") if air_course.place == "outdoors" else ("amber", "dash")),
                )
            )
    return styled


class _Panels:
    """Which quantity stands where, from the top: its axis, and its share of the height."""

    def __init__(self, history: AirHistory, lanes: int) -> None:
        quantities = {"temperature", *(air_course.quantity for air_course in history.courses)}
        names = [name for name in _SHARES if name in quantities or (name == "steps" and lanes)]
        shares = [_SHARES[name] + (_LANE_SHARE * lanes if name == "steps" else 0) for name in names]
        room = 1 - _BETWEEN * (len(names) - 1)
        self.domains: dict[str, tuple[float, float]] = {}
        top = 1.0
        for panel, share in zip(names, shares, strict=True):
            foot = max(top - room * share / sum(shares), 0.0)
            self.domains[panel] = (foot, top)
            top = foot - _BETWEEN

    def axis(self, quantity: str) -> str:
        """The short name of a quantity's axis."""
        place = list(_SHARES).index(quantity)
        return "y" if place == 0 else f"y{place + 1}"


def _forecast(drawn: AirDrawing, end: datetime) -> Iterator[Figure]:
    """The likely surface ahead, in its band."""
    track = drawn.track
    shown = [n for n, at in enumerate(track.ahead_times) if at <= end] if track else []
    if track is None or len(shown) < 2:
        return
    colour, degrees = palette(drawn.screen.theme)["outlook"], drawn.say.degrees
    x = [to_ms(track.ahead_times[n]) for n in shown]
    likely, cool, warm = (
        [round(degrees(side[n]), 2) for n in shown]
        for side in (track.likely_c, track.cool_c, track.warm_c)
    )
    yield area(x, cool, warm) | {"fillcolor": faded(colour, 0.25), "yaxis": "y"}
    yield line(x, likely, colour, "dash", "y", max(2.0, drawn.screen.font_px / 8))


def _reader(history: AirHistory, drawn: AirDrawing) -> Figure:
    """An unseen line that says all values of a moment when it is touched."""
    surface = next(iter(history.courses), None)
    readouts = [
        (round(history.times[n] * 1000), _height(history, n, surface), text)
        for n, text in air_words.readouts(history, drawn.say)
    ]
    if drawn.track:
        readouts += [
            (to_ms(at), drawn.track.likely_c[n], air_words.ahead(drawn.track, n, drawn.say))
            for n, at in enumerate(drawn.track.ahead_times)
            if at <= history.end
        ]
    x, y, text = map(list, zip(*readouts, strict=True)) if readouts else ([], [], [])
    return {
        "type": "scatter",
        "mode": "markers",
        "name": READER,
        "x": x,
        "y": [round(drawn.say.degrees(value), 2) for value in y],
        "text": text,
        "hovertemplate": "%{text}<extra></extra>",
        "marker": {"opacity": 0, "size": 1},
    }


def _height(history: AirHistory, index: int, first: AirCourse | None) -> float:
    """Where the reading of a moment stands: on its first temperature. [C]"""
    courses = [e for e in history.courses if e.quantity.endswith("temperature")]
    temperatures_c = [float(e.mean[index]) for e in courses if not np.isnan(e.mean[index])]
    return temperatures_c[0] if temperatures_c else 0.0


def _flags(history: AirHistory, drawn: AirDrawing, panels: _Panels) -> Iterator[Figure]:
    """Readings that are not used, as crosses on their panel."""
    colours = palette(drawn.screen.theme)
    for quantity, panel in (("temperature", "temperature"), ("humidity", "relative_humidity")):
        spans = [span for span in history.flagged if span.quantity.endswith(quantity)]
        if not spans or panel not in panels.domains:
            continue
        turn = drawn.say.degrees if quantity == "temperature" else float
        yield {
            "type": "scatter",
            "mode": "markers",
            "x": [to_ms(span.first) for span in spans],
            "y": [round(turn(span.value), 2) for span in spans],
            "text": ["<br>".join(air_words.flagged(span, drawn.say, drawn.now)) for span in spans],
            "hovertemplate": "%{text}<extra></extra>",
            "marker": {
                "symbol": "x-thin",
                "size": drawn.screen.font_px * 0.7,
                "line": {"width": max(2.0, drawn.screen.font_px / 8), "color": colours["stop"]},
            },
            "yaxis": panels.axis(panel),
        }


def _temperature_range(
    history: AirHistory, drawn: AirDrawing, degrees: Callable[[float], float]
) -> list[float]:
    """From the least to the most that is drawn, the limit too where it is near. [C or F]"""
    courses = [e for e in history.courses if e.quantity.endswith("temperature")]
    seen = [float(value) for e in courses for value in (np.nanmin(e.low), np.nanmax(e.high))]
    if drawn.track:
        shown = sum(at <= history.end for at in drawn.track.ahead_times)
        seen += [*drawn.track.cool_c[:shown], *drawn.track.warm_c[:shown]]
    seen = seen or [history.limit_c]
    if min(seen) - 8 < history.limit_c < max(seen) + 8:
        seen.append(history.limit_c)
    spare = max(_LEAST_RANGE_C - (max(seen) - min(seen)), 1.2) / 2
    return [degrees(min(seen) - spare), degrees(max(seen) + spare)]


_TITLES = {
    "temperature": "temperature, °{unit}",
    GAP: "above dew point, °{unit}",
    "relative_humidity": "humidity, %",
    "steps": "steps",
}


def _titles(panels: _Panels, drawn: AirDrawing) -> list[Figure]:
    return [
        panel_title(_TITLES[name].format(unit=drawn.say.unit), top)
        for name, (_, top) in panels.domains.items()
    ]


def _axes(history: AirHistory, drawn: AirDrawing, panels: _Panels, lanes: int) -> Figure:
    screen, say = drawn.screen, drawn.say
    most = max(2, round(screen.width_px * 0.85 / (screen.font_px * 6)))
    marks = time_ticks(history.start, history.end, most, say)
    x = time_axis(
        screen,
        history.start,
        history.end,
        marks,
        fixedrange=False,
        showspikes=True,
        spikemode="across",
        spikesnap="hovered data",
        spikedash="solid",
        spikethickness=1,
        spikecolor=palette(screen.theme)["edge"],
        anchor="free",
        position=0,
    )
    ranges: dict[str, Figure] = {
        "temperature": {"range": _temperature_range(history, drawn, say.degrees), "nticks": 7},
        GAP: {"rangemode": "tozero", "nticks": 4},
        "relative_humidity": {"range": [0, 100], "tickvals": [0, 50, 100]},
        "steps": {"range": [max(lanes, 1) - 0.5, -0.5], "showgrid": False, "showticklabels": False},
    }
    layout = {"xaxis": x}
    for quantity, domain in panels.domains.items():
        key = panels.axis(quantity).replace("y", "yaxis")
        layout[key] = axis(screen, domain=domain, anchor="x", **ranges[quantity])
    return layout


def _temperatures(history: AirHistory, drawn: AirDrawing, figure: Figure) -> list[Figure]:
    """The lines of the highest panel; its limit and what was under it go into the layout."""
    say, colours, screen = drawn.say, palette(drawn.screen.theme), drawn.screen
    traces = list[Figure]()
    for air_course, colour, dash in styles(history.courses):
        traces += course(history, air_course, say.degrees, (colours[colour], dash, "y"), screen)
    traces += _forecast(drawn, history.end)
    figure["shapes"] += shades(history.below, "y", faded(colours["stop"], 0.2))
    text = say.temperature(history.limit_c, 0)
    _add(figure, *limit(say.degrees(history.limit_c), "y", colours["stop"], text, screen))
    return traces


def _dampness(
    history: AirHistory, drawn: AirDrawing, panels: _Panels, figure: Figure
) -> list[Figure]:
    """The lines of the gap to the dew point and of the humidity, with the gap's limit."""
    say, colours, screen = drawn.say, palette(drawn.screen.theme), drawn.screen
    traces, scale = list[Figure](), 1.0 if say.unit == "C" else 1.8
    if (gap := history.of(GAP)) is not None:
        look = (colours["fg"], "solid", panels.axis(GAP))
        traces += course(history, gap, lambda value_k: value_k * scale, look, screen)
        figure["shapes"] += shades(history.damp, look[2], faded(colours["dew"], 0.35))
        text = say.difference(NEAR_DEW_K, 0)
        _add(figure, *limit(NEAR_DEW_K * scale, look[2], colours["dim"], text, screen))
    if (damp := history.of("relative_humidity")) is not None:
        look = (colours["fg"], "solid", panels.axis("relative_humidity"))
        traces += course(history, damp, float, look, screen)
    return traces


def _add(figure: Figure, shape: Figure, note: Figure) -> None:
    figure["shapes"].append(shape)
    figure["annotations"].append(note)


def _manners(history: AirHistory, screen: Screen, decimal: str) -> Figure:
    """Margins, and how the figure answers a hand."""
    px = screen.font_px
    return {
        "margin": {"l": px * 2.6, "r": px, "t": px * 1.6, "b": px * 1.8},
        "hovermode": "x",
        "hoverdistance": 30,
        "dragmode": False if screen.layout == "phone" else "zoom",
        "separators": f"{decimal}\u2009",
        "uirevision": f"{to_ms(history.start) // 60_000}",
    }


def figure(history: AirHistory, drawn: AirDrawing) -> Figure:
    """The whole figure, as plain data for plotly."""

    def entered(step: StepSummary) -> tuple[str, str]:
        return air_words.step(step, drawn.names, drawn.say, drawn.now)

    window = (history.start, history.end)
    traces, names, lanes = bars(history.steps, window, drawn.now, entered, "y4", drawn.screen)
    panels = _Panels(history, min(lanes, MOST_LANES))
    layout = ground(drawn.screen)
    traces += _temperatures(history, drawn, layout)
    traces += _dampness(history, drawn, panels, layout)
    traces += [*_flags(history, drawn, panels), _reader(history, drawn)]
    layout["annotations"] += [*names, *_titles(panels, drawn)]
    if history.start < drawn.now < history.end:
        layout["shapes"].append(_now(drawn))
    layout |= _axes(history, drawn, panels, lanes)
    layout |= _manners(history, drawn.screen, drawn.say.decimal)
    return {"data": traces, "layout": layout}


def _now(drawn: AirDrawing) -> Figure:
    at = to_ms(drawn.now)
    line = {
        "color": palette(drawn.screen.theme)["fg"],
        "width": max(1.5, drawn.screen.font_px / 12),
    }
    return {"type": "line", "x0": at, "x1": at, "yref": "paper", "y0": 0, "y1": 1, "line": line}
