"""Every sensor's last day as a small picture: one lane each on a shared time axis."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from curewatch.climate.reading import Reading
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.store.readings import FlaggedSpan
from curewatch.walltime import to_ms
from curewatch.wording import sensor_words, words
from dashboard.figures.lines import line
from dashboard.figures.palette import Figure, Screen, axis, ground, palette
from dashboard.figures.sizes import cut, rows_px, text_px
from dashboard.figures.ticks import time_axis, time_ticks

DAY, MOST_SENSORS, FEW = timedelta(days=1), 24, 12
LANE_EM, AXIS_EM = 3.6, 2.6
_TOP, _FOOT = 0.46, 0.92
_LEAST_RANGE = {"relative_humidity": 5.0}
Series = tuple[str, str, str]


@frozen
class SensorDay:
    """One sensor's readings of a day, those that are not used, and what it is called."""

    last: Reading
    readings: tuple[Reading, ...]
    flagged: tuple[FlaggedSpan, ...]


@frozen
class SensorDrawing:
    """What the figure is made of: every sensor's day until now, the reader's format, the screen."""

    now: datetime
    days: Sequence[SensorDay]
    say: ReaderFormat
    screen: Screen


def series_of(reading: Reading | FlaggedSpan) -> Series:
    """Which sensor's value it is."""
    return reading.source, reading.place, reading.quantity


def sensor_days(
    latest: Sequence[Reading], readings: Sequence[Reading], flagged: Sequence[FlaggedSpan]
) -> list[SensorDay]:
    """The days of the sensors that were heard at all, in the order of their last readings."""
    by_series: dict[Series, list[Reading]] = {}
    for reading in readings:
        by_series.setdefault(series_of(reading), []).append(reading)
    crosses: dict[Series, list[FlaggedSpan]] = {}
    for span in flagged:
        crosses.setdefault(series_of(span), []).append(span)
    return [
        SensorDay(last, tuple(by_series.get(key, ())), tuple(crosses.get(key, ())))
        for last in latest[:MOST_SENSORS]
        if (key := series_of(last)) in by_series or key in crosses
    ]


def _scale(day: SensorDay) -> tuple[float, float]:
    """The least and the most of a lane. [C or %]"""
    values = [reading.value for reading in day.readings] or [span.value for span in day.flagged]
    spare = max(_LEAST_RANGE.get(day.last.quantity, 2.0) - (max(values) - min(values)), 0) / 2
    return min(values) - spare, max(values) + spare


def _height(day: SensorDay, lane: int, value: float) -> float:
    """Where a value stands in its lane, held inside it."""
    least, most = _scale(day)
    share = min(max((value - least) / (most - least), 0.0), 1.0)
    return round(lane + _FOOT - share * (_FOOT - _TOP), 4)


def _line(drawn: SensorDrawing, day: SensorDay, lane: int) -> Iterator[Figure]:
    colours, px = palette(drawn.screen.theme), drawn.screen.font_px
    times = [to_ms(reading.at) for reading in day.readings]
    heights = [_height(day, lane, reading.value) for reading in day.readings]
    if times:
        drawn_line = line(times, heights, colours["fg"], "solid", "y", max(2.0, px / 9))
        texts = [_hover(drawn, reading) for reading in day.readings]
        marker = {"size": px * (0.5 if len(times) <= FEW else 0.2), "color": colours["fg"]}
        dots = {"mode": "lines+markers", "marker": marker}
        yield drawn_line | dots | {"hoverinfo": "text", "text": texts}
    if day.flagged:
        yield {
            "type": "scatter",
            "mode": "markers",
            "x": [to_ms(span.first) for span in day.flagged],
            "y": [_height(day, lane, span.value) for span in day.flagged],
            "text": [_flagged(drawn, span) for span in day.flagged],
            "hoverinfo": "text",
            "marker": {
                "symbol": "x-thin",
                "size": px * 0.6,
                "line": {"width": max(2.0, px / 9), "color": colours["stop"]},
            },
        }


def _hover(drawn: SensorDrawing, reading: Reading) -> str:
    value = words.value(drawn.say, reading.quantity, reading.value)
    return f"{drawn.say.moment(reading.at, drawn.now)}<br>{value}"


def _flagged(drawn: SensorDrawing, span: FlaggedSpan) -> str:
    value = words.value(drawn.say, span.quantity, span.value)
    why = sensor_words.flag(span.flag, span.quantity, drawn.say, drawn.now)
    return f"{drawn.say.moment(span.first, drawn.now)}<br>{value}, not used: {why}"


def name(reading: Reading) -> str:
    """What a lane is called: place, what is measured, and the sensor."""
    return f"{_measured(reading)}, {reading.source}"


def _measured(reading: Reading) -> str:
    what = words.QUANTITY[reading.quantity]
    return what if what.startswith(f"{reading.place} ") else f"{reading.place} {what}"


def _fitting(drawn: SensorDrawing, day: SensorDay, room_px: float) -> str:
    """A lane's name as it fits; its sensor is named where another lane is called so too."""
    short = _measured(day.last)
    alike = [other for other in drawn.days if _measured(other.last) == short]
    return cut(name(day.last) if len(alike) > 1 else short, drawn.screen.font_px, room_px)


def _ends(drawn: SensorDrawing, day: SensorDay) -> str:
    """From what to what a day's readings went."""
    values = [reading.value for reading in day.readings]
    if not values:
        return "none used"
    least, most = words.bare(drawn.say, day.last.quantity, min(values)), max(values)
    whole = words.value(drawn.say, day.last.quantity, most)
    return whole if whole.startswith(least) else f"{least} to {whole}"


def _words(drawn: SensorDrawing, day: SensorDay, lane: int) -> list[Figure]:
    """The name of a lane, and from what to what it went."""
    px, colours = drawn.screen.font_px, palette(drawn.screen.theme)
    ends = _ends(drawn, day)
    room_px = drawn.screen.width_px * 0.95 - text_px(ends, px)
    labels = ((_fitting(drawn, day, room_px), 0, "left", "fg"), (ends, 1, "right", "dim"))
    return [
        {
            "text": text,
            "xref": "paper",
            "x": x,
            "y": lane + _TOP - 0.02,
            "yref": "y",
            "xanchor": side,
            "yanchor": "bottom",
            "showarrow": False,
            "font": {"size": px, "color": colours[colour]},
        }
        for text, x, side, colour in labels
    ]


def height_em(lanes: int) -> float:
    """How high the figure is, in widths of its letters. [em]"""
    return lanes * LANE_EM + AXIS_EM


def figure(drawn: SensorDrawing) -> Figure:
    """The whole figure, as plain data for plotly."""
    screen, lanes = drawn.screen, len(drawn.days)
    px, layout = screen.font_px, ground(screen)
    traces = list[Figure]()
    for lane, day in enumerate(drawn.days):
        traces += _line(drawn, day, lane)
        layout["annotations"] += _words(drawn, day, lane)
    layout["height"] = rows_px(height_em(lanes) * px)
    layout |= _axes(drawn, max(lanes, 1))
    layout["margin"] = {"l": px * 0.4, "r": px * 0.4, "t": px * 0.2, "b": px * 1.9}
    layout |= {"hovermode": "closest", "hoverdistance": 30, "dragmode": False}
    return {"data": traces, "layout": layout}


def _axes(drawn: SensorDrawing, lanes: int) -> Figure:
    screen = drawn.screen
    start = drawn.now - DAY
    most = max(2, round(screen.width_px * 0.9 / (screen.font_px * 6)))
    marks = time_ticks(start, drawn.now, most, drawn.say)
    x = time_axis(screen, start, drawn.now, marks)
    y = axis(screen, range=[lanes, 0], showticklabels=False, tickmode="array")
    return {"xaxis": x, "yaxis": y | {"tickvals": list(range(1, lanes + 1))}}
