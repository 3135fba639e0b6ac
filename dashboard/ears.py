"""What the listening page needs of whatever hears a broker, and what stands there without one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from curewatch.climate.reading import Quantity
from curewatch.errors import ReadingError
from curewatch.settings.settings import Mapping


class Leaf(Protocol):
    """A number that was heard."""

    topic: str
    pointer: str
    record: str | None
    count: int
    outside: bool

    @property
    def guess(self) -> tuple[Quantity, str] | None: ...

    @property
    def last(self) -> Sequence[float]: ...

    def mapping(self, place: str, quantity: Quantity | None, unit: str | None) -> Mapping: ...

    def fits(self, mapping: Mapping) -> bool: ...

    def read(self, mapping: Mapping) -> float | None: ...


class Ears(Protocol):
    """What hears a broker while it is open."""

    def begin(self) -> None: ...

    def end(self) -> None: ...

    def keep(self, mapping: Mapping) -> None: ...

    def let_go(self, mapping: Mapping) -> None: ...

    @property
    def left_s(self) -> float: ...

    @property
    def trouble(self) -> str: ...

    @property
    def full(self) -> bool: ...

    @property
    def leaves(self) -> Sequence[Leaf]: ...


class Deaf:
    """Hears nothing: where the page runs without a broker."""

    left_s, trouble, full = 0.0, "", False
    leaves: Sequence[Leaf] = ()

    def begin(self) -> None:
        """Say that nothing can be heard here."""
        raise ReadingError("nothing listens here", fix="start curewatch up")

    def end(self) -> None:
        """Nothing was begun."""

    def keep(self, mapping: Mapping) -> None:
        """Nothing was heard that could be kept."""

    def let_go(self, mapping: Mapping) -> None:
        """Nothing was heard that could be let go."""
