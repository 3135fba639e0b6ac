"""A copy of the logbook each day, in the background, while curewatch runs."""

from __future__ import annotations

import contextlib
import logging
import threading
from collections.abc import Callable, Iterator
from datetime import datetime

from curewatch.backup import keep_daily
from curewatch.errors import StoreError
from curewatch.store import Store

PAUSE_S, STOP_S = 600.0, 5.0
SOURCE = "daily copy"
_LOG = logging.getLogger(__name__)


def look(store: Store, now: datetime) -> None:
    """Make today's copy if there is none; where that fails, say so among what was refused."""
    try:
        keep_daily(store.path, now.date())
    except (StoreError, OSError) as error:
        _LOG.warning("%s", error)
        with contextlib.suppress(StoreError):
            store.refuse(now, SOURCE, str(error))


@contextlib.contextmanager
def each_day(store: Store, clock: Callable[[], datetime]) -> Iterator[None]:
    """Look now and again whether today's copy is there, until the end of the block."""
    ending = threading.Event()

    def watch() -> None:
        look(store, clock())
        while not ending.wait(PAUSE_S):
            look(store, clock())

    watcher = threading.Thread(target=watch, name="copies", daemon=True)
    watcher.start()
    try:
        yield
    finally:
        ending.set()
        watcher.join(STOP_S)
