"""The words on and over a ribbon: inside where they fit, else in a row above. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from dashboard.axis import Axis
from dashboard.drawing import text_px
from dashboard.segments import Segment


@dataclass(frozen=True)
class Word:
    """A segment's word: its middle, its room inside and the stretch it belongs to. [px]"""

    text: str
    kind: str
    left: float
    right: float

    @property
    def middle(self) -> float:
        """The middle of the stretch. [px]"""
        return (self.left + self.right) / 2


def words_of(axis: Axis, parts: Iterable[Segment]) -> list[Word]:
    """The words of a ribbon's stretches as far as they are on the axis."""
    found = []
    for part in parts:
        left = axis.x(part.start.late)
        right = axis.x(part.end.early) if part.end else axis.right
        begins, ends = axis.x(part.start.early), axis.x(part.end.late) if part.end else axis.right
        if right - left < 2:
            left, right = begins, ends
        if ends - begins >= 2:
            found.append(Word(part.word, part.kind, left, right))
    return found


def _fits(word: Word, font_px: float) -> bool:
    return word.right - word.left >= text_px(word.text, font_px) + font_px * 0.9


def drawn_inside(word: Word, top: float, high: float, font_px: float) -> str:
    """A word on its stretch, between top and top + high. [px]"""
    wide = text_px(word.text, font_px) + font_px * 0.5
    middle, tall = word.middle, min(font_px * 1.35, high)
    return (
        f'<rect class="plate" x="{middle - wide / 2:.1f}" y="{top + (high - tall) / 2:.1f}" '
        f'width="{wide:.1f}" height="{tall:.1f}" rx="3"/>'
        f'<text class="word" x="{middle:.1f}" y="{top + high / 2 + font_px * 0.35:.1f}" '
        f'font-size="{font_px:.1f}" text-anchor="middle">{escape(word.text)}</text>'
    )


def placed(found: Sequence[Word], font_px: float, left: float, right: float) -> list[float]:
    """Left ends of words in one row that neither touch nor leave the axis. [px]"""
    gap = font_px * 0.8
    wide = [text_px(each.text, font_px) for each in found]
    starts: list[float] = []
    free = left
    for each, width in zip(found, wide, strict=True):
        starts.append(max(free, each.middle - width / 2))
        free = starts[-1] + width + gap
    bound = right
    for index in range(len(starts) - 1, -1, -1):
        starts[index] = min(starts[index], bound - wide[index])
        bound = starts[index] - gap
    return starts


def fitting(found: Sequence[Word], font_px: float, room_px: float) -> list[Word]:
    """The words that have room in one row; the narrowest stretches go without. [px]"""
    kept = list(found)
    while sum(text_px(each.text, font_px) + font_px * 0.8 for each in kept) > room_px:
        kept.remove(min(kept, key=lambda each: each.right - each.left))
    return kept


def drawn_above(found: Sequence[Word], axis: Axis, top: float, font_px: float) -> str:
    """Words of narrow stretches, in a row over the ribbon with a line to their stretch."""
    drawn = []
    found = fitting(found, font_px, axis.right - axis.left)
    for word, start in zip(found, placed(found, font_px, axis.left, axis.right), strict=True):
        foot = start + min(text_px(word.text, font_px) / 2, font_px)
        drawn.append(
            f'<path class="leader" d="M{foot:.1f} {top - 4:.1f}L{word.middle:.1f} {top + 6:.1f}"/>'
            f'<text class="callout" x="{start:.1f}" y="{top - font_px * 0.42:.1f}" '
            f'font-size="{font_px:.1f}">{escape(word.text)}</text>'
        )
    return "".join(drawn)


def divided(found: Sequence[Word], font_px: float) -> tuple[list[Word], list[Word]]:
    """The words that stand inside their stretch clear of each other, and the others."""
    inside: list[Word] = []
    taken = -1e9
    for word in sorted(found, key=lambda each: each.middle):
        half = text_px(word.text, font_px) / 2 + font_px * 0.4
        if _fits(word, font_px) and word.middle - half > taken:
            inside.append(word)
            taken = word.middle + half
    return inside, [each for each in found if each not in inside]
