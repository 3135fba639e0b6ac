"""What happened, as it is stored, and by whom: appended, never changed, and undone only by a
further event.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol, TypeVar

from curewatch.frozen import frozen


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
    """Everything entered inside is entered by this person; '' for nobody named."""
    before = _NAME.set(named(name))
    try:
        yield
    finally:
        _NAME.reset(before)


def signed(body: Mapping[str, Any]) -> dict[str, Any]:
    """What is entered, with who enters it; a name already in it stays."""
    name = _NAME.get()
    return ({"by": name} if name else {}) | dict(body)


UNDO = "forgot"
SENSOR, SHEET = "sensor", "sheet"
KEPT, REMOVED = "kept", "removed"


@frozen
class Event:
    """What happened to a step: when it was (`at`) and when it was entered (`recorded_at`).

    act: the act it is part of, 0 where that is not known; damaged: what keeps it from being read,
    '' where nothing does.
    """

    id: int
    step: int
    kind: str
    at: datetime
    recorded_at: datetime
    body: Mapping[str, Any]
    act: int = 0
    damaged: str = ""


@frozen
class Entry:
    """One event of a thing: its `subject` (sensor, can, part ...) and `name`, what happened,
    when it was (`at`) and when it was entered (`recorded_at`).

    act: the act it is part of, 0 where that is not known; damaged: what keeps it from being read,
    '' where nothing does.
    """

    id: int
    subject: str
    name: str
    kind: str
    at: datetime
    recorded_at: datetime
    body: Mapping[str, Any]
    act: int = 0
    damaged: str = ""


class AnyEvent(Protocol):
    """An event of a step or of a thing."""

    @property
    def id(self) -> int:
        """Its number."""

    @property
    def kind(self) -> str:
        """What happened."""

    @property
    def body(self) -> Mapping[str, Any]:
        """More of it."""

    @property
    def damaged(self) -> str:
        """What keeps it from being read; '' where nothing does."""


Row = TypeVar("Row", bound=AnyEvent)


def undone_by(rows: Iterable[Row]) -> dict[int, Row]:
    """The numbers of what is undone, each with the event that undid it; rows in the order told.

    An undo names what it undoes by number, and can be undone itself: then that stands again.
    """
    undone: dict[int, Row] = {}
    for row in reversed(list(rows)):
        if row.kind == UNDO and not row.damaged and row.id not in undone:
            undone.setdefault(row.body["event"], row)
    return undone


def standing(rows: Sequence[Row]) -> list[Row]:
    """What stands of these rows: neither undone nor an undo, nor damaged."""
    undone = undone_by(rows)
    return [row for row in rows if row.id not in undone and row.kind != UNDO and not row.damaged]


def own_products(entries: Iterable[Entry]) -> dict[str, str]:
    """The texts of the user's own products by id; entries: what stands of them, as recorded."""
    texts: dict[str, str] = {}
    for entry in entries:
        if entry.kind == KEPT:
            texts[entry.name] = str(entry.body["text"])
        elif entry.kind == REMOVED:
            texts.pop(entry.name, None)
    return texts
