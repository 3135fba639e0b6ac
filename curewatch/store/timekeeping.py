"""The newest instant known, read from the logbook's file and kept there."""

from __future__ import annotations

from datetime import datetime, timedelta

from curewatch.store.database import Logbook
from curewatch.store.known_time import KnownTime
from curewatch.walltime import from_ms, to_ms


class Timekeeping(Logbook):
    """The part of the logbook's file that knows the newest instant."""

    def known_time(self) -> KnownTime:
        """The newest instant known."""
        sql = "SELECT newest_ms, behind_ms, confirmed FROM clock"
        newest, behind, confirmed = self._rows(sql)[0]
        return KnownTime(from_ms(newest), timedelta(milliseconds=behind), confirmed)

    def keep_time(self, instant: KnownTime) -> None:
        """Keep what a clock shows now, unless the user has confirmed another time meanwhile."""
        sql = """UPDATE clock SET newest_ms = max(newest_ms, ?), behind_ms = ?
            WHERE confirmed = ?"""
        behind_ms = round(instant.behind / timedelta(milliseconds=1))
        with self._write(None, entered=False) as connection:
            connection.execute(sql, (to_ms(instant.newest), behind_ms, instant.confirmed))

    def set_time(self, newest: datetime) -> None:
        """Take this as the newest instant known, although a newer one was: the user said so."""
        sql = "UPDATE clock SET newest_ms = ?, behind_ms = 0, confirmed = confirmed + 1"
        with self._write(None, entered=False) as connection:
            connection.execute(sql, (to_ms(newest),))
