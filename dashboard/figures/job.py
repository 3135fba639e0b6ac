"""A job's calendar: one lane a part, its steps as bars over the days."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from curewatch.formats import ReaderFormat
from curewatch.store.store import StepSummary
from curewatch.walltime import to_ms
from dashboard.figures.palette import Figure, Screen, axis, ground, palette
from dashboard.figures.sizes import cut, rows_px, text_px
from dashboard.figures.steps import bar
from dashboard.figures.ticks import time_axis, time_ticks

MOST_LANES = 12
_LANE_EM, _LEAST = 2.9, timedelta(hours=12)
_BAR = (-0.04, 0.42)
NO_PART = "without a part"


def _lanes(steps: Sequence[StepSummary]) -> dict[str, list[StepSummary]]:
    """The steps by part, the part begun first on top; the last ones where there are too many."""
    summaries: dict[str, list[StepSummary]] = {}
    for step in sorted(steps, key=lambda summary: summary.row.mixed_at):
        summaries.setdefault(step.part or NO_PART, []).append(step)
    return dict(list(summaries.items())[-MOST_LANES:])


def _window(steps: Sequence[StepSummary], now: datetime) -> tuple[datetime, datetime]:
    first = min(step.row.mixed_at for step in steps)
    last = max(step.row.closed_at or now for step in steps)
    spare = max((last - first) * 0.03, (_LEAST - (last - first)) / 2)
    return first - spare, last + spare


def _name(
    text: str, lane: int, bars: tuple[int, int], start: int, ms_px: float, screen: Screen
) -> Figure:
    """The name beside its bars, behind them or else before them; over them where there is
    room on neither side. bars: from when to when [ms]; start: of the figure [ms]; ms_px: a pixel
    [ms]"""
    room_px = screen.width_px - 1.3 * screen.font_px
    wide_px = text_px(text, screen.font_px) + screen.font_px
    apart = round(screen.font_px * 0.4)
    note: Figure = {"text": text, "y": lane + sum(_BAR) / 2, "yanchor": "middle"}
    if (bars[1] - start) / ms_px + wide_px <= room_px:
        note |= {"xref": "x", "x": bars[1], "xanchor": "left", "xshift": apart}
    elif (bars[0] - start) / ms_px >= wide_px:
        note |= {"xref": "x", "x": bars[0], "xanchor": "right", "xshift": -apart}
    else:
        end = max(bars[1], start + round(min(wide_px, room_px) * ms_px))
        note |= {"text": cut(text, screen.font_px, room_px), "y": lane - 0.34}
        note |= {"xref": "x", "x": end, "xanchor": "right"}
    return note | {"showarrow": False, "font": {"color": palette(screen.theme)["fg"]}}


def figure(
    steps: Sequence[StepSummary],
    now: datetime,
    tell: Callable[[StepSummary], str],
    say: ReaderFormat,
    screen: Screen,
) -> Figure:
    """The whole figure; tell: what a step says when it is touched."""
    layout, px = ground(screen), screen.font_px
    lanes = _lanes(steps)
    start, end = _window(steps, now)
    least_ms = round((end - start).total_seconds() * 1000 / 250)
    traces = list[Figure]()
    ms_px = (to_ms(end) - to_ms(start)) / (screen.width_px - 1.3 * px)
    for lane, (part, own) in enumerate(lanes.items()):
        bars = []
        for step in own:
            begun = to_ms(step.row.mixed_at)
            until = max(to_ms(step.row.closed_at or now), begun + least_ms)
            text, open_ = tell(step), step.row.closed_at is None
            traces.append(bar(lane, begun, until, open_, text, "y", screen, _BAR))
            bars += [begun, until]
        layout["annotations"].append(
            _name(part, lane, (min(bars), max(bars)), to_ms(start), ms_px, screen)
        )
    most = max(3, round(screen.width_px * 0.9 / (px * 6)))
    ticks = time_ticks(start, end, most, say)
    layout["xaxis"] = time_axis(screen, start, end, ticks, fixedrange=False)
    layout["yaxis"] = axis(
        screen, range=[len(lanes) - 0.5, -0.55], showticklabels=False, showgrid=False
    )
    layout |= {
        "height": rows_px(len(lanes) * _LANE_EM * px + 3 * px),
        "margin": {"l": px * 0.3, "r": px, "t": px * 0.4, "b": px * 2},
        "hovermode": "closest",
        "dragmode": False if screen.layout == "phone" else "zoom",
    }
    return {"data": traces, "layout": layout}
