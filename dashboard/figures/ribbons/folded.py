"""A time axis on which evenings are wide and nights narrow. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from curewatch.frozen import frozen

NIGHT_SHARE = 0.22
"""How wide a night stands beside an evening of usual length. [-]"""


@frozen
class FoldedSpell:
    """Somebody is there from start to end, and may be loud until loud_end."""

    start: datetime
    end: datetime
    loud_end: datetime


@frozen
class FoldedStretch:
    """A stretch of the axis from left to right [px]; spell: None for a night."""

    start: datetime
    end: datetime
    left: float
    right: float
    spell: FoldedSpell | None


class FoldedAxis:
    """Instants to pixels over spells that somebody is there, from now on. [px]"""

    def __init__(
        self, now: datetime, spells: Sequence[FoldedSpell], left: float, right: float
    ) -> None:
        self.left, self.right = left, right
        self.stretches = tuple(_placed(list(_parts(now, spells)), left, right))

    @property
    def end(self) -> datetime:
        """The last instant that is shown."""
        return self.stretches[-1].end

    def x(self, at: datetime) -> float:
        """Where an instant stands, held to the axis. [px]"""
        for stretch in self.stretches:
            if at <= stretch.end:
                share = (at - stretch.start) / (stretch.end - stretch.start)
                x = stretch.left + max(share, 0.0) * (stretch.right - stretch.left)
                return min(x, self.right)
        return self.right

    def there(self) -> Iterator[tuple[FoldedStretch, FoldedSpell]]:
        """The stretches in which somebody is there."""
        for stretch in self.stretches:
            if stretch.spell is not None:
                yield stretch, stretch.spell


def _parts(
    now: datetime, spells: Sequence[FoldedSpell]
) -> Iterator[tuple[datetime, datetime, FoldedSpell | None]]:
    at = now
    for spell in spells:
        if spell.start > at:
            yield at, spell.start, None
        yield max(spell.start, at), spell.end, spell
        at = spell.end


def _placed(
    parts: Sequence[tuple[datetime, datetime, FoldedSpell | None]], left: float, right: float
) -> Iterator[FoldedStretch]:
    """The stretches side by side: a spell as wide as the root of its length, so that a whole day
    does not crowd out an evening; each night alike."""
    roots = [
        ((end - start).total_seconds() ** 0.5 if spell is not None else 0.0)
        for start, end, spell in parts
    ]
    usual = max(roots, default=1.0) or 1.0
    shares = [root or NIGHT_SHARE * usual for root in roots]
    px = (right - left) / sum(shares)
    at = left
    for (start, end, spell), share in zip(parts, shares, strict=True):
        yield FoldedStretch(start, end, at, at + px * share, spell)
        at += px * share
