"""The words on and over a ribbon: inside where they fit, else in a row above. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from curewatch.frozen import frozen
from dashboard.figures.ribbons.axis import Axis
from dashboard.figures.ribbons.segments import Segment
from dashboard.figures.sizes import text_px


@frozen
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
    words = []
    for part in parts:
        left = axis.x(part.start.late)
        right = axis.x(part.end.early) if part.end else axis.right
        begins, ends = axis.x(part.start.early), axis.x(part.end.late) if part.end else axis.right
        if right - left < 2:
            left, right = begins, ends
        if ends - begins >= 2:
            words.append(Word(part.word, part.kind, left, right))
    return words


def _fits(word: Word, font_px: float) -> bool:
    return word.right - word.left >= text_px(word.text, font_px) + font_px * 0.9


def placed(words: Sequence[Word], font_px: float, left: float, right: float) -> list[float]:
    """Left ends of words in one row that neither touch nor leave the axis. [px]"""
    gap = font_px * 0.8
    wide = [text_px(word.text, font_px) for word in words]
    starts: list[float] = []
    free = left
    for word, width in zip(words, wide, strict=True):
        starts.append(max(free, word.middle - width / 2))
        free = starts[-1] + width + gap
    bound = right
    for index in range(len(starts) - 1, -1, -1):
        starts[index] = min(starts[index], bound - wide[index])
        bound = starts[index] - gap
    return starts


def fitting(words: Sequence[Word], font_px: float, room_px: float) -> list[Word]:
    """The words that have room in one row; the narrowest stretches go without. [px]"""
    kept = list(words)
    while kept and sum(text_px(word.text, font_px) + font_px * 0.8 for word in kept) > room_px:
        kept.remove(min(kept, key=lambda word: word.right - word.left))
    return kept


def divided(words: Sequence[Word], font_px: float) -> tuple[list[Word], list[Word]]:
    """The words that stand inside their stretch clear of each other, and the others."""
    inside: list[Word] = []
    taken = -1e9
    for word in sorted(words, key=lambda word: word.middle):
        half = text_px(word.text, font_px) / 2 + font_px * 0.4
        if _fits(word, font_px) and word.middle - half > taken:
            inside.append(word)
            taken = word.middle + half
    return inside, [word for word in words if word not in inside]
