"""What takes long is done one at a time, and few wait for it: the page answers meanwhile."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from werkzeug.exceptions import ServiceUnavailable

AGAIN_S, LONGEST_S = 10, 30.0


class Busy(ServiceUnavailable):
    """What was asked for must wait; `said` says for what."""

    def __init__(self, said: str) -> None:
        super().__init__(said)
        self.said = said


class Lane:
    """Work of one kind, done by one request at a time.

    `waiting` more (dimensionless) wait for their turn, LONGEST_S at most; others are told `said`.
    """

    def __init__(self, said: str, waiting: int) -> None:
        self._said, self._turn = said, threading.Lock()
        self._places = threading.BoundedSemaphore(1 + waiting)

    @contextmanager
    def turn(self) -> Iterator[None]:
        """This request's turn. Raises Busy."""
        if not self._places.acquire(blocking=False):
            raise Busy(self._said)
        try:
            if not self._turn.acquire(timeout=LONGEST_S):
                raise Busy(self._said)
            try:
                yield
            finally:
                self._turn.release()
        finally:
            self._places.release()
