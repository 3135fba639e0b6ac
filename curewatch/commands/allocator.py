"""The memory that a process gives back to the system once it is done with it."""

from __future__ import annotations

import ctypes
from contextlib import suppress

_MMAP_THRESHOLD, _ARENA_MAX = -3, -8  # mallopt(3), <malloc.h> of the GNU C library
_LARGE_BYTES, _ARENAS = 256 * 1024, 2


def give_back() -> None:
    """From now on a large piece of memory goes back to the system when it is freed.

    The GNU C library otherwise learns from the first such piece to keep them, in an arena for each
    thread. Another C library is left as it is. To be called before threads start.
    """
    with suppress(OSError, AttributeError):
        library = ctypes.CDLL(None)
        library.gnu_get_libc_version  # noqa: B018  # whether this is the GNU C library
        library.mallopt(_MMAP_THRESHOLD, _LARGE_BYTES)
        library.mallopt(_ARENA_MAX, _ARENAS)
