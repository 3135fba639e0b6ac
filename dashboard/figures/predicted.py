"""Actual beside predicted times of a product's steps: one panel a milestone, a ribbon upwards from
early to late over the likely time."""

from __future__ import annotations

import math
from collections.abc import Sequence

from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.logbook.predictions import Prediction, StepPredictions
from curewatch.vocabulary import in_words
from curewatch.wording import log_words
from dashboard.figures.lines import panel_title, soft_ribbon
from dashboard.figures.palette import Figure, Screen, axis, ground, palette
from dashboard.figures.sizes import rows_px

MOST = 4.0
_TICKS = {0.25: "¼", 0.5: "half", 1.0: "as predicted", 2.0: "twice", 4.0: "4 times"}
_PANEL_EM, _BETWEEN_EM, _HALF = 9.5, 3.2, 0.17


@frozen
class PredictedPoint:
    """A step's early, late, found and not-yet times over its likely one [-]."""

    step: int
    prediction: Prediction
    early: float
    late: float
    seen: float | None
    not_yet: float | None

    @property
    def inside(self) -> bool:
        """Whether it was found between early and late."""
        return self.seen is not None and self.early <= self.seen <= self.late


Placed = tuple[int, PredictedPoint]


def _point(step: int, prediction: Prediction) -> PredictedPoint | None:
    likely, seen, not_yet = prediction.likely_min, prediction.seen_min, prediction.not_min
    if not likely or prediction.early_min is None or prediction.late_min is None:
        return None
    if seen is None and not_yet is None:
        return None
    return PredictedPoint(
        step,
        prediction,
        prediction.early_min / likely,
        prediction.late_min / likely,
        None if seen is None else seen / likely,
        None if not_yet is None else not_yet / likely,
    )


def tested(courses: Sequence[StepPredictions]) -> dict[str, list[PredictedPoint]]:
    """The tested steps of each milestone, the earliest first."""
    predicted_points: dict[str, list[PredictedPoint]] = {}
    for course in reversed(courses):
        for prediction in course.predictions:
            if (point := _point(course.step.id, prediction)) is not None:
                predicted_points.setdefault(prediction.milestone, []).append(point)
    return predicted_points


def sentence(points: Sequence[PredictedPoint], say: ReaderFormat) -> str:
    """How the tests of one milestone fell out."""
    bands = [(point.early, point.seen, point.late) for point in points if point.seen is not None]
    return log_words.hits(bands, say)


def _cut(ratio: float) -> float:
    """Inside the panel. [-]"""
    return min(max(ratio, 1 / MOST), MOST)


def _bands(points: Sequence[Placed], yaxis: str, screen: Screen) -> list[Figure]:
    """Each prediction as a ribbon upwards, deepest at its likely time, which is a line across."""
    dim = palette(screen.theme)["dim"]
    ribbons = [_ribbon(placed, dim, yaxis) for placed in points]
    wide, likely = screen.font_px * 0.9, {"width": 3, "color": dim}
    look = {"symbol": "line-ew", "size": wide, "line": likely}
    return [*ribbons, _marks(points, [1.0] * len(points), look, yaxis)]


def _ribbon(placed: Placed, colour: str, yaxis: str) -> Figure:
    at, point = placed
    low, high = _cut(point.early), _cut(point.late)
    likely = math.log(1 / low) / math.log(high / low) if high > low else 0.5
    ribbon = soft_ribbon((at - _HALF, at + _HALF), (low, high), likely, True, colour)
    return ribbon | {"text": _hover(point), "yaxis": yaxis}


def _hover(point: PredictedPoint) -> str:
    prediction = point.prediction
    head = f"step {point.step}<br>{log_words.predicted(prediction)}"
    return f"{head}<br>{log_words.found(prediction)}"


def _marks(points: Sequence[Placed], values: Sequence[float], look: Figure, yaxis: str) -> Figure:
    return {
        "type": "scatter",
        "mode": "markers",
        "x": [at for at, _ in points],
        "y": [_cut(value) for value in values],
        "marker": look,
        "hoverinfo": "text",
        "text": [_hover(point) for _, point in points],
        "yaxis": yaxis,
    }


def _tests(points: Sequence[Placed], yaxis: str, screen: Screen) -> list[Figure]:
    """A dot where it was found inside, a square where it was not, a triangle for not yet."""
    colours, size = palette(screen.theme), screen.font_px * 0.85
    edge = {"width": 2, "color": colours["bg"]}
    traces = []
    for inside, symbol, colour in ((True, "circle", "link"), (False, "square", "stop")):
        seen = [(at, p) for at, p in points if p.seen is not None and p.inside == inside]
        if seen:
            look = {"symbol": symbol, "size": size, "color": colours[colour], "line": edge}
            traces.append(_marks(seen, [p.seen or 0.0 for _, p in seen], look, yaxis))
    waiting = [(at, p) for at, p in points if p.seen is None and p.not_yet is not None]
    if waiting:
        pen = {"width": 3, "color": colours["fg"]}
        look = {"symbol": "triangle-up-open", "size": size, "color": colours["fg"], "line": pen}
        traces.append(_marks(waiting, [p.not_yet or 0.0 for _, p in waiting], look, yaxis))
    return traces


def _level(yref: str, screen: Screen) -> Figure:
    pen = {"color": palette(screen.theme)["fg"], "width": 1.5, "dash": "dot"}
    line = {"type": "line", "xref": "paper", "x0": 0, "x1": 1, "yref": yref, "y0": 1, "y1": 1}
    return line | {"line": pen, "layer": "below"}


def _y_axis(domain: list[float], screen: Screen) -> Figure:
    return axis(
        screen,
        type="log",
        domain=domain,
        range=[math.log10(1 / MOST) - 0.06, math.log10(MOST) + 0.06],
        tickvals=list(_TICKS),
        ticktext=list(_TICKS.values()),
    )


def figure(courses: Sequence[StepPredictions], screen: Screen) -> Figure:
    """The whole figure: the milestones above each other, the steps from left to right."""
    predicted_points, px = tested(courses), screen.font_px
    layout, traces = ground(screen), list[Figure]()
    height = rows_px(len(predicted_points) * (_PANEL_EM + _BETWEEN_EM) * px + 2 * px)
    inner = height - 4 * px
    gap, room = _BETWEEN_EM * px / inner, 1 / max(len(predicted_points), 1)
    steps = sorted({point.step for points in predicted_points.values() for point in points})
    for number, (milestone, points) in enumerate(predicted_points.items()):
        top = 1 - number * room
        key = "y" if number == 0 else f"y{number + 1}"
        domain = [max(top - room + (gap if number + 1 < len(predicted_points) else 0), 0.0), top]
        layout[key.replace("y", "yaxis")] = _y_axis(domain, screen)
        placed = [(steps.index(point.step), point) for point in points]
        traces += [*_bands(placed, key, screen), *_tests(placed, key, screen)]
        layout["annotations"].append(panel_title(in_words(milestone), top))
        layout["shapes"].append(_level(key, screen))
    apart = max(math.ceil(len(steps) * 4 * px / screen.width_px), 1)
    shown = {at: f"step {step}" for at, step in enumerate(steps) if at % apart == 0}
    layout["xaxis"] = axis(
        screen, tickvals=list(shown), ticktext=list(shown.values()), showgrid=False,
        anchor="free", position=0, range=[-0.6, max(len(steps), 5) - 0.4],
    )  # fmt: skip
    layout |= {
        "height": height,
        "margin": {"l": px * 6.2, "r": px * 0.5, "t": px * 2, "b": px * 2},
        "hovermode": "closest",
        "dragmode": False,
    }
    return {"data": traces, "layout": layout}
