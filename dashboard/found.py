"""Actual beside predicted times, over a product's steps: one drawing a milestone."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from markupsafe import Markup

from curewatch.logbook.predictions import Prediction, StepPredictions
from curewatch.products.sheet import Sheet
from curewatch.wording import words
from curewatch.wording.words import ReaderFormat

WIDE, HIGH, LEFT, RIGHT, TOP, BOTTOM = 640.0, 220.0, 74.0, 12.0, 14.0, 34.0
MOST = 4.0
MARKS = (0.25, 0.5, 1.0, 2.0, 4.0)
SAID = {0.25: "a quarter", 0.5: "half", 1.0: "as predicted", 2.0: "twice", 4.0: "4 times"}


@dataclass(frozen=True)
class Figure:
    """A milestone's drawing and its sentence."""

    milestone: str
    svg: str
    words: str

    @property
    def drawn(self) -> Markup:
        """The drawing as a page takes it."""
        return Markup(self.svg)


@dataclass(frozen=True)
class Point:
    """A step's early, late, found and not-yet times over its likely one (dimensionless)."""

    step: int
    early: float
    late: float
    seen: float | None
    not_yet: float | None


def names(ids: Iterable[str], shelf: Mapping[str, Sheet]) -> dict[str, str]:
    """The products' names by id, the id where the shelf has it no more."""
    return {id: words.short(shelf[id].name) if id in shelf else id for id in ids}


def _point(step: int, told: Prediction) -> Point | None:
    likely = told.likely_min
    if not likely or told.early_min is None or told.late_min is None:
        return None
    if told.seen_min is None and told.not_min is None:
        return None
    seen, not_yet = (
        None if each is None else each / likely for each in (told.seen_min, told.not_min)
    )
    return Point(step, told.early_min / likely, told.late_min / likely, seen, not_yet)


def _y(ratio: float) -> float:
    share = math.log(min(max(ratio, 1 / MOST), MOST) * MOST) / math.log(MOST * MOST)
    return HIGH - BOTTOM - (HIGH - BOTTOM - TOP) * share


def _mark(ratio: float) -> str:
    y, strong = _y(ratio), ' class="strong"' if ratio == 1.0 else ""
    return (
        f'<line{strong} x1="{LEFT}" x2="{WIDE - RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>'
        f'<text x="{LEFT - 6}" y="{y + 4:.1f}" text-anchor="end">{SAID[ratio]}</text>'
    )


def _drawn(index: int, point: Point, room: float) -> str:
    x, half = LEFT + room * (index + 0.5), min(9.0, room / 3)
    top, bottom = _y(point.late), _y(point.early)
    parts = [
        f'<rect class="band" x="{x - half:.1f}" y="{top:.1f}" width="{2 * half:.1f}" '
        f'height="{max(1.0, bottom - top):.1f}"/>'
    ]
    if point.not_yet is not None:
        y = _y(point.not_yet)
        parts.append(f'<path class="not" d="M{x - 5:.1f} {y:.1f} l5 -7 l5 7 z"/>')
    if point.seen is not None:
        parts.append(f'<circle class="seen" cx="{x:.1f}" cy="{_y(point.seen):.1f}" r="5"/>')
    return "".join(parts)


def _steps(points: Sequence[Point], room: float) -> str:
    every = max(1, math.ceil(38 / room))
    return "".join(
        f'<text x="{LEFT + room * (index + 0.5):.1f}" y="{HIGH - 14}" text-anchor="middle">'
        f"{point.step}</text>"
        for index, point in enumerate(points)
        if index % every == 0
    )


def drawing(milestone: str, points: Sequence[Point]) -> str:
    """The predicted bands and the actual times, one column a step, as SVG; '' for no step."""
    if not points:
        return ""
    room = (WIDE - LEFT - RIGHT) / len(points)
    label = escape(f"{words.in_words(milestone)}: actual beside predicted, step by step")
    parts = [*map(_mark, MARKS), *(_drawn(*each, room) for each in enumerate(points))]
    return (
        f'<svg class="found" viewBox="0 0 {WIDE:g} {HIGH:g}" role="img" aria-label="{label}">'
        f"{''.join(parts)}{_steps(points, room)}"
        f'<text x="{WIDE - RIGHT}" y="{HIGH - 2}" text-anchor="end">step</text></svg>'
    )


def _sentence(points: Sequence[Point], manner: ReaderFormat) -> str:
    seen = [each for each in points if each.seen is not None]
    if not seen:
        return "Not found reached by any test yet."
    inside = sum(1 for each in seen if each.early <= (each.seen or 0) <= each.late)
    middle = sorted(each.seen or 0 for each in seen)[len(seen) // 2]
    times = f"{middle:.2f}".replace(".", manner.decimal)
    return (
        f"{len(seen)} tested: {inside} found between early and late; the middle one after {times} "
        "times the likely time. A test tells only that it was reached by then, so it may have been "
        "sooner."
    )


def figures(courses: Sequence[StepPredictions], manner: ReaderFormat) -> list[Figure]:
    """One figure for each milestone that was tested, the earliest step first."""
    held: dict[str, list[Point]] = {}
    for course in reversed(courses):
        for told in course.predictions:
            point = _point(course.step.id, told)
            if point is not None:
                held.setdefault(told.milestone, []).append(point)
    return [
        Figure(name, drawing(name, points), _sentence(points, manner))
        for name, points in held.items()
    ]
