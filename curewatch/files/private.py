"""Files that only their owner may read, written whole or not at all."""

from __future__ import annotations

import os
from contextlib import suppress
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


def write_owned(path: Path, text: str) -> None:
    """Put `text` at `path`, on disk before it takes the place of what was there.

    Raises StoreError where the folder cannot be written.
    """
    fresh = path.with_name(f"{path.name}.new")
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with suppress(FileNotFoundError):
            fresh.unlink()
        handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    except OSError as error:
        raise cannot_write(error, path) from None
