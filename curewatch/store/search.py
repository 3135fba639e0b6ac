"""Finding steps among thousands: by job, part, product, state and day, and by any word of them."""

from __future__ import annotations

from datetime import datetime
from typing import Any, NamedTuple

from curewatch.climate.reading import QUANTITIES
from curewatch.frozen import frozen
from curewatch.store import rollup
from curewatch.store.ledger import Ledger
from curewatch.store.search_index import UNDONE, folded
from curewatch.walltime import to_ms

LONGEST = 200
ORDERS = {
    "step": "step",
    "mixed": "mixed_ms",
    "part": "part COLLATE NOCASE",
    "job": "job COLLATE NOCASE",
    "product": "sheet",
    "state": "state",
}
"""By what the steps sought can be put in order."""
_RANGES = f"""
    SELECT place, quantity, min(low), max(high) FROM (
        SELECT series AS id, low, high FROM hour WHERE hour BETWEEN :first AND :last
        UNION ALL
        SELECT id, value, value FROM series CROSS JOIN reading ON series = id
        WHERE at_ms BETWEEN :start AND :before AND flag IS NULL AND {rollup.SOUND}
        UNION ALL
        SELECT id, value, value FROM series CROSS JOIN reading ON series = id
        WHERE at_ms BETWEEN :after AND :end AND flag IS NULL AND {rollup.SOUND})
    JOIN series USING (id) GROUP BY place, quantity"""


@frozen
class StepQuery:
    """What is looked for; '' and None: any. since and until: when it was mixed; sheet: its id;
    step: its number."""

    text: str = ""
    job: str | None = None
    part: str = ""
    sheet: str = ""
    state: str = ""
    since: datetime | None = None
    until: datetime | None = None
    step: int | None = None


class Range(NamedTuple):
    """Least and most that was measured of a quantity at a place [C or %]."""

    place: str
    quantity: str
    minimum: float
    maximum: float


def match(text: str) -> str:
    """The index's question for words that all must occur, each by its beginning; '' for none."""
    words = [word for word in folded(text[:LONGEST]).split() if any(map(str.isalnum, word))]
    return " ".join('"{}"*'.format(word.replace('"', '""')) for word in words)


def _where(query: StepQuery) -> tuple[str, dict[str, Any]]:
    values: dict[str, Any] = {}
    clauses = ["1"] if query.state else [f"state != '{UNDONE}'"]
    if query.job is not None:
        clauses.append("job = :job")
        values["job"] = query.job
    for name in ("part", "sheet", "state", "step"):
        if value := getattr(query, name):
            clauses.append(f"{name} = :{name}")
            values[name] = value
    for name, sign in (("since", ">="), ("until", "<")):
        if (at := getattr(query, name)) is not None:
            clauses.append(f"mixed_ms {sign} :{name}")
            values[name] = to_ms(at)
    if query.text.strip():
        clauses.append("step IN (SELECT rowid FROM found WHERE found MATCH :text)")
        values["text"] = match(query.text) or '""'
    return " AND ".join(clauses), values


class Searched(Ledger):
    """The part of the logbook's file that finds steps."""

    def find(
        self,
        query: StepQuery,
        *,
        most: int | None = None,
        before: int | None = None,
        order: str = "step",
        rising: bool = False,
        skip: int = 0,
    ) -> list[int]:
        """The numbers of the steps sought, the latest first or by another of ORDERS: at most so
        many, under a number, without the first of them."""
        where, values = _where(query)
        values |= {"most": -1 if most is None else most, "before": before, "skip": skip}
        way = "ASC" if rising else "DESC"
        sql = f"""SELECT step FROM listed WHERE {where} AND (:before IS NULL OR step < :before)
            ORDER BY {ORDERS[order]} {way}, step DESC LIMIT :most OFFSET :skip"""
        return [step for (step,) in self._rows(sql, values)]

    def count(self, query: StepQuery) -> int:
        """How many steps are sought."""
        where, values = _where(query)
        return int(self._rows(f"SELECT count(*) FROM listed WHERE {where}", values)[0][0])

    def recent_names(self, what: str, most: int = 200) -> list[str]:
        """The jobs, parts or sheets of the steps, the one touched last first."""
        assert what in ("job", "part", "sheet")
        sql = f"""SELECT {what} FROM listed WHERE {what} != '' AND state != '{UNDONE}'
            GROUP BY {what} ORDER BY max(step) DESC LIMIT ?"""
        return [name for (name,) in self._rows(sql, (most,))]

    def ranges(self, start: datetime, end: datetime) -> list[Range]:
        """Least and most of everything measured between two instants but flagged readings."""
        values = rollup.whole_hours(to_ms(start), to_ms(end), 1)
        return [
            Range(place, QUANTITIES[quantity], low, high)
            for place, quantity, low, high in self._rows(_RANGES, values)
        ]
