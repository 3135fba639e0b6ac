"""What the buttons last did, for every page that is open, and which alarms they silenced."""

from __future__ import annotations

import threading
from collections.abc import Iterable
from dataclasses import replace

from curewatch.frozen import frozen


@frozen
class Pressed:
    """The last press: its number, what it did in words and the act that recorded it, None where
    nothing was recorded; the keys of the alarms silenced last."""

    number: int = 0
    sentence: str = ""
    act: int | None = None
    silenced: frozenset[str] = frozenset()


class Presses:
    """Holds the last press; written by the buttons, read by the pages and the lamps, which are
    woken by `changed`."""

    def __init__(self) -> None:
        self._lock, self._last = threading.Lock(), Pressed()
        self.changed = threading.Event()

    @property
    def last(self) -> Pressed:
        """The last press; its number is 0 before the first."""
        return self._last

    def tell(self, sentence: str, act: int | None = None) -> None:
        """Tell what a press did, or why it did nothing."""
        with self._lock:
            self._last = replace(
                self._last, number=self._last.number + 1, sentence=sentence, act=act
            )
        self.changed.set()

    def silence(self, keys: Iterable[str]) -> None:
        """Silence the alarms with these keys; another one will be heard."""
        with self._lock:
            self._last = replace(self._last, silenced=frozenset(keys))
        self.changed.set()
