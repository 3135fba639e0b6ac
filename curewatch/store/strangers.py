"""Who was turned away at the broker's door and what was refused, as the logbook's file keeps it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from curewatch.store.database import Logbook
from curewatch.store.turned_away import Refusal, Stranger, TurnedAway
from curewatch.text import plain
from curewatch.walltime import from_ms, to_ms

MOST_ROWS, _MOST_REFUSALS, _NAME = 100, 200, 60


class Strangers(Logbook):
    """The part of the logbook's file that tells who was turned away, and what was refused."""

    def add_turned_away(self, counts: Sequence[TurnedAway]) -> None:
        """Count these, in one transaction; only the latest MOST_ROWS are kept."""
        rows = [
            (who.why, who.address, plain(who.client)[:_NAME], plain(who.user)[:_NAME], who.number,
             row.count, to_ms(row.last))
            for row in counts
            for who in [row.who]
        ]  # fmt: skip
        with self._write(None, entered=False) as connection:
            connection.executemany(
                "INSERT INTO turned_away VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO UPDATE "
                "SET count = count + excluded.count, last_ms = max(last_ms, excluded.last_ms)",
                rows,
            )
            connection.execute(
                "DELETE FROM turned_away WHERE (why, address, client, user, number) NOT IN "
                "(SELECT why, address, client, user, number FROM turned_away "
                "ORDER BY last_ms DESC LIMIT ?)",
                (MOST_ROWS,),
            )

    def turned_away(self) -> list[TurnedAway]:
        """Who was turned away, the latest first."""
        sql = """
            SELECT why, address, client, user, number, count, last_ms FROM turned_away
            ORDER BY last_ms DESC, address, client"""
        return [
            TurnedAway(Stranger(*who), count, from_ms(ms)) for *who, count, ms in self._rows(sql)
        ]

    def refuse(self, at: datetime, source: str, sentence: str) -> None:
        """Count one that was refused; equal sentences of one source are one line."""
        self.add_refusals([Refusal(source, sentence, 1, at)])

    def add_refusals(self, counts: Sequence[Refusal]) -> None:
        """Count these, in one transaction; only the latest are kept."""
        rows = [
            (plain(row.source)[:200], plain(row.sentence)[:500], row.count, to_ms(row.last))
            for row in counts
        ]
        with self._write(None, entered=False) as connection:
            connection.executemany(
                "INSERT INTO refused VALUES (?, ?, ?, ?) ON CONFLICT DO UPDATE "
                "SET count = count + excluded.count, last_ms = excluded.last_ms",
                rows,
            )
            connection.execute(
                "DELETE FROM refused WHERE last_ms < (SELECT last_ms FROM refused "
                "ORDER BY last_ms DESC LIMIT 1 OFFSET ?)",
                (_MOST_REFUSALS,),
            )

    def refusals(self) -> list[Refusal]:
        """What was refused, the latest first."""
        sql = "SELECT source, sentence, count, last_ms FROM refused ORDER BY last_ms DESC"
        return [Refusal(s, text, count, from_ms(ms)) for s, text, count, ms in self._rows(sql)]
