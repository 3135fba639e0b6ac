"""What the disk or SQLite says, in plain words with what to do."""

from __future__ import annotations

import errno
import sqlite3
from pathlib import Path

from curewatch.errors import StoreError

_BUSY, _FULL = sqlite3.SQLITE_BUSY, sqlite3.SQLITE_FULL
_ROOM = "make room on the disk, then try again"
_MINE = "make the folder and the file writable for you, or name another folder with --data"
BACK = "curewatch data restore brings back the last good copy, and keeps the damaged file"
_WORDS = {
    _FULL: ("the disk is full", _ROOM),
    sqlite3.SQLITE_IOERR: ("the disk reports an error", "check that the disk works and has room"),
    _BUSY: ("another program has locked the file", "close that program, then try again"),
    sqlite3.SQLITE_LOCKED: (
        "another program has locked the file",
        "close that program, then try again",
    ),
    sqlite3.SQLITE_READONLY: ("it can be read, but not written", _MINE),
    sqlite3.SQLITE_PERM: ("it can be read, but not written", _MINE),
    sqlite3.SQLITE_CANTOPEN: ("file or folder does not exist, or you may not write to it", _MINE),
    sqlite3.SQLITE_CORRUPT: ("the file is damaged", BACK),
    sqlite3.SQLITE_NOTADB: ("the file is damaged, or is not a logbook", BACK),
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
    usual = "check that the folder exists, that you may write to it, and that the disk has room"
    why, fix = _WORDS.get(_code(error), ("", usual))
    reason = str(error.strerror if isinstance(error, OSError) and error.strerror else error)
    return StoreError(
        f"{what}: {why} ({reason})" if why else f"{what} ({reason})", where=str(path), fix=fix
    )


def cannot_write(
    error: OSError,
    where: Path,
    fix: str = "make the folder writable for you, or name another with --data",
) -> StoreError:
    """The file or folder at `where` cannot be written, why, and what to do."""
    return StoreError(f"cannot be written ({error.strerror})", where=str(where), fix=fix)
