"""The last night in one figure: a lane for each step and each bare part, the air beneath."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta

import numpy as np

from curewatch.climate.series import Interval
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.logbook.air_history import AirHistory
from curewatch.plan.morning import BareNight, Morning, Overnight
from curewatch.plan.night_course import NightCourse
from curewatch.walltime import to_ms
from curewatch.wording import air_words, night_words
from dashboard.figures.lines import course as air_course
from dashboard.figures.palette import Figure, Screen, axis, faded, ground, palette
from dashboard.figures.sizes import cut, text_px
from dashboard.figures.ticks import time_axis, time_ticks

MOST_LANES = 12
LANE_EM, AIR_EM, SHORT_EM = 4.2, 9.5, 20.0
_TRACK_TOP, _TRACK_FOOT = 0.42, 0.90
COLD, DAMP = "stalled-mark", "dew"
SHAPES = {COLD: "/", DAMP: "."}
"""The colours of spells of cold and of damp, with their patterns."""
READER = "reader"


@frozen
class NightDrawing:
    """What the figure is made of: the night, how far each step got in it, the air's history, how
    this reader likes figures, and the screen."""

    morning: Morning
    courses: Mapping[int, NightCourse]
    air: AirHistory
    say: ReaderFormat
    screen: Screen

    @property
    def lanes(self) -> list[Overnight | BareNight]:
        """What has a lane of its own, steps first; a joint that no time is given for has none."""
        steps = [overnight for overnight in self.morning.steps if not overnight.structural]
        lanes: list[Overnight | BareNight] = [*steps, *self.morning.bare]
        return lanes[:MOST_LANES]


def _box(
    start: datetime, end: datetime, lane: int, share: float = 1.0
) -> tuple[list[int], list[float]]:
    """The corners of a stretch of a lane; share: how high it stands on its foot [-]."""
    foot = lane + _TRACK_FOOT
    top = foot - share * (_TRACK_FOOT - _TRACK_TOP)
    x = [to_ms(start), to_ms(end), to_ms(end), to_ms(start)]
    return x, [top, top, foot, foot]


def _fill(x: list[int], y: list[float], colour: str, text: str = "") -> Figure:
    hover: Figure = {"hoverinfo": "skip"} if not text else {"hoverinfo": "text", "text": text}
    return hover | {
        "type": "scatter",
        "mode": "lines",
        "x": x,
        "y": y,
        "fill": "toself",
        "fillcolor": colour,
        "hoveron": "fills",
        "line": {"width": 0},
        "yaxis": "y",
    }


def _spell(spell: Interval, lane: int, look: str, text: str, screen: Screen) -> Figure:
    """A spell over a lane, of cold striped, of damp dotted, so that it shows without its colour."""
    x, y = _box(spell.start, spell.end, lane)
    colour = palette(screen.theme)[look]
    pattern = {
        "shape": SHAPES[look],
        "size": screen.font_px * 0.6,
        "solidity": 0.35,
        "fgcolor": colour,
        "bgcolor": faded(palette(screen.theme)["stalled"], 0.75),
    }
    return _fill(x, y, colour, text) | {"fillpattern": pattern}


def _area(course: NightCourse, lane: int, screen: Screen) -> Iterator[Figure]:
    """How much of its need a step had got, rising through the night; full where it is enough."""
    colours = palette(screen.theme)
    foot, high = lane + _TRACK_FOOT, _TRACK_FOOT - _TRACK_TOP
    enough = next((n for n, share in enumerate(course.shares) if share >= 1), None)
    last = len(course.shares) - 1 if enough is None else enough
    x = [to_ms(at) for at in course.times[: last + 1]]
    tops = [round(foot - high * min(share, 1.0), 4) for share in course.shares[: last + 1]]
    if last:
        yield _fill([*x, x[-1], x[0]], [*tops, foot, foot], colours["setting-mark"])
    if enough is not None:
        whole, y = _box(course.times[enough], course.times[-1], lane)
        yield _fill(whole, y, colours["ready"])


def _step_lane(drawn: NightDrawing, overnight: Overnight, lane: int) -> Iterator[Figure]:
    course = drawn.courses.get(overnight.step.id)
    if course is not None:
        yield from _area(course, lane, drawn.screen)
    for spell in overnight.night.stalled if overnight.measured else ():
        text = night_words.stopped(overnight, spell, drawn.morning.now, drawn.say)
        yield _spell(spell, lane, COLD, text, drawn.screen)


def _bare_lane(drawn: NightDrawing, bare: BareNight, lane: int) -> Iterator[Figure]:
    for spell in bare.night.damp:
        text = night_words.damp(bare, spell, drawn.morning.now, drawn.say)
        yield _spell(spell, lane, DAMP, text, drawn.screen)


def _track(drawn: NightDrawing, lane: int, start: datetime) -> Figure:
    """The room of a lane: its upper edge is as much as a step needs."""
    colours = palette(drawn.screen.theme)
    return {
        "type": "rect",
        "x0": to_ms(start),
        "x1": to_ms(drawn.morning.end),
        "y0": lane + _TRACK_TOP,
        "y1": lane + _TRACK_FOOT,
        "yref": "y",
        "fillcolor": colours["raised"],
        "line": {"color": colours["edge"], "width": 1.5},
        "layer": "below",
    }


def _note(text: str, lane: int, side: str, screen: Screen, colour: str) -> Figure:
    return {
        "text": text,
        "xref": "paper",
        "x": 0 if side == "left" else 1,
        "y": lane + _TRACK_TOP - 0.04,
        "yref": "y",
        "xanchor": side,
        "yanchor": "bottom",
        "showarrow": False,
        "font": {"color": palette(screen.theme)[colour], "size": screen.font_px},
    }


def _lane_words(drawn: NightDrawing, thing: Overnight | BareNight) -> tuple[str, str]:
    """What stands at the left and at the right above a lane."""
    short = drawn.screen.width_px < SHORT_EM * drawn.screen.font_px
    if isinstance(thing, BareNight):
        return thing.part.name, night_words.bare_end(thing, short=short)
    course = drawn.courses.get(thing.step.id)
    name = night_words.step_name(thing)
    return name, night_words.reached(course, short=short) if course else night_words.NO_FIGURE


def _lanes(drawn: NightDrawing, figure: Figure) -> Iterator[Figure]:
    """The lanes' traces; their room and words go into the layout."""
    px = drawn.screen.font_px
    for lane, thing in enumerate(drawn.lanes):
        figure["shapes"].append(_track(drawn, lane, thing.night.start))
        name, end = _lane_words(drawn, thing)
        room_px = drawn.screen.width_px - 4 * px - text_px(end, px)
        left = _note(cut(name, px, room_px), lane, "left", drawn.screen, "fg")
        figure["annotations"] += [left, _note(end, lane, "right", drawn.screen, "dim")]
        if isinstance(thing, BareNight):
            yield from _bare_lane(drawn, thing, lane)
        else:
            yield from _step_lane(drawn, thing, lane)


def _air(drawn: NightDrawing) -> Iterator[Figure]:
    """The surface and the air through the night, beneath the lanes."""
    colours = palette(drawn.screen.theme)
    looks = {
        "surface_temperature": (colours["fg"], "solid", "y2"),
        "air_temperature": (colours["amber"], "dash", "y2"),
    }
    for course in drawn.air.courses:
        if course.quantity in looks and course.place != "outdoors":
            yield from air_course(
                drawn.air, course, drawn.say.degrees, looks[course.quantity], drawn.screen
            )


def _reader(drawn: NightDrawing) -> Figure:
    """An unseen line that says all values of a moment when it is touched or read by keys."""
    air = [(drawn.air.times[n], text) for n, text in air_words.readouts(drawn.air, drawn.say)]
    points = [(round(at_s * 1000), text, _height(drawn, at_s)) for at_s, text in air]
    return {
        "type": "scatter",
        "mode": "markers",
        "name": READER,
        "x": [at for at, _, _ in points],
        "y": [value for _, _, value in points],
        "text": [f"{text}{_got(drawn, at)}" for at, text, _ in points],
        "hovertemplate": "%{text}<extra></extra>",
        "marker": {"opacity": 0, "size": 1},
        "yaxis": "y2",
    }


def _got(drawn: NightDrawing, at_ms: int) -> str:
    """What each step had got by then, as further lines."""
    lines = [
        night_words.got(course, float(np.interp(at_ms, [to_ms(at) for at in course.times], shares)))
        for course in drawn.courses.values()
        if to_ms(course.times[0]) <= at_ms and (shares := course.shares)
    ]
    return "".join(f"<br>{text}" for text in lines)


def _height(drawn: NightDrawing, at_s: float) -> float:
    """Where a moment's reading stands: on the first temperature. [C or F]"""
    index = int(np.argmin(np.abs(drawn.air.times - at_s)))
    courses = [e for e in drawn.air.courses if e.quantity.endswith("temperature")]
    temperatures_c = [float(e.mean[index]) for e in courses if not np.isnan(e.mean[index])]
    return round(drawn.say.degrees(temperatures_c[0]), 2) if temperatures_c else 0.0


def height_em(lanes: int) -> float:
    """How high the figure is, in widths of its letters. [em]"""
    return lanes * LANE_EM + AIR_EM


def figure(drawn: NightDrawing) -> Figure:
    """The whole figure, as plain data for plotly."""
    screen, lanes = drawn.screen, len(drawn.lanes)
    px, layout = screen.font_px, ground(screen)
    layout["height"] = round(height_em(lanes) * px)
    traces = [*_lanes(drawn, layout), *_air(drawn), _reader(drawn)]
    layout |= _axes(drawn, lanes)
    layout["margin"] = {"l": px * 2.6, "r": px * 0.6, "t": px * 0.3, "b": px * 1.9}
    layout |= {"hovermode": "closest", "hoverdistance": 30, "dragmode": False}
    layout["separators"] = f"{drawn.say.decimal}\u2009"
    return {"data": traces, "layout": layout}


def _axes(drawn: NightDrawing, lanes: int) -> Figure:
    screen = drawn.screen
    foot = (AIR_EM - 4) / (height_em(lanes) - 2.2)
    start, end = drawn.morning.start, drawn.morning.end + timedelta(minutes=1)
    most = max(2, round(screen.width_px * 0.85 / (screen.font_px * 6)))
    marks = time_ticks(start, end, most, drawn.say)
    x = time_axis(screen, start, end, marks, anchor="free", position=0)
    lane_axis = axis(screen, domain=[foot + 0.02, 1], range=[max(lanes, 1), 0], anchor="x")
    lane_axis |= {"showgrid": False, "showticklabels": False}
    degrees = axis(screen, domain=[0, foot - 0.05], anchor="x", nticks=4)
    return {"xaxis": x, "yaxis": lane_axis, "yaxis2": degrees}
