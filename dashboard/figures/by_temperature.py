"""A product's time against the temperature: the model's band, the label's rows, the batches."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime

from curewatch.cure.forecast import Milestone
from curewatch.durations import duration
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.plan.by_temperature import ByTemperature
from curewatch.wording import product_words
from dashboard.figures.lines import area, line
from dashboard.figures.palette import Figure, Screen, axis, faded, ground, palette

READER = "reader"
COLOURS = {
    "pot_life": "amber",
    "working_time": "amber",
    "clamp_time": "outlook",
    "full_cure": "cured-mark",
}
_MARKS_MIN = (
    *(1, 2, 5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 360, 480, 720),
    *(1440, 2880, 4320, 7200, 10080, 20160, 43200),
)
_HEIGHT_PX = {"garage": 560.0, "desk": 400.0, "phone": 340.0}
_MARGINS_EM = {"l": 4.2, "r": 0.8, "t": 2.2, "b": 3.2}


@frozen
class ProductDrawing:
    """What the figure needs beside the times: the present, how this reader likes figures, and the
    screen."""

    now: datetime
    say: ReaderFormat
    screen: Screen


def colour(milestone: str) -> str:
    """The name of the colour of a milestone's band."""
    return COLOURS.get(milestone, "done")


def _milestones(curve: ByTemperature) -> list[tuple[float, Milestone]]:
    return [
        (at, time)
        for at, time in zip(curve.temperatures_c, curve.times, strict=True)
        if time.likely_min is not None
    ]


def _band(curve: ByTemperature, drawn: ProductDrawing) -> Iterator[Figure]:
    """The band of 9 in 10, where it is known to both sides, and the likely line."""
    tint, degrees = palette(drawn.screen.theme)[colour(curve.milestone)], drawn.say.degrees
    milestones = _milestones(curve)
    if not milestones:
        return
    closed = [
        (degrees(at), time.early_min, time.late_min)
        for at, time in milestones
        if time.early_min is not None and time.late_min is not None
    ]
    if len(closed) > 1:
        x, low, high = (list(side) for side in zip(*closed, strict=True))
        yield area(x, low, high) | {"fillcolor": faded(tint, 0.4)}
    likely = [time.likely_min for _, time in milestones]
    wide = max(2.5, drawn.screen.font_px / 7)
    yield line([], likely, tint, "solid", "y", wide) | {"x": [degrees(at) for at, _ in milestones]}


def _reader(curve: ByTemperature, drawn: ProductDrawing) -> Figure:
    """An unseen line that says what is expected at a temperature when it is touched."""
    milestones = _milestones(curve)
    return {
        "type": "scatter",
        "mode": "markers",
        "name": READER,
        "x": [drawn.say.degrees(at) for at, _ in milestones],
        "y": [time.likely_min for _, time in milestones],
        "text": [product_words.at_temperature(at, time, drawn.say) for at, time in milestones],
        "hovertemplate": "%{text}<extra></extra>",
        "marker": {"opacity": 0, "size": 1},
    }


def _rows(curve: ByTemperature, drawn: ProductDrawing) -> Figure:
    """The label's rows as diamonds."""
    rows = [row for row in curve.sheet.times if curve.milestone in row.minutes]
    colours = palette(drawn.screen.theme)
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "label",
        "x": [drawn.say.degrees(row.temperature_c) for row in rows],
        "y": [row.minutes[curve.milestone] for row in rows],
        "text": [product_words.label_row(row, curve.milestone, drawn.say) for row in rows],
        "hovertemplate": "%{text}<extra></extra>",
        "marker": {
            "symbol": "diamond",
            "size": drawn.screen.font_px * 0.85,
            "color": colours["bg"],
            "line": {"width": max(2.5, drawn.screen.font_px / 8), "color": colours["fg"]},
        },
    }


def _batches(curve: ByTemperature, drawn: ProductDrawing) -> Figure:
    """The user's batches as dots, each with a line down to the last test that said not yet."""
    colours, batches = palette(drawn.screen.theme), curve.batches
    back = [0.0 if b.not_yet_min is None else b.reached_min - b.not_yet_min for b in batches]
    pen = max(1.5, drawn.screen.font_px / 12)
    return {
        "type": "scatter",
        "mode": "markers",
        "name": "batches",
        "x": [drawn.say.degrees(batch.surface_c) for batch in batches],
        "y": [batch.reached_min for batch in batches],
        "text": [
            product_words.batch_words(b, curve.milestone, drawn.now, drawn.say) for b in batches
        ],
        "hovertemplate": "%{text}<extra></extra>",
        "error_y": {
            "type": "data",
            "symmetric": False,
            "array": [0.0 for _ in batches],
            "arrayminus": back,
            "color": colours["fg"],
            "thickness": pen,
            "width": 0,
        },
        "marker": {
            "size": drawn.screen.font_px * 0.6,
            "color": colours["fg"],
            "line": {"width": pen, "color": colours["bg"]},
        },
    }


def _range(curve: ByTemperature) -> tuple[float, float]:
    """The least and the most time that is drawn. [min]"""
    milestones = [time for _, time in _milestones(curve)]
    seen = [time.early_min or time.likely_min for time in milestones]
    seen += [time.late_min or time.likely_min for time in milestones]
    seen += [row.minutes.get(curve.milestone) for row in curve.sheet.times]
    seen += [batch.reached_min for batch in curve.batches]
    values = [value for value in seen if value]
    return min(values) / 1.25, max(values) * 1.25


def _marks(low_min: float, high_min: float, most: int) -> list[int]:
    """Round times between two, at most so many. [min]"""
    inside = [mark for mark in _MARKS_MIN if low_min <= mark <= high_min]
    every = max(1, math.ceil(len(inside) / most))
    return inside[::every]


def _reach(curve: ByTemperature) -> tuple[float, float]:
    """The temperatures that are drawn: the product's, the forecast's and the batches'. [C]"""
    reached_c = [*curve.temperatures_c, *(curve.forecast_c or ())]
    reached_c += [batch.surface_c for batch in curve.batches]
    return min(reached_c) - 1.0, max(reached_c) + 1.0


def _degree_marks(low: float, high: float, most: int) -> list[int]:
    """Round temperatures between two, in the reader's unit. [C or F]"""
    step = next(degrees for degrees in (2, 5, 10, 20, 50) if (high - low) / degrees <= most)
    return list(range(math.ceil(low / step) * step, math.floor(high) + 1, step))


def _axes(curve: ByTemperature, drawn: ProductDrawing) -> Figure:
    font, say = drawn.screen.font_px, drawn.say
    low, high = (say.degrees(value) for value in _reach(curve))
    least, most = _range(curve)
    marks = _marks(least, most, 7)
    degrees = _degree_marks(low, high, max(3, round(drawn.screen.width_px / font / 6)))
    return {
        "xaxis": axis(
            drawn.screen,
            range=[low, high],
            tickmode="array",
            tickvals=degrees,
            ticktext=[say.number(degree, 0) for degree in degrees],
            title={"text": f"surface, °{say.unit}", "standoff": font * 0.4},
        ),
        "yaxis": axis(
            drawn.screen,
            type="log",
            range=[math.log10(least), math.log10(most)],
            tickmode="array",
            tickvals=marks,
            ticktext=[duration(degree) for degree in marks],
        ),
    }


def _shade(low: float, high: float, colour: str) -> Figure:
    """A stretch of temperatures over the whole height. [C or F]"""
    shape = {"type": "rect", "yref": "paper", "x0": low, "x1": high, "y0": 0, "y1": 1}
    return shape | {"fillcolor": colour, "line": {"width": 0}, "layer": "below"}


def _note(text: str, x: float, anchor: str, colour: str, screen: Screen) -> Figure:
    note = {"text": text, "x": x, "yref": "paper", "y": 1, "showarrow": False}
    note |= {"xanchor": anchor, "yanchor": "bottom"}
    return note | {"font": {"color": colour, "size": screen.font_px * 0.9}}


def _grounds(curve: ByTemperature, drawn: ProductDrawing) -> tuple[list[Figure], list[Figure]]:
    """Where it is too cold, where the forecast is, and the surface now, with their words."""
    colours, say, screen = palette(drawn.screen.theme), drawn.say, drawn.screen
    low, least = say.degrees(_reach(curve)[0]), say.degrees(curve.least_c)
    shapes, notes = [_shade(low, least, faded(colours["stop"], 0.22))], list[Figure]()
    if curve.forecast_c is not None:
        cool, warm = (say.degrees(value) for value in curve.forecast_c)
        shapes.append(_shade(cool, warm, faded(colours["outlook"], 0.28)))
        words = product_words.forecast_span(curve, say)
        right = (cool + warm) / 2 > (low + say.degrees(_reach(curve)[1])) / 2
        side = (warm, "right") if right else (max(cool, low), "left")
        notes.append(_note(words, *side, colours["outlook"], screen))
    if curve.surface_c is not None:
        at = say.degrees(curve.surface_c)
        pen = {"color": colours["fg"], "width": max(2.0, screen.font_px / 10)}
        shapes.append({"type": "line", "yref": "paper", "y0": 0, "y1": 1, "x0": at, "x1": at})
        shapes[-1]["line"] = pen
    return shapes, notes


def figure(curve: ByTemperature, drawn: ProductDrawing) -> Figure:
    """The whole picture."""
    font, layout = drawn.screen.font_px, ground(drawn.screen)
    layout["shapes"], layout["annotations"] = _grounds(curve, drawn)
    layout |= _axes(curve, drawn)
    layout |= {
        "height": _HEIGHT_PX[drawn.screen.layout],
        "margin": {side: round(font * em) for side, em in _MARGINS_EM.items()},
        "hovermode": "closest",
        "hoverdistance": 40,
        "dragmode": False,
    }
    traces: Sequence[Figure] = (
        *_band(curve, drawn),
        _reader(curve, drawn),
        _rows(curve, drawn),
        *([_batches(curve, drawn)] if curve.batches else []),
    )
    return {"data": list(traces), "layout": layout}
