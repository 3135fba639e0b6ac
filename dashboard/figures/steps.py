"""Steps as bars on a time axis, as few lanes as keep them apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import Any

from curewatch.store.store import StepSummary
from curewatch.walltime import to_ms
from dashboard.figures.palette import Screen, palette
from dashboard.figures.sizes import cut, text_px

MOST_LANES = 5
_BAR = 0.72
_LEAST_READ = 9
"""Of a longer name so many letters are needed to tell what it is."""


def lanes(
    steps: Sequence[StepSummary], now: datetime, apart: timedelta
) -> list[tuple[int, StepSummary]]:
    """Each step with its lane, 0 the highest, so that none covers another; `apart` is kept free
    between two of one lane. What finds no lane is left out."""
    free: list[datetime] = []
    placed = []
    for step in sorted(steps, key=lambda summary: summary.row.mixed_at):
        begun, ends = step.row.mixed_at, step.row.closed_at or now
        lane = next((n for n, until in enumerate(free) if until + apart <= begun), len(free))
        if lane == MOST_LANES:
            continue
        free[lane : lane + 1] = [ends]
        placed.append((lane, step))
    return placed


def bar(
    lane: int,
    begun_ms: int,
    ends_ms: int,
    on_bench: bool,
    text: str,
    yaxis: str,
    screen: Screen,
    edges: tuple[float, float] = (-_BAR / 2, _BAR / 2),
) -> dict[str, Any]:
    """One bar as a trace that tells what it is when touched. [ms]; edges: its top and foot, from
    the middle of its lane [-]"""
    colours = palette(screen.theme)
    top, foot = (lane + edge for edge in edges)
    return {
        "type": "scatter",
        "mode": "lines",
        "x": [begun_ms, ends_ms, ends_ms, begun_ms, begun_ms],
        "y": [top, top, foot, foot, top],
        "fill": "toself",
        "fillcolor": colours["workable" if on_bench else "cured"],
        "line": {"width": 1.5, "color": colours["edge"]},
        "hoveron": "fills",
        "hoverinfo": "text",
        "text": text,
        "yaxis": yaxis,
    }


def bars(
    steps: Sequence[StepSummary],
    window: tuple[datetime, datetime],
    now: datetime,
    tell: Callable[[StepSummary], tuple[str, str]],
    yaxis: str,
    screen: Screen,
) -> tuple[list[dict[str, Any]], list[dict[str, Any]], int]:
    """The bars of a stretch, the names that fit into them, and how many lanes there are."""
    start, end = window
    per_px = (end - start) / max(screen.width_px * 0.85, 1)
    traces, names, count = [], [], 0
    for lane, step in lanes(steps, now, 6 * per_px):
        begun, ends = max(step.row.mixed_at, start), min(step.row.closed_at or now, end)
        if ends <= begun:
            continue
        on_bench = step.row.closed_at is None
        count = max(count, lane + 1)
        title, when = tell(step)
        bounds = (to_ms(begun), to_ms(max(ends, begun + 2 * per_px)))
        traces.append(bar(lane, *bounds, on_bench, f"{title}<br>{when}", yaxis, screen))
        room_px = (ends - begun) / per_px
        label = step.part or title
        if room_px > text_px(label[:_LEAST_READ], screen.font_px):
            names.append(
                _name(cut(label, screen.font_px, room_px - 8), lane, begun, yaxis, on_bench, screen)
            )
    return traces, names, count


def _name(
    text: str, lane: int, begun: datetime, yaxis: str, on_bench: bool, screen: Screen
) -> dict[str, Any]:
    colour = "#14110a" if on_bench else palette(screen.theme)["fg"]
    return {
        "text": text,
        "x": to_ms(begun),
        "y": lane,
        "yref": yaxis,
        "xanchor": "left",
        "xshift": 4,
        "showarrow": False,
        "font": {"color": colour, "size": screen.font_px * 0.9},
    }
