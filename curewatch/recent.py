"""What each series gave last, for whoever judges the next reading or says what is lost."""

from __future__ import annotations

from curewatch.file import Logbook
from curewatch.flag import WITHDRAWN, flag_of, text_of
from curewatch.instants import from_ms, to_ms
from curewatch.reading import QUANTITIES, Reading

DAY_MS = 86_400_000
STANDS = f"coalesce(flag, '') NOT IN ({', '.join(repr(text_of(each)) for each in WITHDRAWN)})"
LAST_MS = f"""(
    SELECT at_ms FROM reading AS last WHERE last.series = series.id AND {STANDS}
    ORDER BY at_ms DESC LIMIT 1)"""


class Recent(Logbook):
    """The part of the logbook's file that tells the ends of its series."""

    def usable(self) -> list[Reading]:
        """The last reading of every series that the model may use, of the day before its last."""
        sql = f"""
            WITH ends AS (SELECT id, source, place, quantity, {LAST_MS} AS last FROM series)
            SELECT source, place, quantity, at_ms, value FROM ends CROSS JOIN reading
            ON series = id AND at_ms = (
                SELECT at_ms FROM reading WHERE series = id AND at_ms > last - ?
                AND flag IS NULL ORDER BY at_ms DESC LIMIT 1)
            ORDER BY place, quantity, source"""
        return [
            Reading(place, QUANTITIES[quantity], value, from_ms(ms), source)
            for source, place, quantity, ms, value in self._rows(sql, (DAY_MS,))
        ]

    def tail(self, most: int) -> list[Reading]:
        """The last readings of every series, at most so many of each, in order of time."""
        sql = """
            SELECT source, place, quantity, at_ms, value, flag FROM series CROSS JOIN reading
            ON series = id AND at_ms >= coalesce((
                SELECT at_ms FROM reading WHERE series = id
                ORDER BY at_ms DESC LIMIT 1 OFFSET ?), 0)
            ORDER BY at_ms"""
        return [
            Reading(place, QUANTITIES[quantity], value, from_ms(ms), source, flag and flag_of(flag))
            for source, place, quantity, ms, value, flag in self._rows(sql, (most - 1,))
        ]

    def same_since_s(self, last: Reading) -> float:
        """Since when a series has given its last reading's value, at most a day back. [s]"""
        series = """series = (
            SELECT id FROM series WHERE source = ? AND place = ? AND quantity = ?)"""
        sql = f"""
            SELECT min(at_ms) FROM reading WHERE {series} AND at_ms > coalesce((
                SELECT at_ms FROM reading WHERE {series} AND at_ms > ? AND value <> ?
                ORDER BY at_ms DESC LIMIT 1), ?)"""
        which, back = (
            (last.source, last.place, QUANTITIES.index(last.quantity)),
            to_ms(last.at) - DAY_MS,
        )
        (found,) = self._rows(sql, (*which, *which, back, last.value, back))[0]
        return last.at.timestamp() if found is None else float(found) / 1000

    def newest_entry(self) -> int:
        """The number of the last thing told in the ledger; 0 where there is none."""
        return int(self._rows("SELECT coalesce(max(id), 0) FROM ledger")[0][0])
