"""A copy of the logbook each day, in the background, while curewatch runs."""

from __future__ import annotations

import contextlib
import logging
import threading
from collections.abc import Callable, Iterator
from datetime import datetime

from curewatch.errors import StoreError
from curewatch.files.backup import keep_daily
from curewatch.store.store import Store

PAUSE_S, STOP_S = 600.0, 5.0
SOURCE = "daily copy"
_LOG = logging.getLogger(__name__)


def look(store: Store, now: datetime) -> str:
    """Make today's copy if there is none; what went wrong, also kept among what was refused."""
    try:
        keep_daily(store.path, now.date())
    except (StoreError, OSError) as error:
        _LOG.warning("%s", error)
        with contextlib.suppress(StoreError):
            store.refuse(now, SOURCE, str(error))
        return str(error)
    return ""


@contextlib.contextmanager
def each_day(store: Store, clock: Callable[[], datetime]) -> Iterator[Callable[[], str]]:
    """Look now and again whether today's copy is there, until the end of the block.

    Gives what says in words why there is no copy of today; empty while there is one.
    """
    ending, said = threading.Event(), [""]

    def watch() -> None:
        said[0] = look(store, clock())
        while not ending.wait(PAUSE_S):
            said[0] = look(store, clock())

    watcher = threading.Thread(target=watch, name="copies", daemon=True)
    watcher.start()
    try:
        yield lambda: said[0]
    finally:
        ending.set()
        watcher.join(STOP_S)
