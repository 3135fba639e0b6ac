"""Which readings of a source are withdrawn: corrected since, or taken back. The rows stay."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from curewatch.climate.flag import Flag, flag_of, text_of
from curewatch.climate.reading import QUANTITIES, Quantity, Reading
from curewatch.store import rollup
from curewatch.store.database import Logbook
from curewatch.walltime import from_ms, to_ms

Key = tuple[str, Quantity, int]


def key_of(reading: Reading) -> Key:
    """What tells a reading of one source from the others: place, quantity, when [ms]."""
    return reading.place, reading.quantity, to_ms(reading.at)


class Marking(Logbook):
    """The part of the logbook's file that says which readings of a source are withdrawn."""

    def mark(self, source: str, marks: Mapping[Key, Flag | None]) -> None:
        """Flag readings of a source, or let them stand again (None).

        The roll-ups of their hours are worked out again.
        """
        first = min((at_ms for _, _, at_ms in marks), default=None)
        with self._write(first, told=False) as connection:
            changed: list[rollup.Row] = []
            for (place, quantity, at_ms), flag in marks.items():
                sql = """
                    UPDATE reading SET flag = ? WHERE at_ms = ? AND series = (
                        SELECT id FROM series WHERE source = ? AND place = ? AND quantity = ?)
                    RETURNING series, at_ms, value, flag"""
                which = (source, place, QUANTITIES.index(quantity))
                changed += connection.execute(
                    sql, (flag and text_of(flag), at_ms, *which)
                ).fetchall()
            rollup.work_out(connection, changed)

    def of_source(self, source: str, start: datetime, end: datetime) -> list[Reading]:
        """The readings of a source from start to end, withdrawn ones too, the latest first."""
        sql = f"""
            SELECT place, quantity, at_ms, value, flag FROM series CROSS JOIN reading
            ON series = series.id WHERE source = ? AND at_ms BETWEEN ? AND ? AND {rollup.SOUND}
            ORDER BY at_ms DESC, place, quantity"""
        return [
            Reading(place, QUANTITIES[quantity], value, from_ms(ms), source, flag and flag_of(flag))
            for place, quantity, ms, value, flag in self._rows(
                sql, (source, to_ms(start), to_ms(end))
            )
        ]
