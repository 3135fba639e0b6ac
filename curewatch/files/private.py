"""Files that only their owner may read, written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from curewatch.files.disk_errors import cannot_write

_OTHERS = 0o077


def shut(*paths: Path) -> None:
    """Take from everyone but the owner what files allow them; nothing where there is none."""
    for path in paths:
        with suppress(OSError):
            mode = path.stat().st_mode
            if mode & _OTHERS:
                path.chmod(mode & 0o777 & ~_OTHERS)


def to_disk(path: Path) -> None:
    """Wait until a file, or the names in a folder, are on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def arriving(target: Path) -> Iterator[Path]:
    """An empty file beside `target`, which takes its place once all that was written to it is on
    disk: file first, then folder. Where anything fails, what stood there stays.

    Raises OSError.
    """
    import tempfile

    target = Path(os.path.realpath(target))
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f"{target.name}.", suffix=".part")
    os.close(handle)
    fresh = Path(name)
    try:
        yield fresh
        to_disk(fresh)
        fresh.replace(target)
    finally:
        fresh.unlink(missing_ok=True)
    to_disk(target.parent)


def write_whole(path: Path, data: bytes) -> None:
    """Put `data` at `path` whole or not at all, for its owner alone, in a folder that is made where
    there is none. Raises OSError."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with arriving(path) as fresh:
        fresh.write_bytes(data)


def write_owned(path: Path, text: str) -> None:
    """Put a text at `path` as `write_whole` does. Raises StoreError."""
    try:
        write_whole(path, text.encode())
    except OSError as error:
        raise cannot_write(error, path) from None


def write_out(path: Path, data: bytes) -> None:
    """Put what a user asked for at `path`, whole or not at all, readable as any new file of theirs;
    a pipe or a device is written to as it is. Raises OSError."""
    if path.exists() and not path.is_file():
        path.write_bytes(data)
        return
    mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()
    with arriving(path) as fresh:
        fresh.write_bytes(data)
        fresh.chmod(mode)


def _umask() -> int:
    """What this process takes from new files; it can only be read by setting it."""
    previous = os.umask(0o077)
    os.umask(previous)
    return previous
