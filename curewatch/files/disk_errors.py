"""What the disk or SQLite says, in plain words with what to do."""

from __future__ import annotations

import errno
import sqlite3
from pathlib import Path

from curewatch.errors import StoreError

_BUSY, _FULL = sqlite3.SQLITE_BUSY, sqlite3.SQLITE_FULL
_ROOM = "make room on the disk, then try again"
_MINE = "make the folder and the file yours to write, or name another folder with --data"
BACK = "curewatch data restore puts the last good copy in its place, and keeps the damaged file"
_WORDS = {
    _FULL: ("the disk is full", _ROOM),
    sqlite3.SQLITE_IOERR: ("the disk gives an error", "check the disk and its room"),
    _BUSY: ("another program holds the file", "close that program, then try again"),
    sqlite3.SQLITE_LOCKED: ("another program holds the file", "close that program, then try again"),
    sqlite3.SQLITE_READONLY: ("it may only be read, not written", _MINE),
    sqlite3.SQLITE_PERM: ("it may only be read, not written", _MINE),
    sqlite3.SQLITE_CANTOPEN: ("file or folder is not there or not yours to write", _MINE),
    sqlite3.SQLITE_CORRUPT: ("the file is damaged", BACK),
    sqlite3.SQLITE_NOTADB: ("the file is damaged, or no logbook at all", BACK),
}


_LIKE = {
    errno.EROFS: sqlite3.SQLITE_READONLY,
    errno.EACCES: sqlite3.SQLITE_CANTOPEN,
    errno.ENOSPC: _FULL,
    errno.EDQUOT: _FULL,
}


def _code(error: BaseException) -> int:
    """SQLite's primary code of an error, or of the like of it."""
    if isinstance(error, OSError):
        return _LIKE.get(error.errno or 0, 0)
    return int(getattr(error, "sqlite_errorcode", 0)) & 0xFF


def is_busy(error: sqlite3.Error) -> bool:
    """Whether another program holds the file for now."""
    return _code(error) in (_BUSY, sqlite3.SQLITE_LOCKED)


def is_full(error: sqlite3.Error) -> bool:
    """Whether the disk has no room for what SQLite writes beside a file that is only read."""
    return getattr(error, "sqlite_errorcode", 0) in (_FULL, sqlite3.SQLITE_IOERR_SHMSIZE)


def trouble(what: str, error: sqlite3.Error | OSError, path: Path) -> StoreError:
    """`what` could not be done with the file at `path`, why, and what to do."""
    usual = "check that the folder exists, is yours to write, and has room"
    why, fix = _WORDS.get(_code(error), ("", usual))
    said = str(error.strerror if isinstance(error, OSError) and error.strerror else error)
    return StoreError(
        f"{what}: {why} ({said})" if why else f"{what} ({said})", where=str(path), fix=fix
    )


def cannot_write(
    error: OSError,
    where: Path,
    fix: str = "make the folder yours to write, or name another with --data",
) -> StoreError:
    """The file or folder at `where` cannot be written, why, and what to do."""
    return StoreError(f"cannot be written ({error.strerror})", where=str(where), fix=fix)
