"""What happened to things that are no step: sensors, cans, parts. Appended, never changed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from curewatch.file import Logbook
from curewatch.instants import from_ms, to_ms
from curewatch.plain import body_text


@dataclass(frozen=True)
class Entry:
    """One event of a thing: its `subject` (sensor, can, part ...) and `name`, what happened,
    when it was (`at`) and when it was told."""

    id: int
    subject: str
    name: str
    kind: str
    at: datetime
    told: datetime
    body: Mapping[str, Any]


class Ledger(Logbook):
    """The part of the logbook's file that follows things other than steps and readings."""

    def add_entry(
        self,
        subject: str,
        name: str,
        kind: str,
        at: datetime,
        told: datetime,
        body: Mapping[str, Any],
    ) -> int:
        """Append an event of a thing; returns its number once it is on disk."""
        row = (subject, name, kind, to_ms(at), to_ms(told), body_text(body))
        sql = (
            "INSERT INTO ledger (subject, name, kind, at_ms, told_ms, body) "
            "VALUES (?, ?, ?, ?, ?, ?)"
        )
        with self._write() as connection:
            number = connection.execute(sql, row).lastrowid
        assert number is not None
        return number

    def all_entries(self) -> list[Entry]:
        """The events of everything that is no step, in the order told."""
        sql = "SELECT id, subject, name, kind, at_ms, told_ms, body FROM ledger ORDER BY id"
        return [
            Entry(id, about, who, kind, from_ms(at), from_ms(told), json.loads(body))
            for id, about, who, kind, at, told, body in self._rows(sql)
        ]

    def entries(self, subject: str, name: str | None = None) -> list[Entry]:
        """The events of every thing of a subject, or of one by name, in the order told."""
        sql = """SELECT id, subject, name, kind, at_ms, told_ms, body FROM ledger
            WHERE subject = :subject AND (:name IS NULL OR name = :name) ORDER BY id"""
        return [
            Entry(id, about, who, kind, from_ms(at), from_ms(told), json.loads(body))
            for id, about, who, kind, at, told, body in self._rows(
                sql, {"subject": subject, "name": name}
            )
        ]
