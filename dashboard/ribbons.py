"""The bench as one drawing: ribbons over a shared time axis, the panel's temperature below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from html import escape

from curewatch.bench.views import BenchView, StepView
from curewatch.wording import words
from curewatch.wording.words import ReaderFormat
from dashboard import axis as axes
from dashboard.axis import Axis
from dashboard.drawing import Size, cut, text_px
from dashboard.lettering import Word, divided, drawn_above, drawn_inside, words_of
from dashboard.segments import Segment, present, segments
from dashboard.track import temperature

MOST_LANES = 6
_PATTERNS = {
    "clamped": (14, 14, '<circle cx="4" cy="4" r="2.1"/><circle cx="11" cy="11" r="2.1"/>'),
    "setting": (14, 14, '<path d="M-2 16 16 -2M-9 9 9 -9M5 23 23 5" stroke-width="4"/>'),
    "ready": (20, 14, '<path d="M3 3.5H10M13 10.5H20" stroke-width="2.4"/>'),
    "window": (22, 22, '<path d="M-2 -2 24 24M-13 9 13 35M9 -13 35 13" stroke-width="2.4"/>'),
    "shut": (14, 14, '<path d="M0 0 14 14M14 0 0 14" stroke-width="2"/>'),
    "cured": (10, 10, '<path d="M0 5H10" stroke-width="1.6"/>'),
    "stalled": (24, 12, '<path d="M0 9 6 3 12 9 18 3 24 9" stroke-width="2" fill="none"/>'),
}


def _defs() -> str:
    found = []
    for kind, (wide, high, marks) in _PATTERNS.items():
        found.append(
            f'<pattern id="p-{kind}" class="mark-{kind}" width="{wide}" height="{high}" '
            f'patternUnits="userSpaceOnUse">{marks}</pattern>'
        )
    return f"<defs>{''.join(found)}</defs>"


def _fade(name: str, axis: Axis, part: Segment, top: float, high: float) -> str:
    """A mask that lets a stretch in between early and late of its beginning."""
    left, full = axis.x(part.start.early), axis.x(part.start.late)
    right = axis.x(part.end.late) if part.end else axis.right
    wide = max(right - left, 0.5)
    share = min(max((full - left) / wide, 0.0), 1.0)
    return (
        f'<linearGradient id="g-{name}"><stop offset="0" stop-color="#fff" stop-opacity="'
        f'{0 if share else 1}"/><stop offset="{share:.4f}" stop-color="#fff"/></linearGradient>'
        f'<mask id="m-{name}" maskUnits="userSpaceOnUse" x="{left:.1f}" y="{top:.1f}" '
        f'width="{wide:.1f}" height="{high:.1f}"><rect x="{left:.1f}" y="{top:.1f}" '
        f'width="{wide:.1f}" height="{high:.1f}" fill="url(#g-{name})"/></mask>'
    )


def _bar(name: str, axis: Axis, part: Segment, top: float, high: float) -> str:
    left = axis.x(part.start.early)
    right = axis.x(part.end.late) if part.end else axis.right
    if right - left < 0.5:
        return ""
    box = f'x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{high:.1f}"'
    marks = f'<rect {box} fill="url(#p-{part.kind})"/>' if part.kind in _PATTERNS else ""
    return (
        f"{_fade(name, axis, part, top, high)}"
        f'<g mask="url(#m-{name})"><rect {box} class="seg seg-{part.kind}"/>{marks}</g>'
    )


def _title(step: StepView, view: BenchView, manner: ReaderFormat) -> str:
    part = words.part_of(step.part, step.sheet.name)
    said = [f"{part}, {words.short(step.sheet.name)}: {present(step, view.now)}"]
    for each in step.milestones:
        if each.early and each.late and each.late > view.now:
            between = (
                f"{manner.moment(each.early, view.now)} and {manner.moment(each.late, view.now)}"
            )
            said.append(f"{words.in_words(each.name)} between {between}")
            break
    return ", ".join(said)


def _detail(step: StepView, manner: ReaderFormat) -> str:
    return words.mixed_details(manner, step.sheet.name, step.amount_g, step.hardener_pct)


def _named_above(lane: StepLane, size: Size, manner: ReaderFormat) -> str:
    """Where there is no column for names: the step's name over its bar, over all lines."""
    step, font = lane.step, size.font_px
    part, line = words.part_of(step.part, step.sheet.name), _detail(step, manner)
    both = part if part == words.short(step.sheet.name) else f"{part} · {line}"
    return (
        f'<text class="part callout" x="0" y="{lane.top + font:.1f}" font-size="{font:.1f}">'
        f"{escape(cut(both, font, size.width))}</text>"
    )


def _label(step: StepView, size: Size, top: float, high: float, manner: ReaderFormat) -> str:
    """The step's name beside its bar, and what it is where there is room."""
    font = min(size.font_px * 1.12, max(high, size.font_px * 0.8))
    part = words.part_of(step.part, step.sheet.name)
    small, room = size.font_px * 0.82, size.label_px - 12
    middle = top + high / 2
    if high < font * 1.6:
        return (
            f'<text class="part" x="0" y="{middle + font * 0.36:.1f}" font-size="{font:.1f}">'
            f"{escape(cut(part, font * 0.86, room))}</text>"
        )
    return (
        f'<text class="part" x="0" y="{middle - font * 0.12:.1f}" font-size="{font:.1f}">'
        f"{escape(cut(part, font * 0.86, room))}</text>"
        f'<text class="detail" x="0" y="{middle + small * 1.1:.1f}" font-size="{small:.1f}">'
        f"{escape(cut(_detail(step, manner), small * 0.86, room))}</text>"
    )


@dataclass(frozen=True)
class StepLane:
    """Where a step's ribbon stands: its row and, within it, its bar. [px]"""

    step: StepView
    parts: tuple[Segment, ...]
    inside: tuple[Word, ...]
    above: tuple[Word, ...]
    font_px: float
    top: float
    high: float
    bar_top: float
    bar_high: float


def _lanes(
    steps: Sequence[StepView], axis: Axis, size: Size, top: float, room: float
) -> list[StepLane]:
    """The steps' ribbons, all bars equally high; thin ones have no words above, only on touch."""
    even, row = room / max(len(steps), 1), size.font_px * 1.3
    named = 0.0 if size.label_px else row * 1.1
    dense = even - named < size.font_px * 2.2
    font = max(min(size.font_px, (even - named) * 0.62), 9.0) if dense else size.font_px
    cut_up = [tuple(segments(step)) for step in steps]
    words = [divided(words_of(axis, parts), font) for parts in cut_up]
    heads = [(row if above and not dense else size.font_px * 0.15) + named for _, above in words]
    gap = size.font_px * 0.2
    bar = max((room - sum(heads)) / max(len(steps), 1) - gap, size.font_px * 0.7)
    found = []
    for step, parts, (inside, above), head in zip(steps, cut_up, words, heads, strict=True):
        over = () if dense else tuple(above)
        high = head + bar + gap
        found.append(StepLane(step, parts, tuple(inside), over, font, top, high, top + head, bar))
        top += high
    return found


def _ribbon(lane: StepLane, view: BenchView, axis: Axis, size: Size, manner: ReaderFormat) -> str:
    """A step's name and its bar, one link to the step's page."""
    step, top, high = lane.step, lane.bar_top, lane.bar_high
    label = _label(step, size, top, high, manner) if size.label_px else ""
    bars = "".join(
        _bar(f"{step.id}-{number}", axis, part, top, high) for number, part in enumerate(lane.parts)
    )
    veil = axis.x(view.now)
    return (
        f'<a href="/step/{step.id}" class="lane" id="lane-{step.id}" '
        f'aria-label="{escape(_title(step, view, manner), quote=True)}">'
        f'<rect class="hit" x="0" y="{lane.top:.1f}" width="{size.width:.1f}" '
        f'height="{lane.high:.1f}"/>{label}{bars}'
        f'<rect class="veil" x="{veil:.1f}" y="{top:.1f}" '
        f'width="{max(axis.right - veil, 0):.1f}" height="{high:.1f}"/></a>'
    )


def _written(lane: StepLane, axis: Axis, size: Size, manner: ReaderFormat) -> str:
    """The words of a ribbon: inside where they fit, else above; its name where it has no column."""
    font = lane.font_px
    name = "" if size.label_px else _named_above(lane, size, manner)
    within = "".join(drawn_inside(each, lane.bar_top, lane.bar_high, font) for each in lane.inside)
    return name + within + drawn_above(lane.above, axis, lane.bar_top, font)


def _ticks(axis: Axis, size: Size, manner: ReaderFormat, top: float, bottom: float) -> str:
    drawn = []
    for at, label in axes.ticks(axis, manner, size.font_px * 5):
        x = axis.x(at)
        half = text_px(label, size.font_px * 0.9) / 2
        drawn.append(
            f'<path class="grid" d="M{x:.1f} {top:.1f}V{bottom:.1f}"/>'
            f'<text class="tick" x="{min(max(x, axis.left + half), size.width - half):.1f}" '
            f'y="{bottom + size.font_px * 1.05:.1f}" text-anchor="middle" '
            f'font-size="{size.font_px * 0.9:.1f}">{escape(label)}</text>'
        )
    return "".join(drawn)


def _now(axis: Axis, size: Size, view: BenchView, manner: ReaderFormat, bottom: float) -> str:
    x, label, font = axis.x(view.now), manner.clock(view.now), size.font_px
    wide = text_px(label, font) + font * 0.5
    flag = min(max(x, wide / 2), size.width - wide / 2)
    box = f'x="{flag - wide / 2:.1f}" y="0" width="{wide:.1f}" height="{font * 1.35:.1f}"'
    return (
        f'<g class="now"><path d="M{x:.1f} {font * 1.3:.1f}V{bottom:.1f}"/><rect {box} rx="3"/>'
        f'<text x="{flag:.1f}" y="{font:.1f}" text-anchor="middle" font-size="{font:.1f}">'
        f"{escape(label)}</text></g>"
    )


def _below(view: BenchView, size: Size, count: int) -> float:
    """Room for the temperature under so many ribbons. [px]"""
    share = 0.24 if count < 5 else 0.17
    return max(size.height * share, size.font_px * 3.2) if view.track else 0.0


def most_lanes(view: BenchView, size: Size) -> int:
    """How many ribbons have room for their names: six at most, two at least."""
    room = size.height - size.font_px * 2.9 - _below(view, size, MOST_LANES)
    row = size.font_px * (1.25 if size.label_px else 2.6)
    return max(min(MOST_LANES, int(room / row)), 2)


def lanes(view: BenchView, most: int = MOST_LANES) -> tuple[StepView, ...]:
    """The steps that get a ribbon: all, or as many as come next."""
    if len(view.steps) <= most:
        return view.steps
    order = list(dict.fromkeys(each.step.id for each in view.due))
    ranked = sorted(
        view.steps, key=lambda step: order.index(step.id) if step.id in order else len(order)
    )
    chosen = {step.id for step in ranked[:most]}
    return tuple(step for step in view.steps if step.id in chosen)


def bench(
    view: BenchView,
    size: Size,
    manner: ReaderFormat,
    stretch: tuple[datetime, datetime] | None = None,
) -> str:
    """Ribbons, now-line, ticks and temperature as one SVG text, on this stretch of time."""
    start, end = stretch or axes.choose(view)
    axis = Axis(start, end, size.label_px, size.width - size.font_px * 0.3)
    shown = lanes(view, most_lanes(view, size))
    top, foot = size.font_px * 1.5, size.height - size.font_px * 1.4
    below = _below(view, size, len(shown))
    room = min(foot - below - top, size.font_px * 8 * len(shown))
    split = top + room
    held = _lanes(shown, axis, size, top, room)
    drawn = [_ribbon(lane, view, axis, size, manner) for lane in held]
    if view.track:
        drawn.append(temperature(view.track, axis, size, manner, (split + 8, foot)))
    return (
        f'<svg class="bench" viewBox="0 0 {size.width:g} {size.height:g}" role="group" '
        f'aria-label="Ribbons" preserveAspectRatio="xMinYMin meet" '
        f'data-start="{start.timestamp() * 1000:.0f}" data-end="{end.timestamp() * 1000:.0f}">'
        f"{_defs()}"
        f"{_ticks(axis, size, manner, top, foot)}{''.join(drawn)}"
        f"{_now(axis, size, view, manner, foot)}"
        f'<g class="over" aria-hidden="true">'
        f"{''.join(_written(lane, axis, size, manner) for lane in held)}</g></svg>"
    )
