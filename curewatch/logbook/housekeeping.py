"""The data folder kept in order while curewatch runs: a copy each day, and no leftovers.

What killed work leaves behind is parts of files, and pictures that nothing names.
"""

from __future__ import annotations

import logging
import re
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from curewatch.errors import StoreError
from curewatch.files import backup
from curewatch.files.backup import keep_daily
from curewatch.logbook import photographs

if TYPE_CHECKING:
    from curewatch.store.store import Store

PAUSE_S, STOP_S = 600.0, 5.0
SOURCE = "daily copy"
PART_AGE, PICTURE_AGE = timedelta(hours=1), timedelta(days=1)
_PARTS = ("*.part", "*.part-wal", "*.part-shm", "*.part-journal")
_PART = re.compile(r"\.\w{8}\.part$")
_PICTURE = re.compile(r"([0-9a-f]{32})(\.small)?\.jpg")
_LOG = logging.getLogger(__name__)


def sweep(store: Store, now: datetime) -> int:
    """Delete parts older than PART_AGE, and pictures older than PICTURE_AGE that no event names,
    not even an undone one; returns how many files."""
    pictures = photographs.folder_of(store.path)
    parts = [
        part
        for folder in (pictures, store.path.parent / backup.FOLDER)
        for kind in _PARTS
        for part in folder.glob(kind)
    ]
    own = (part for part in store.path.parent.glob("*.part") if _PART.search(part.name))
    deleted = _delete([*parts, *own], now - PART_AGE)
    try:
        with store.together():
            deleted += _delete(_unnamed(store, pictures), now - PICTURE_AGE)
    except StoreError as error:
        _LOG.warning("pictures that nothing names were not looked for: %s", error)
    return deleted


def _unnamed(store: Store, folder: Path) -> list[Path]:
    matches = [(path, _PICTURE.fullmatch(path.name)) for path in folder.glob("*.jpg")]
    named = set(re.findall(r"[0-9a-f]{32}", "\n".join(store.bodies_with(".jpg"))))
    return [path for path, match in matches if match and match[1] not in named]


def _delete(files: Iterable[Path], before: datetime) -> int:
    """Delete the files that were not written since; returns how many."""
    deleted = 0
    for path in files:
        with suppress(OSError):
            if path.stat().st_mtime < before.timestamp():
                path.unlink()
                deleted += 1
    return deleted


def look(store: Store, now: datetime) -> str:
    """Make today's copy if there is none; what went wrong, also kept among what was refused."""
    try:
        keep_daily(store.path, now.date())
    except (StoreError, OSError) as error:
        _LOG.warning("%s", error)
        with suppress(StoreError):
            store.refuse(now, SOURCE, str(error))
        return str(error)
    return ""


@contextmanager
def each_day(store: Store, clock: Callable[[], datetime]) -> Iterator[Callable[[], str]]:
    """Look now and again whether today's copy is there, until the end of the block.

    Gives what says in words why there is no copy of today; empty while there is one.
    """
    ending, outcome = threading.Event(), [""]

    def watch() -> None:
        outcome[0] = look(store, clock())
        while not ending.wait(PAUSE_S):
            outcome[0] = look(store, clock())

    watcher = threading.Thread(target=watch, name="copies", daemon=True)
    watcher.start()
    try:
        yield lambda: outcome[0]
    finally:
        ending.set()
        watcher.join(STOP_S)
