"""One curewatch at a time works on a data folder."""

from __future__ import annotations

import contextlib
import fcntl
import os
from collections.abc import Iterator
from pathlib import Path

from curewatch.errors import StoreError
from curewatch.files.disk_errors import cannot_write

LOCK = "curewatch.lock"


@contextlib.contextmanager
def only_one(folder: Path, address: str) -> Iterator[None]:
    """Hold the data folder; a second one says where the first is and leaves it alone."""
    path = folder / LOCK
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise cannot_write(error, folder) from None
    with os.fdopen(handle, "r+") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise StoreError(
                f"curewatch already runs on this data, at {file.read().strip()}",
                where=str(folder),
                fix="open that page, or name another folder with --data",
            ) from None
        file.seek(0)
        file.truncate()
        file.write(address)
        file.flush()
        yield
