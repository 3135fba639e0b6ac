"""Steps laid over each other from mixing on: how warm each was, what was predicted and found."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

import numpy as np

from curewatch.durations import duration
from curewatch.formats import ReaderFormat
from curewatch.logbook.courses import CourseMark, StepCourse
from curewatch.logbook.predictions import Prediction
from curewatch.vocabulary import MILESTONES, WAITED, in_words
from curewatch.wording import log_words, words
from dashboard.figures.lines import line, panel_title, soft_ribbon
from dashboard.figures.palette import Figure, Screen, axis, ground, palette
from dashboard.figures.sizes import rows_px

MOST, DAB = 6, "dab"
_SURFACE_EM, _ROW_EM, _HEADING, _HALF = 9.0, 1.15, 1.3, 0.32
LOOKS = (
    ("fg", "solid"),
    ("amber", "dash"),
    ("link", "dot"),
    ("done", "dashdot"),
    ("dew", "longdash"),
    ("stop", "longdashdot"),
)
"""Colour and dash of each step, so that they differ in both."""
SYMBOLS = {"reached": "circle", "not yet": "triangle-up-open", "dab": "diamond"}
Where = Callable[[float], float]


def _hours(course: StepCourse, by_age: bool) -> Where:
    """Where a moment of the step stands on the axis, from minutes after mixing [min] to [h]."""
    if by_age:
        return lambda after_min: course.age_at(after_min) / 60
    return lambda after_min: after_min / 60


def _temperature(
    course: StepCourse, place: int, by_age: bool, say: ReaderFormat, screen: Screen
) -> Figure:
    colour, dash = LOOKS[place]
    x = (course.age_min if by_age else course.times_min) / 60
    y = [round(say.degrees(float(value)), 2) for value in course.surface_c]
    pen = palette(screen.theme)[colour]
    drawn = line([], y, pen, dash, "y", max(2.5, screen.font_px / 7))
    title = log_words.name(course.step)
    texts = [
        f"{title}<br>{duration(float(after))} after mixing: {say.temperature(float(value))}"
        for after, value in zip(course.times_min, course.surface_c, strict=True)
    ]
    hover = {"hoverinfo": "text", "text": texts}
    return drawn | {"x": [round(float(hours), 4) for hours in x]} | hover


def _placed(course: StepCourse, prediction: Prediction, by_age: bool) -> bool:
    """Whether a prediction has a place on the axis: a step has no age yet for times to come."""
    likely = prediction.likely_min
    return not by_age or (likely is not None and likely <= float(course.times_min[-1]))


def _band(
    prediction: Prediction, row: float, at: Where, screen: Screen
) -> tuple[Figure, Figure] | None:
    """What was predicted of a milestone: a ribbon on the step's row, its likely time a line."""
    early, likely, late = prediction.early_min, prediction.likely_min, prediction.late_min
    if early is None or likely is None or late is None:
        return None
    middle, first, last = at(likely), at(early), at(late)
    dim, deepest = palette(screen.theme)["dim"], (middle - first) / max(last - first, 1e-9)
    hover = {"hoverinfo": "text", "text": log_words.predicted(prediction), "yaxis": "y2"}
    across = {"symbol": "line-ns", "size": screen.font_px * 0.35}
    return (
        soft_ribbon((first, last), (row - _HALF, row + _HALF), deepest, False, dim) | hover,
        hover
        | {
            "type": "scatter",
            "mode": "markers",
            "x": [middle],
            "y": [row],
            "marker": across | {"line": {"width": 3, "color": dim}},
        },
    )


def _seen(marks: Sequence[CourseMark], row: float, place: int, at: Where, screen: Screen) -> Figure:
    """What was found on a step's row."""
    colours = palette(screen.theme)
    return {
        "type": "scatter",
        "mode": "markers",
        "x": [at(mark.after_min) for mark in marks],
        "y": [row] * len(marks),
        "marker": {
            "symbol": [SYMBOLS[mark.kind] for mark in marks],
            "size": screen.font_px * 0.8,
            "color": colours[LOOKS[place][0]],
            "line": {"width": 2, "color": colours["bg"]},
        },
        "hoverinfo": "text",
        "text": [log_words.mark(mark) for mark in marks],
        "yaxis": "y2",
    }


def _about(course: StepCourse, group: str) -> tuple[list[Prediction], list[CourseMark]]:
    """What was predicted and found of a milestone, or seen on the dab."""
    if group == DAB:
        return [], [mark for mark in course.marks if mark.kind == "dab"]
    predicted = [prediction for prediction in course.predictions if prediction.milestone == group]
    return predicted, [m for m in course.marks if m.what == group and m.kind != "dab"]


def groups(courses: Sequence[StepCourse]) -> list[str]:
    """What the rows are about, in order of time: what any of the steps was tested for, else what
    the next work waits for; and the dab."""
    tested = {mark.what for course in courses for mark in course.marks if mark.kind != "dab"}
    given = {prediction.milestone for course in courses for prediction in course.predictions}
    shown = [name for name in MILESTONES if name in (tested or given & set(WAITED))]
    dabs = any(mark.kind == "dab" for course in courses for mark in course.marks)
    return [*([DAB] if dabs else []), *shown]


def _rows(courses: Sequence[StepCourse], by_age: bool, screen: Screen) -> Iterator[Figure]:
    for number, group in enumerate(groups(courses)):
        for place, course in enumerate(courses):
            row, at = _row(number, place, len(courses)), _hours(course, by_age)
            predicted, marks = _about(course, group)
            for prediction in predicted:
                if _placed(course, prediction, by_age):
                    yield from _band(prediction, row, at, screen) or ()
            if marks:
                yield _seen(marks, row, place, at, screen)


def _row(group: int, place: int, steps: int) -> float:
    """How far down a step's row of a group stands, its heading above it."""
    return group * (steps + _HEADING) + _HEADING + place


def _headings(courses: Sequence[StepCourse]) -> list[Figure]:
    return [
        {
            "text": "dab check" if group == DAB else in_words(group),
            "xref": "paper",
            "x": 0,
            "xanchor": "left",
            "yref": "y2",
            "y": _row(number, 0, len(courses)) - 0.85,
            "yanchor": "middle",
            "showarrow": False,
        }
        for number, group in enumerate(groups(courses))
    ]


def _labels(courses: Sequence[StepCourse], screen: Screen) -> list[Figure]:
    """The step's number before each of its rows, in its colour."""
    colours = palette(screen.theme)
    return [
        {
            "text": str(course.step.id),
            "xref": "paper",
            "x": 0,
            "xanchor": "right",
            "xshift": -screen.font_px * 0.4,
            "yref": "y2",
            "y": _row(number, place, len(courses)),
            "yanchor": "middle",
            "showarrow": False,
            "font": {"color": colours[LOOKS[place][0]], "size": screen.font_px * 0.9},
        }
        for number in range(len(groups(courses)))
        for place, course in enumerate(courses)
    ]


def _end_h(courses: Sequence[StepCourse], by_age: bool) -> float:
    """How far the axis goes: to the last mark and to the latest times of what was tested. [h]"""
    ends = [0.5]
    for course in courses:
        at, by_milestone = _hours(course, by_age), groups(courses)
        ends += [at(mark.after_min) * 1.1 for mark in course.marks]
        ends += [
            at(p.late_min) for p in course.predictions if p.milestone in by_milestone and p.late_min
        ]
    return max(ends) * 1.04


_STEPS_H = (0.25, 0.5, 1, 2, 3, 6, 12, 24, 48, 96, 168, 336, 720)


def _ticks(end_h: float, screen: Screen) -> tuple[list[float], list[str]]:
    most = max(3.0, screen.width_px * 0.8 / (screen.font_px * 5))
    every = next((hours for hours in _STEPS_H if end_h / hours <= most), end_h / most)
    values = [float(value) for value in np.arange(0, math.floor(end_h / every) + 1) * every]
    return values, ["0" if value == 0 else duration(value * 60) for value in values]


def _axes(courses: Sequence[StepCourse], by_age: bool, screen: Screen, shares: Figure) -> Figure:
    end_h = _end_h(courses, by_age)
    values, texts = _ticks(end_h, screen)
    foot = _row(len(groups(courses)) - 1, len(courses) - 1, len(courses)) + 0.6
    x = {"range": [0, end_h], "tickvals": values, "ticktext": texts, "fixedrange": False}
    rows = {"showticklabels": False, "showgrid": False, "range": [foot, 0]}
    return {
        "xaxis": axis(screen, anchor="free", position=0, **x),
        "yaxis": axis(screen, domain=shares["surface"], nticks=5),
        "yaxis2": axis(screen, domain=shares["rows"], **rows),
    }


def _shares(courses: Sequence[StepCourse], screen: Screen) -> tuple[float, Figure]:
    """The height [px] that the rows need under the temperatures, and the share of each."""
    px = screen.font_px
    need = [_SURFACE_EM * px, len(groups(courses)) * (len(courses) + _HEADING) * _ROW_EM * px]
    height = rows_px(sum(need) + 4.4 * px)
    rows = need[1] / (height - 3.4 * px)
    return height, {"rows": [0, rows], "surface": [min(rows + 0.04, 0.9), 1]}


def figure(
    courses: Sequence[StepCourse], by_age: bool, say: ReaderFormat, screen: Screen
) -> Figure:
    """The whole figure; by_age: along each step's equivalent age instead of the time since its
    mixing."""
    layout, shown, px = ground(screen), courses[:MOST], screen.font_px
    traces = [
        _temperature(course, place, by_age, say, screen) for place, course in enumerate(shown)
    ]
    traces += _rows(shown, by_age, screen)
    head = panel_title(f"{words.QUANTITY['surface_temperature']}, °{say.unit}", 1)
    layout["annotations"] += [head, *_headings(shown)]
    layout["annotations"] += _labels(shown, screen)
    height, shares = _shares(shown, screen)
    layout |= _axes(shown, by_age, screen, shares)
    return {
        "data": traces,
        "layout": layout
        | {
            "height": height,
            "margin": {"l": px * 2.6, "r": px, "t": px * 1.6, "b": px * 1.8},
            "hovermode": "closest",
            "dragmode": False if screen.layout == "phone" else "zoom",
            "uirevision": f"{by_age} {[course.step.id for course in shown]}",
        },
    }
