"""What the listening page needs of whatever hears a broker, and what stands there without one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

from curewatch.errors import ReadingError
from curewatch.settings.settings import Mapping

if TYPE_CHECKING:
    from sensors.mqtt.discovery import Leaf


class BrokerListener(Protocol):
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


class NoListener:
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
