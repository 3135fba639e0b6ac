"""Forms sent once: a second touch of the same form does nothing."""

from __future__ import annotations

import threading
from collections import deque
from contextlib import suppress
from dataclasses import dataclass, field


@dataclass
class Tokens:
    """The tokens of the forms that came, the last five hundred."""

    seen: deque[str] = field(default_factory=lambda: deque(maxlen=500))
    lock: threading.Lock = field(default_factory=threading.Lock)
    taken: threading.local = field(default_factory=threading.local)

    def known(self, token: str) -> bool:
        """Whether what this token was sent with is done, or about to be."""
        with self.lock:
            return bool(token) and token in self.seen

    def first(self, token: str) -> bool:
        """Whether this token comes for the first time; an empty one always does."""
        with self.lock:
            if token and token in self.seen:
                return False
            self.seen.append(token)
            self.taken.token = token
            return True

    def settle(self, done: bool) -> None:
        """End this thread's request; what was not done may be sent again with the same token."""
        token = vars(self.taken).pop("token", None)
        with self.lock, suppress(ValueError):
            if token is not None and not done:
                self.seen.remove(token)
