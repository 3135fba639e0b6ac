"""Instants as the logbook's file holds them: whole milliseconds since 1970, UTC."""

from __future__ import annotations

from datetime import UTC, datetime


def to_ms(at: datetime) -> int:
    """An aware instant as whole milliseconds since 1970. [ms]"""
    return round(at.timestamp() * 1000)


def from_ms(ms: int) -> datetime:
    """The UTC instant of milliseconds since 1970 [ms]."""
    return datetime.fromtimestamp(ms / 1000, UTC)
