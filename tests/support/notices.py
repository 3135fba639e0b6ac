"""Notices by their codes, for tests that care what is said and not how."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from curewatch.notice import Notice


def codes(notices: Iterable[Notice]) -> list[str]:
    """The code of each notice."""
    return [notice.code for notice in notices]


def inside(notices: Iterable[Notice]) -> Iterator[Notice]:
    """Every notice, and those that stand in one of its fields."""
    for notice in notices:
        yield notice
        yield from inside(field for field in notice.fields.values() if isinstance(field, Notice))
