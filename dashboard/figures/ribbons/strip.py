"""The week's plan as a strip: evenings wide, nights narrow; what the hands do solid, time in hand
outlined, what cures pale with a soft end; the panel's temperature on the same axis. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from dashboard.figures.lines import area, line
from dashboard.figures.palette import Figure, Screen, axis, faded, ground, palette
from dashboard.figures.ribbons.course import Heights
from dashboard.figures.ribbons.folded import FoldedAxis, FoldedSpell, FoldedStretch
from dashboard.figures.sizes import cut, rows_px, text_px

READER = "reader"
HEAD_EM, ROW_EM, TRACK_EM, FOOT_EM, NAMES_EM = 4.2, 3.6, 6.0, 0.8, 9.0
_HANDS, _CURES = (0.28, 0.72), (0.72, 0.95)
_COLOURS = {"adhesive": "setting-mark", "filler": "workable", "primer": "outlook", "": "edge"}
_SOFT = (0.5, 0.36, 0.24, 0.12)
_NEAR_C, _LEAST_RANGE_C = 15.0, 4.0


@frozen
class StripStep:
    """A step of a part's row: hands from start to end, begun by latest at the latest; ready: when
    what cures is there, at the earliest, likely, at the latest; number: its name in the list,
    text: what it is in words."""

    row: int
    number: int
    kind: str
    start: datetime
    end: datetime
    latest: datetime
    ready: Sequence[datetime | None]
    text: str


@frozen
class StripPart:
    """A part's row: its name, and when the hands are off its last step."""

    name: str
    done: datetime | None


@frozen
class StripCourse:
    """The panel's forecast: at times, likely, and between cool and warm. [C]"""

    times: Sequence[datetime]
    likely_c: Sequence[float]
    cool_c: Sequence[float]
    warm_c: Sequence[float]


@frozen
class StripDrawing:
    """What is drawn; minimums: below which temperatures products stop curing, in words [C]."""

    now: datetime
    spells: Sequence[FoldedSpell]
    parts: Sequence[StripPart]
    steps: Sequence[StripStep]
    course: StripCourse
    minimums: Sequence[tuple[str, float]]
    say: ReaderFormat
    screen: Screen

    @property
    def height_px(self) -> int:
        """How high it is. [px]"""
        em = HEAD_EM + ROW_EM * len(self.parts) + TRACK_EM + FOOT_EM
        return rows_px(em * self.screen.font_px)

    @property
    def axis(self) -> FoldedAxis:
        """Its folded axis."""
        font = self.screen.font_px
        return FoldedAxis(self.now, self.spells, NAMES_EM * font, self.screen.width_px - font)

    def row_y(self, row: int, share: float) -> float:
        """Where a share of a row's height stands from the top. [px]"""
        return (HEAD_EM + (row + share) * ROW_EM) * self.screen.font_px


def _box(left: float, right: float, top: float, foot: float, colour: str) -> Figure:
    shape = {"type": "rect", "x0": left, "x1": right, "y0": top, "y1": foot}
    return shape | {"fillcolor": colour, "line": {"width": 0}, "layer": "below"}


def _note(text: str, x: float, y: float, colour: str, size: float, anchor: str) -> Figure:
    note = {"text": text, "x": x, "y": y, "xanchor": anchor, "yanchor": "middle"}
    return note | {"showarrow": False, "font": {"color": colour, "size": round(size, 1)}}


def _bold(text: str, x: float, y: float, colour: str, size: float, anchor: str) -> Figure:
    note = _note(text, x, y, colour, size, anchor)
    return note | {"font": note["font"] | {"weight": 700}}


def _nights(drawn: StripDrawing) -> Iterator[Figure]:
    """Nights shaded, and over each spell how long it may be loud."""
    colours, font = palette(drawn.screen.theme), drawn.screen.font_px
    top, folded = HEAD_EM * font, drawn.axis
    for stretch in folded.stretches:
        if stretch.spell is None:
            shade = faded(colours["edge"], 0.22)
            yield _box(stretch.left, stretch.right, top, drawn.height_px, shade)
        elif stretch.spell.loud_end > stretch.start:
            right = folded.x(min(stretch.spell.loud_end, stretch.end))
            yield _box(stretch.left, right, top - font * 0.35, top, colours["dim"])


def _span(stretch: FoldedStretch, spell: FoldedSpell, say: ReaderFormat) -> str:
    return f"{say.time_of_day(stretch.start)} to {say.time_of_day(spell.end)}"


def _heads(drawn: StripDrawing) -> Iterator[Figure]:
    """The day over each spell, with its hours where they fit."""
    colours, font, say = palette(drawn.screen.theme), drawn.screen.font_px, drawn.say
    for stretch, spell in drawn.axis.there():
        local, middle = say.local(stretch.start), (stretch.left + stretch.right) / 2
        room = stretch.right - stretch.left
        yield _bold(f"{local:%a} {local.day}", middle, font * 0.9, colours["fg"], font, "center")
        hours = _span(stretch, spell, say)
        if text_px(hours, font * 0.72) < room:
            yield _note(hours, middle, font * 2.3, colours["dim"], font * 0.75, "center")
    loud = _note("may be loud", NAMES_EM * font - 6, (HEAD_EM - 0.2) * font, colours["dim"],
                 font * 0.75, "right")  # fmt: skip
    yield loud


def _names(drawn: StripDrawing) -> Iterator[Figure]:
    colours, font = palette(drawn.screen.theme), drawn.screen.font_px
    for row, part in enumerate(drawn.parts):
        text = cut(part.name, font, (NAMES_EM - 0.5) * font)
        y = drawn.row_y(row, sum(_HANDS) / 2)
        yield _bold(text, NAMES_EM * font - 6, y, colours["fg"], font, "right")


def _colour(step: StripStep, drawn: StripDrawing) -> str:
    return palette(drawn.screen.theme)[_COLOURS.get(step.kind, "ready")]


def _cures(step: StripStep, drawn: StripDrawing, folded: FoldedAxis) -> Iterator[Figure]:
    """What cures: pale until it may be ready at the earliest, then ever paler."""
    if not step.ready or step.ready[0] is None:
        return
    colour, early = _colour(step, drawn), step.ready[0]
    late = step.ready[-1] or folded.end
    top, foot = (drawn.row_y(step.row, share) for share in _CURES)
    start, soft = folded.x(step.end), (late - early) / len(_SOFT)
    yield _box(start, folded.x(early), top, foot, faded(colour, 0.6))
    for place, share in enumerate(_SOFT):
        left, right = (folded.x(early + soft * more) for more in (place, place + 1))
        yield _box(left, right, top, foot, faded(colour, share))


def _hands(step: StripStep, drawn: StripDrawing, folded: FoldedAxis) -> Iterator[Figure]:
    """What the hands do, and how much later it may be begun."""
    top, foot = (drawn.row_y(step.row, share) for share in _HANDS)
    start, end = folded.x(step.start), folded.x(step.end)
    yield _box(start, end, top, foot, _colour(step, drawn))
    spare = step.latest - step.start
    tonight = next((s for s in folded.stretches if s.start <= step.start < s.end), None)
    if spare <= timedelta() or tonight is None:
        return
    later = folded.x(min(step.end + spare, tonight.end))
    pen = {"color": palette(drawn.screen.theme)["fg"], "width": 1.5}
    yield _box(end, later, top, foot, "rgba(0,0,0,0)") | {"line": pen}


def _numbers(drawn: StripDrawing, folded: FoldedAxis) -> Iterator[Figure]:
    """The number of each step above its beginning, where the one before leaves room."""
    colours, font = palette(drawn.screen.theme), drawn.screen.font_px * 0.75
    used: dict[int, float] = {}
    for step in drawn.steps:
        x = folded.x(step.start)
        if x - used.get(step.row, -1e9) > font * 1.1:
            used[step.row] = x
            y = drawn.row_y(step.row, _HANDS[0]) - font * 0.55
            yield _note(str(step.number), x, y, colours["fg"], font, "left")


def _ends(drawn: StripDrawing, folded: FoldedAxis) -> Iterator[Figure]:
    """When the hands are off the last step of each part, as a line."""
    pen = {"color": palette(drawn.screen.theme)["stop"], "width": 3}
    for row, part in enumerate(drawn.parts):
        if part.done is not None and part.done <= folded.end:
            x, (top, foot) = folded.x(part.done), (drawn.row_y(row, share) for share in (0.14, 1.0))
            yield {"type": "line", "x0": x, "x1": x, "y0": top, "y1": foot, "line": pen}


def _reader(drawn: StripDrawing, folded: FoldedAxis) -> Figure:
    """An unseen mark on each step that says what it is."""
    steps = drawn.steps
    return {
        "type": "scatter",
        "mode": "markers",
        "name": READER,
        "x": [(folded.x(step.start) + folded.x(step.end)) / 2 for step in steps],
        "y": [drawn.row_y(step.row, sum(_HANDS) / 2) for step in steps],
        "text": [f"{step.number}. {step.text}" for step in steps],
        "hovertemplate": "%{text}<extra></extra>",
        "marker": {"opacity": 0, "size": drawn.screen.font_px},
    }


def _scale(drawn: StripDrawing) -> Heights:
    seen = [*drawn.course.cool_c, *drawn.course.warm_c]
    middle = sum(seen) / len(seen)
    seen += [value for _, value in drawn.minimums if abs(value - middle) < _NEAR_C]
    spare = max(_LEAST_RANGE_C - (max(seen) - min(seen)), 1.5) / 2
    font = drawn.screen.font_px
    top = drawn.row_y(len(drawn.parts), 0.0) + font * 0.6
    return Heights(min(seen) - spare, max(seen) + spare, top, drawn.height_px - FOOT_EM * font)


def _track(drawn: StripDrawing, folded: FoldedAxis, scale: Heights) -> Iterator[Figure]:
    colours, course = palette(drawn.screen.theme), drawn.course
    x = [folded.x(at) for at in course.times]
    cool, warm, likely = (
        [scale.y(value) for value in values]
        for values in (course.cool_c, course.warm_c, course.likely_c)
    )
    yield area(x, cool, warm) | {"fillcolor": faded(colours["outlook"], 0.28)}
    yield line(x, likely, colours["outlook"], "solid", "y", max(2.0, drawn.screen.font_px / 9))


def _least(drawn: StripDrawing, scale: Heights) -> Iterator[tuple[Figure, Figure]]:
    """The temperatures below which products stop curing, each a line with its words."""
    colours, font, folded = palette(drawn.screen.theme), drawn.screen.font_px, drawn.axis
    pen = {"color": (red := colours["stop"]), "width": 2, "dash": "dot"}
    for words, value in drawn.minimums:
        if scale.shows(value):
            y = scale.y(value)
            shape = {"type": "line", "x0": folded.left, "x1": folded.right, "y0": y, "y1": y}
            note = _note(words, folded.left + 6, y - font * 0.6, red, font * 0.8, "left")
            yield shape | {"line": pen}, note | {"bgcolor": faded(colours["bg"], 0.75)}


def _degrees(drawn: StripDrawing, scale: Heights) -> Iterator[Figure]:
    """The lowest and the highest temperature that is expected, at the left."""
    colours, font = palette(drawn.screen.theme), drawn.screen.font_px
    for value in (min(drawn.course.likely_c), max(drawn.course.likely_c)):
        text = drawn.say.temperature(value, 0)
        y = scale.y(value)
        yield _note(text, NAMES_EM * font - 6, y, colours["dim"], font * 0.75, "right")


def figure(drawn: StripDrawing) -> Figure:
    """The whole strip."""
    folded, scale, layout = drawn.axis, _scale(drawn), ground(drawn.screen)
    least = list(_least(drawn, scale))
    blocks = [_cures, _hands]
    layout["shapes"] = [
        *_nights(drawn),
        *(
            shape
            for piece in blocks
            for step in drawn.steps
            for shape in piece(step, drawn, folded)
        ),
        *_ends(drawn, folded),
        *(shape for shape, _ in least),
    ]
    layout["annotations"] = [
        *_heads(drawn),
        *_names(drawn),
        *_numbers(drawn, folded),
        *_degrees(drawn, scale),
        *(note for _, note in least),
    ]
    none = {"showgrid": False, "showticklabels": False}
    layout |= {
        "height": drawn.height_px,
        "margin": {"l": 0, "r": 0, "t": 0, "b": 0},
        "hovermode": "closest",
        "hoverdistance": 40,
        "dragmode": False,
        "xaxis": axis(drawn.screen, range=[0, drawn.screen.width_px], **none),
        "yaxis": axis(drawn.screen, range=[drawn.height_px, 0], **none),
    }
    return {"data": [*_track(drawn, folded, scale), _reader(drawn, folded)], "layout": layout}
