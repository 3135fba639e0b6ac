"""A queue in which senders take turns: one who sends much delays the others little."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Hashable
from dataclasses import dataclass, field
from typing import Generic, TypeVar

Item = TypeVar("Item")


@dataclass
class _SenderQueue(Generic[Item]):
    """What one sender has waiting, each with its size. [bytes]"""

    items: deque[tuple[Item, int]] = field(default_factory=deque)
    bytes: int = 0


class FairQueue(Generic[Item]):
    """Of each sender at most `most` items wait, and `most_bytes` or a single one; in its order.

    Any thread may put and take.
    """

    def __init__(self, most: int, most_bytes: int) -> None:
        self._most, self._most_bytes, self._waiting = most, most_bytes, 0
        self._lines = dict[Hashable, _SenderQueue[Item]]()
        self._changed = threading.Condition()

    def __len__(self) -> int:
        return self._waiting

    def put(self, sender: Hashable, item: Item, size: int, wait_s: float = 0.0) -> bool:
        """Queue an item of so many bytes; False: its sender had no room within `wait_s`. [s]"""
        with self._changed:
            if not self._changed.wait_for(lambda: self._has_room(sender, size), wait_s):
                return False
            line = self._lines.setdefault(sender, _SenderQueue())
            line.items.append((item, size))
            line.bytes += size
            self._waiting += 1
            self._changed.notify_all()
            return True

    def _has_room(self, sender: Hashable, size: int) -> bool:
        line = self._lines.get(sender)
        if line is None:
            return True
        return len(line.items) < self._most and line.bytes + size <= self._most_bytes

    def get(self, wait_s: float) -> Item | None:
        """The next item of the sender whose turn it is; None where none came in time. [s]"""
        with self._changed:
            if not self._changed.wait_for(lambda: self._lines, wait_s):
                return None
            sender = next(iter(self._lines))
            line = self._lines.pop(sender)
            item, size = line.items.popleft()
            line.bytes -= size
            if line.items:
                self._lines[sender] = line
            self._waiting -= 1
            self._changed.notify_all()
            return item
