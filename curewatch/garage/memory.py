"""What was worked out from the store, kept as long as what it was worked out from stands."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

MOST = 4096
Found = TypeVar("Found")


class Memory:
    """Values by a key, each with the mark of what it depends on; the only such store of a bench.

    Take the mark before anything is read: what changes meanwhile then makes the value an old one.
    """

    def __init__(self) -> None:
        self._held: dict[Hashable, tuple[Any, Any]] = {}

    def get(self, key: Hashable, mark: Any, work_out: Callable[[], Found]) -> Found:
        """The value kept under a key, worked out anew where it has another mark."""
        pair = self._held.get(key)
        if pair is None or pair[0] != mark:
            if len(self._held) >= MOST:
                self._held.clear()
            pair = self._held[key] = (mark, work_out())
        value: Found = pair[1]
        return value
