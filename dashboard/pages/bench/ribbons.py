"""The ribbons of the bench: which steps have one, in what room, on which stretch of time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import dcc, html
from flask import request

from curewatch.bench.views import BenchView, StepView
from curewatch.formats import ReaderFormat
from curewatch.notice_words import sentences
from curewatch.walltime import from_ms
from curewatch.wording import words
from dashboard.figures.palette import Screen
from dashboard.figures.ribbons import axis
from dashboard.figures.ribbons.figure import RibbonPicture, picture
from dashboard.figures.ribbons.lanes import RibbonRoom, RibbonRow, name_fits
from dashboard.figures.ribbons.of_step import lane_of, said_of
from dashboard.request.device import screen_of
from dashboard.request.numbers import MOST_MS, number_of

FIGURE, BOX = "ribbons-figure", "ribbons"
MOST = 12
_HEIGHT_PX = {"garage": 400.0, "desk": 420.0, "phone": 0.0}
_LEAST_ROW_PX = 17.0
TIGHT = 6
_BUTTON_PX, _WIDE_PX, _BUTTONS_PX = 74.0, 1384.0, (98.0, 126.0)
Look = Mapping[str, Any]


def _pixels(value: Any, usual: float, least: float, most: float) -> float:
    ok = isinstance(value, int | float) and value == value
    return min(max(float(value), least), most) if ok else usual


def _noted() -> Look:
    """The room as the device noted it when it last looked at the bench."""
    wide, _, high = request.cookies.get("room", "").partition("x")
    sides = {"w": number_of(wide), "h": number_of(high)}
    return {name: value for name, value in sides.items() if value}


def room_of(look: Look | None) -> RibbonRoom:
    """The room that a device measured for its ribbons; its screen's usual before it has."""
    screen = screen_of(request)
    look = look if isinstance(look, Mapping) and look else _noted()
    layout, theme = (str(look.get(name, "")) for name in ("layout", "theme"))
    layout = layout if layout in _HEIGHT_PX else screen.layout
    theme = theme if theme in ("dark", "light") else screen.theme
    width = _pixels(look.get("w"), screen.width_px, 120, 4000)
    height = _pixels(look.get("h"), _HEIGHT_PX[layout], 100, 3000)
    return RibbonRoom(width, height, Screen(theme, layout, width))


def most_lanes(room: RibbonRoom) -> int:
    """How many ribbons have a row that can be read; the phone gives each its row."""
    if room.screen.layout == "phone":
        return MOST
    return max(min(MOST, int((room.height - 2 * room.axis_px) / _LEAST_ROW_PX)), 2)


def shown(view: BenchView, room: RibbonRoom) -> tuple[StepView, ...]:
    """The steps that get a ribbon: all, or as many as come next."""
    most = most_lanes(room)
    if len(view.steps) <= most:
        return view.steps
    order = list(dict.fromkeys(due.step.id for due in view.due))
    ranked = sorted(view.steps, key=lambda s: order.index(s.id) if s.id in order else len(order))
    chosen = {step.id for step in ranked[:most]}
    return tuple(step for step in view.steps if step.id in chosen)


def stretch_of(view: BenchView, chosen: Sequence[Any] | None) -> axis.Stretch:
    """The stretch of time shown: the one that a hand chose, else the one the bench needs."""
    span = request.cookies.get("span", "")
    wanted = axis.choose(view, float(span) if span in map(str, axis.CHOICES_MIN) else None)
    whole = isinstance(chosen, list) and len(chosen) == 2
    ends = [number_of(str(end)) for end in chosen or []] if whole else []
    ends_ms = [number for number in ends if number is not None and number <= MOST_MS]
    if len(ends_ms) != 2 or ends_ms[1] - ends_ms[0] < 60_000:
        return wanted
    return from_ms(ends_ms[0]), from_ms(ends_ms[1])


def drawn(
    view: BenchView,
    room: RibbonRoom,
    chosen: Sequence[Any] | None,
    say: ReaderFormat,
    otherwise: Mapping[int, StepView] | None = None,
    wondered: str = "",
) -> RibbonPicture:
    """The picture of the bench's steps; otherwise: how some would be if it were as wondered."""
    steps, names = shown(view, room), words.step_names(view.steps, view.now, say)
    other = otherwise or {}
    lanes = [lane_of(s, names[s.id], view.now, say, other.get(s.id), wondered) for s in steps]
    return picture(lanes, stretch_of(view, chosen), view.now, room, say, view.track)


def _style(row: RibbonRow, room: RibbonRoom, tight: bool) -> dict[str, str]:
    """Where a name stands; clear of the axis' button, which is elsewhere where it is tight."""
    names_px = room.names_px
    font = f"{min(row.font_px * 1.05, row.height):.1f}px"
    if not names_px:
        return {"top": f"{row.top:.0f}px", "height": f"{row.height:.0f}px", "fontSize": font}
    top, high = row.bar_top, row.bar_height
    beside = not tight and top + high > room.height - _BUTTON_PX
    width = names_px - (_BUTTONS_PX[room.width > _WIDE_PX] if beside else 14)
    style = {"top": f"{top:.0f}px", "height": f"{high:.0f}px", "fontSize": font}
    return style | {"width": f"{width:.0f}px"}


def _name(
    row: RibbonRow, step: StepView, view: BenchView, say: ReaderFormat, room: RibbonRoom
) -> Any:
    attributes: dict[str, Any] = {"aria-label": said_of(step, row.lane.name, view.now, say)}
    wide = room.names_px
    detail = html.Small(row.lane.detail) if not wide or name_fits(row) else None
    way = html.A(
        [html.B(row.lane.name), detail], href=row.lane.href, id=f"lane-{step.id}", **attributes
    )
    return html.Li(way, style=_style(row, room, len(view.steps) > TIGHT))


def names(
    ribbons: RibbonPicture, view: BenchView, room: RibbonRoom, say: ReaderFormat
) -> list[Any]:
    """The names beside the ribbons, each the way to its step; under them the place measured."""
    by_id = {f"/step/{step.id}": step for step in view.steps}
    rows = [_name(row, by_id[row.lane.href], view, say, room) for row in ribbons.rows.rows]
    if view.track and ribbons.rows.track and room.names_px:
        top, foot = ribbons.rows.track
        style = {"top": f"{top:.0f}px", "height": f"{foot - top:.0f}px", "fontSize": "inherit"}
        text = _measured(view)
        rows.append(html.Li([html.B(view.track.place), html.Small(text)], style=style))
    if view.track:
        rows.append(html.Li(temperature_said(view, say), className="unseen"))
    return rows


def _measured(view: BenchView) -> str:
    track = view.track
    if track is None or not track.times:
        return "not measured"
    by_air = track.led is not None and track.led.source.quantity == "air_temperature"
    return "from the air" if by_air else "measured"


def plain_names(view: BenchView, say: ReaderFormat) -> list[Any]:
    """The ribbons in words, before the picture is there."""
    named = words.step_names(view.steps, view.now, say)
    return [
        html.Li(html.A(said_of(step, named[step.id], view.now, say), href=f"/step/{step.id}"))
        for step in view.steps
    ]


def temperature_said(view: BenchView, say: ReaderFormat) -> str:
    """The temperature under the ribbons in a sentence, for those who do not see it."""
    track = view.track
    if track is None:
        return ""
    now = say.temperature(track.surface_c[-1]) if track.surface_c else "nothing measured"
    return f"{track.place}: {now}. {sentences(track.basis, say)}"


def chart(figure: Mapping[str, Any]) -> html.Div:
    """The picture's place on the page."""
    graph = dcc.Graph(
        id=FIGURE,
        figure=figure,
        config={
            "displayModeBar": False,
            "doubleClick": False,
            "showTips": False,
            "scrollZoom": True,
            "showAxisDragHandles": False,
        },
        responsive=False,
    )
    attributes: dict[str, Any] = {"aria-hidden": "true"}
    return html.Div(graph, className="lane-chart", **attributes)


def below(view: BenchView, room: RibbonRoom, say: ReaderFormat) -> html.P | None:
    """The steps that have no ribbon, what comes first first."""
    on_screen = {step.id for step in shown(view, room)}
    left = [step for step in view.steps if step.id not in on_screen]
    if not left:
        return None
    named = words.step_names(view.steps, view.now, say)
    ways = [html.Span(html.A(named[step.id], href=f"/step/{step.id}")) for step in left]
    return html.P([html.Span(f"also curing, {len(left)}: "), *ways], className="rest")
