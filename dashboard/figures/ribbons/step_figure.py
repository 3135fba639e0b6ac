"""A step on its own: its ribbon, what was done and seen, and the air it had, in one figure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from curewatch.climate.series import Interval
from curewatch.frozen import frozen
from curewatch.logbook.air_history import AirHistory
from curewatch.walltime import to_ms
from dashboard.figures import air
from dashboard.figures.air import AirDrawing
from dashboard.figures.lines import shades
from dashboard.figures.palette import Figure, axis, faded, palette
from dashboard.figures.ribbons.figure import picture
from dashboard.figures.ribbons.lanes import RibbonLane, RibbonRoom

SYMBOLS = {
    "reached": ("circle", "done"),
    "not yet": ("triangle-up-open", "amber"),
    "dab": ("diamond", "amber"),
    "coat": ("square", "link"),
    "clamps": ("bowtie", "link"),
    "photograph": ("star-square", "fg"),
    "other": ("circle-open", "dim"),
}
"""Sign and colour of each kind of mark, so that they differ in both."""
_RIBBON, _MARKS = "y8", "y9"
_TALLER = 1.4
"""How much higher than the air alone, so that its parts stand as far apart as there; as the style
sheet has it. [-]"""


@frozen
class StepMark:
    """Something done or seen at an instant; hover: what it says when it is touched."""

    kind: str
    at: datetime
    hover: str


@frozen
class StepDrawing:
    """A step's ribbon, its marks and the heat on it, beside the history of its air."""

    lane: RibbonLane
    marks: Sequence[StepMark]
    heated: Sequence[Interval]


def _lower(figure: Figure, share: float) -> None:
    """Move what is drawn into the lower share of the height. [-]"""
    layout = figure["layout"]
    for name in [key for key in layout if key.startswith("yaxis")]:
        layout[name]["domain"] = [edge * share for edge in layout[name]["domain"]]
    for note in layout["annotations"]:
        if note.get("yref") == "paper":
            note["y"] *= share


def _ribbon(step: StepDrawing, history: AirHistory, drawn: AirDrawing) -> tuple[Figure, float]:
    """The ribbon alone, and how high it is. [px]"""
    screen = drawn.screen
    wide = RibbonRoom(screen.width_px, 0, screen)
    inner_px = screen.width_px - 3.6 * screen.font_px
    room = replace(wide, width=inner_px + wide.names_px, height=screen.font_px * 7)
    lane = replace(step.lane, name="", detail="")
    ribbon = picture([lane], (history.start, history.end), drawn.now, room, drawn.say)
    if not history.start < drawn.now < history.end:  # the flag of now, which comes last
        ribbon.figure["layout"]["shapes"].pop()
        ribbon.figure["layout"]["annotations"].pop()
    return ribbon.figure, ribbon.rows.height - room.axis_px


def _onto(part: Figure, figure: Figure, height_px: float, domain: list[float]) -> None:
    """Put the ribbon on its own axis of the figure."""
    figure["data"] += [trace | {"yaxis": _RIBBON} for trace in part["data"]]
    layout = figure["layout"]
    for name in ("shapes", "annotations"):
        pieces = [piece for piece in part["layout"][name] if piece.get("yref", "y") == "y"]
        layout[name] += [piece | {"yref": _RIBBON} for piece in pieces]
    layout["yaxis8"] = part["layout"]["yaxis"] | {"domain": domain, "range": [height_px, 0]}
    layout["yaxis8"]["anchor"] = "x"


def _marks(marks: Sequence[StepMark], drawn: AirDrawing) -> Figure:
    colours, px = palette(drawn.screen.theme), drawn.screen.font_px
    looks = [SYMBOLS.get(mark.kind, SYMBOLS["other"]) for mark in marks]
    return {
        "type": "scatter",
        "mode": "markers",
        "x": [to_ms(mark.at) for mark in marks],
        "y": [0.0] * len(marks),
        "marker": {
            "symbol": [symbol for symbol, _ in looks],
            "size": px * 0.8,
            "color": [colours[colour] for _, colour in looks],
            "line": {"width": 1.5, "color": colours["bg"]},
        },
        "hovertemplate": "%{text}<extra></extra>",
        "text": [mark.hover for mark in marks],
        "yaxis": _MARKS,
    }


def figure(step: StepDrawing, history: AirHistory, drawn: AirDrawing) -> Figure:
    """The whole figure: ribbon, marks, then the air as the air's page shows it."""
    whole = air.figure(replace(history, steps=()), drawn)
    layout, px, screen = whole["layout"], drawn.screen.font_px, drawn.screen
    layout["height"] *= _TALLER
    part, ribbon_px = _ribbon(step, history, drawn)
    inner_px = layout["height"] - layout["margin"]["t"] - layout["margin"]["b"]
    ribbon, marks = ribbon_px / inner_px, 1.6 * px / inner_px
    _lower(whole, 1 - ribbon - marks - 1.6 * px / inner_px)
    _onto(part, whole, ribbon_px, [1 - ribbon, 1])
    layout["yaxis9"] = axis(
        screen, domain=[1 - ribbon - marks, 1 - ribbon], range=[-1, 1], showgrid=False,
        showticklabels=False, anchor="x",
    )  # fmt: skip
    whole["data"].append(_marks(step.marks, drawn))
    layout["shapes"] += shades(step.heated, "y", faded(palette(screen.theme)["amber"], 0.22))
    return whole
