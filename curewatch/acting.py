"""One act: everything that one command, one touch or one press of a button puts on record.

All of it carries the act's number, so that it can be undone together.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass


@dataclass
class Act:
    """The act that is going on; `number` is None until something was recorded."""

    number: int | None = None


_NOW: ContextVar[Act | None] = ContextVar("act", default=None)


@contextmanager
def acting() -> Iterator[Act]:
    """Everything recorded inside is one act; inside another act it belongs to that one."""
    outer = _NOW.get()
    if outer is not None:
        yield outer
        return
    act = Act()
    before = _NOW.set(act)
    try:
        yield act
    finally:
        _NOW.reset(before)


def going_on() -> Act:
    """The act that is going on; a new one where none is."""
    return _NOW.get() or Act()
