"""Copies of the logbook: by hand, each day, before a change of format; and back from one.

A copy is made in one go while the logbook is in use, checked, and only then given its name.
"""

from __future__ import annotations

import contextlib
import itertools
import os
import shlex
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, suppress
from datetime import date
from pathlib import Path

from curewatch.errors import StoreError
from curewatch.files.disk_errors import BACK, trouble
from curewatch.files.private import arriving, to_disk

FOLDER = "copies"
KEPT = 7
_SPARE_BYTES = 20_000_000
_BESIDE = ("-wal", "-shm")


def check(path: Path) -> None:
    """Read the whole file. Raises StoreError where it is damaged or no logbook."""
    try:
        with closing(_existing(path)) as connection:
            verdict = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
            events = connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'event'")
            is_logbook = events.fetchone() is not None
    except sqlite3.Error as error:
        raise trouble("it cannot be read", error, path) from error
    if verdict != "ok":
        raise StoreError("the file is damaged", where=str(path), fix="use another copy")
    if not is_logbook:
        raise StoreError("it is not a logbook", where=str(path), fix="name a copy of one")


def _existing(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.resolve().as_uri()}?mode=rw", uri=True, timeout=10)


def _copy(source: Path, fresh: Path) -> None:
    if os.access(source.parent, os.W_OK):
        with closing(_existing(source)) as original, closing(_existing(fresh)) as copy:
            original.backup(copy)
    else:
        _copy_unopened(source, fresh)
    with closing(_existing(fresh)) as copy:
        copy.execute("PRAGMA journal_mode = DELETE")
    try:
        check(fresh)
    except StoreError:
        raise StoreError(
            "no copy was made: the logbook is damaged", where=str(source), fix=BACK
        ) from None


def _copy_unopened(source: Path, fresh: Path) -> None:
    """From a disk that may only be read, where SQLite cannot open a logbook and none writes."""
    import shutil

    shutil.copyfile(source, fresh)
    with suppress(FileNotFoundError):
        shutil.copyfile(f"{source}-wal", f"{fresh}-wal")


def copy_to(source: Path, target: Path) -> None:
    """A checked copy of a logbook that may be in use, as it stood at one instant.

    Replaces `target` only when the copy is whole. Raises StoreError.
    """
    with _arriving(target) as fresh:
        _copy(source, fresh)


@contextlib.contextmanager
def _arriving(target: Path) -> Iterator[Path]:
    """A file of the owner's only beside `target`, which takes its place once it is on disk."""
    try:
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with arriving(target) as fresh:
            try:
                yield fresh
            finally:
                for ending in _BESIDE:
                    Path(f"{fresh}{ending}").unlink(missing_ok=True)
    except StoreError:
        raise
    except (sqlite3.Error, OSError) as error:
        raise trouble("no copy could be made", error, target) from error


def target_in(target: Path, today: date) -> Path:
    """Where a copy goes: the file named, or one named after the day in a folder.

    Raises StoreError where there is no such folder.
    """
    if target.is_dir():
        return free(target / f"curewatch-{today.isoformat()}.sqlite")
    if not target.parent.is_dir():
        raise StoreError(
            "there is no such folder", where=str(target.parent), fix="check its name, or make it"
        )
    return target


def back_up(source: Path, target: Path) -> None:
    """A copy under a new name. Raises StoreError, also where the name is taken."""
    if target.exists():
        raise StoreError(
            "there is a file of that name already", where=str(target), fix="choose another name"
        )
    copy_to(source, target)


def copies(logbook: Path) -> list[Path]:
    """The daily copies, the oldest first."""
    return sorted((logbook.parent / FOLDER).glob(f"{logbook.stem}-????-??-??{logbook.suffix}"))


def keep_daily(logbook: Path, today: date) -> Path | None:
    """Make today's copy if there is none, and let go of all but the last seven.

    A damaged logbook makes no copy, so the good ones stay. Raises StoreError.
    """
    target = logbook.parent / FOLDER / f"{logbook.stem}-{today.isoformat()}{logbook.suffix}"
    if target.exists():
        return None
    _need_room(logbook)
    _need_content(logbook)
    copy_to(logbook, target)
    for old in copies(logbook)[:-KEPT]:
        old.unlink(missing_ok=True)
    return target


def _need_room(logbook: Path) -> None:
    """A copy must not take the room that the logbook needs. Raises StoreError."""
    import shutil

    need = logbook.stat().st_size + _SPARE_BYTES
    free = shutil.disk_usage(logbook.parent).free
    if free < need:
        raise StoreError(
            f"no daily copy was made: {free / 1e6:.0f} MB are free, {need / 1e6:.0f} MB needed",
            where=str(logbook.parent),
            fix="make room on the disk, or start with --no-copies",
        )


def _need_content(logbook: Path) -> None:
    """No empty copy pushes out one that holds steps. Raises StoreError."""
    if not steps_in(logbook) and (backup := newest_with_steps(copies(logbook))):
        raise StoreError(
            f"no daily copy was made: the logbook has no steps, but {backup.name} has",
            where=str(logbook),
            fix="stop curewatch and bring that copy back: curewatch data restore",
        )


def steps_in(path: Path) -> int:
    """How many steps a logbook's file holds; 0 where it cannot be read."""
    try:
        with closing(_existing(path)) as connection:
            return int(connection.execute("SELECT count(*) FROM step").fetchone()[0])
    except sqlite3.Error:
        return 0


def newest_with_steps(files: Iterable[Path]) -> Path | None:
    """The file changed last among those that hold steps; None where none does."""
    return max(filter(steps_in, files), key=lambda file: file.stat().st_mtime, default=None)


def _beside(logbook: Path) -> list[Path]:
    """Every other logbook that lies with this one: copies, and what was set aside."""
    older = logbook.parent.glob(f"{logbook.stem}.before-format-*")
    return [*copies(logbook), *_asides(logbook), *older]


def check_not_lost(logbook: Path) -> None:
    """That a logbook which is missing or of zero bytes is really a new one.

    Raises StoreError where copies that hold steps lie beside it.
    """
    if logbook.exists() and logbook.stat().st_size > 0:
        return
    backup = newest_with_steps(_beside(logbook))
    if backup is None:
        return
    count = steps_in(backup)
    state = "is empty (0 bytes)" if logbook.exists() else "is missing"
    raise StoreError(
        f"the logbook {state}, and {backup.name} beside it has {count} "
        f"step{'' if count == 1 else 's'}",
        where=str(logbook),
        fix=f"bring it back: curewatch data restore {shlex.quote(str(backup))}; or, to begin a new "
        "logbook, move the copies to another folder",
    )


def last_good(logbook: Path) -> Path:
    """The newest daily copy that can be read whole, one with steps before one without.

    Raises StoreError where there is none.
    """
    newest_first = reversed(copies(logbook))
    for copy in sorted(newest_first, key=lambda file: steps_in(file) == 0):
        with suppress(StoreError):
            check(copy)
            return copy
    raise StoreError(
        "there is no good copy",
        where=str(logbook.parent / FOLDER),
        fix="name one: curewatch data restore FILE; or keep the damaged file and move it elsewhere",
    )


def restore(logbook: Path, copy: Path) -> Path | None:
    """Put a checked copy in the logbook's place; where what stood there is kept now.

    Killed at any moment, it leaves a logbook. No other program may have it open. Raises StoreError.
    """
    check(copy)
    undo_interrupted(logbook)
    with _arriving(logbook) as fresh:
        _copy(copy, fresh)
        to_disk(fresh)
        return _set_aside(logbook)


def _set_aside(logbook: Path) -> Path | None:
    """Give the logbook a second name, and what SQLite keeps beside it that name alone."""
    if not logbook.exists():
        return None
    aside = free(logbook.with_name(f"{logbook.stem}.aside{logbook.suffix}"))
    try:
        os.link(logbook, aside)
    except OSError:  # a disk without second names: a kill just now leaves only the one set aside
        os.replace(logbook, aside)
    for ending in _BESIDE:
        with suppress(FileNotFoundError):
            os.replace(f"{logbook}{ending}", f"{aside}{ending}")
    to_disk(logbook.parent)
    return aside


def interrupted(logbook: Path) -> list[Path]:
    """What a restore set aside before it was killed: the logbook itself, under a second name."""
    if not logbook.exists():
        return []
    return [file for file in _asides(logbook) if file.samefile(logbook)]


def undo_interrupted(logbook: Path) -> None:
    """Give a logbook whose restore was killed half-way back what SQLite keeps beside it."""
    for aside in interrupted(logbook):
        for ending in _BESIDE:
            with suppress(FileNotFoundError):
                os.replace(f"{aside}{ending}", f"{logbook}{ending}")
        aside.unlink()


def _asides(logbook: Path) -> list[Path]:
    return sorted(logbook.parent.glob(f"{logbook.stem}.aside*{logbook.suffix}"))


def free(path: Path) -> Path:
    """This path, or the first free one numbered on: name-2, name-3."""
    numbered = (path.with_name(f"{path.stem}-{n}{path.suffix}") for n in itertools.count(2))
    return next(
        candidate for candidate in itertools.chain([path], numbered) if not candidate.exists()
    )
