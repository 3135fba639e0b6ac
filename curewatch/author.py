"""Who is telling: the name that goes with whatever is told of a step in this command or request."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

LONGEST_NAME = 60
_NAME: ContextVar[str] = ContextVar("author", default="")


def named(name: str) -> str:
    """A name as it is kept: on one line, not too long.

    >>> named("  Ann   B. ")
    'Ann B.'
    """
    return " ".join(name.split())[:LONGEST_NAME]


@contextmanager
def telling(name: str) -> Iterator[None]:
    """Everything told of a step inside is told by this person; '' by nobody named."""
    before = _NAME.set(named(name))
    try:
        yield
    finally:
        _NAME.reset(before)


def signed(body: Mapping[str, Any]) -> dict[str, Any]:
    """What is told, with who tells it; a name that it holds already stays."""
    name = _NAME.get()
    return ({"by": name} if name else {}) | dict(body)
