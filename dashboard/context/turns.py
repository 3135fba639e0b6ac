"""What takes long is done one at a time, and few wait for it: the page answers meanwhile."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from typing import Any

from werkzeug.exceptions import ServiceUnavailable

AGAIN_S, LONGEST_S = 10, 30.0


class Busy(ServiceUnavailable):
    """What was asked for must wait; `text` says for what."""

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.text = text


class OneAtATime:
    """Work of one kind, done by one request at a time.

    `waiting` more (dimensionless) wait for their turn, LONGEST_S at most; others are told `text`.
    """

    def __init__(self, text: str, waiting: int) -> None:
        self._text, self._turn = text, threading.Lock()
        self._places = threading.BoundedSemaphore(1 + waiting)

    @contextmanager
    def turn(self) -> Iterator[None]:
        """This request's turn. Raises Busy."""
        if not self._places.acquire(blocking=False):
            raise Busy(self._text)
        try:
            if not self._turn.acquire(timeout=LONGEST_S):
                raise Busy(self._text)
            try:
                yield
            finally:
                self._turn.release()
        finally:
            self._places.release()


class Background:
    """Work that takes seconds, done one at a time by a thread of its own, while a page asks again
    until it is there; what came of the last is kept."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._last: tuple[object, Future[Any]] | None = None

    def begun(self, of: object) -> Future[Any] | None:
        """The work that was begun last, where it is of this; it may still be going on."""
        last = self._last
        return last[1] if last is not None and last[0] is of else None

    def begin(self, of: object, work: Callable[[], Any]) -> Future[Any] | None:
        """The same, begun where it was not; None while other work is going on."""
        with self._lock:
            last = self._last
            if last is not None and (last[0] is of or not last[1].done()):
                return last[1] if last[0] is of else None
            result: Future[Any] = Future()
            self._last = of, result
        threading.Thread(target=_fill, args=(result, work), name="background", daemon=True).start()
        return result


def _fill(result: Future[Any], work: Callable[[], Any]) -> None:
    try:
        result.set_result(work())
    except Exception as error:  # whoever asks for the result is told
        result.set_exception(error)
