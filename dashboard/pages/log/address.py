"""What an address of the log shows: what is sought, in which order, which page, what is chosen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from datetime import datetime
from urllib.parse import parse_qsl, urlencode

from flask import request

from curewatch.days import parse_day
from curewatch.errors import CurewatchError
from curewatch.frozen import frozen
from curewatch.store import search_index
from curewatch.store.search import ORDERS, StepQuery
from curewatch.walltime import day_start
from dashboard.context.page_context import PageContext
from dashboard.request.numbers import number_of

PATH, COMPARE, PRODUCT = "/logbook", "/log/compare", "/log/product"
SOUGHT = ("find", "job", "part", "product", "state", "from", "to")
MOST_PICKED = 6
_LONGEST = 200


@frozen
class LogAddress:
    """given: what is sought, by field; order: by what the steps are put in order, rising or
    falling; page: from 1; picked: the steps chosen to be laid over each other; wrong: what a field
    holds that cannot be read, by field."""

    given: Mapping[str, str] = field(default_factory=dict)
    order: str = "mixed"
    rising: bool = False
    page: int = 1
    picked: tuple[int, ...] = ()
    since: datetime | None = None
    until: datetime | None = None
    wrong: Mapping[str, CurewatchError] = field(default_factory=dict)

    @property
    def query(self) -> StepQuery:
        """What the store is asked for."""
        given = self.given
        return StepQuery(
            text=given.get("find", ""),
            job=given.get("job") or None,
            part=given.get("part", ""),
            sheet=given.get("product", ""),
            state=given.get("state", ""),
            since=self.since,
            until=self.until,
        )

    def address(self, path: str = PATH, **changes: object) -> str:
        """This address with other fields; an empty one goes. What else is sought begins with its
        first page."""
        kept: dict[str, object] = dict(self.given)
        kept |= {"sort": self.sort, "page": self.page if self.page > 1 else ""}
        kept["pick"] = ".".join(map(str, self.picked))
        if not {"pick", "page"} & set(changes):
            kept["page"] = ""
        fields = {name: str(value) for name, value in (kept | changes).items() if value}
        return f"{path}?{urlencode(fields)}" if fields else path

    @property
    def sort(self) -> str:
        """The order as the address has it; '' for the usual one."""
        if (self.order, self.rising) == ("mixed", False):
            return ""
        return f"{'' if self.rising else '-'}{self.order}"

    def sorted_by(self, order: str) -> str:
        """The address in that order; where it is so already, the other way round."""
        turned = self.order == order and not self.rising
        rising = turned if order == "mixed" else not (self.order == order and self.rising)
        return self.address(sort=f"{'' if rising else '-'}{order}")

    def picking(self, step: int) -> str:
        """The address with a step chosen, or chosen no more."""
        left = [number for number in self.picked if number != step]
        numbers = left if step in self.picked else [*self.picked, step]
        return self.address(pick=".".join(map(str, numbers[-MOST_PICKED:])), page=self.page)


def numbers_in(text: str) -> tuple[int, ...]:
    """The step numbers of a text like 3.7.12, each once; what is none is left out."""
    numbers = [number_of(part) for part in text.replace(",", ".").split(".")]
    return tuple(dict.fromkeys(number for number in numbers if number))[:MOST_PICKED]


def _day(context: PageContext, text: str, later: int) -> datetime | None:
    return (
        day_start(parse_day(text, context.date_order(request)), context.zone, later)
        if text
        else None
    )


def log_address(context: PageContext, query: str) -> LogAddress:
    """What the query of an address asks for."""
    fields = {name: value.strip()[:_LONGEST] for name, value in parse_qsl(query)}
    given = {name: fields[name] for name in SOUGHT if fields.get(name)}
    if given.get("state", "") not in search_index.STATES:
        given.pop("state", None)
    sort = fields.get("sort", "")
    order = sort.removeprefix("-")
    days, wrong = dict[str, datetime | None](), dict[str, CurewatchError]()
    for name, later in (("from", 0), ("to", 1)):
        try:
            days[name] = _day(context, given.get(name, ""), later)
        except CurewatchError as error:
            wrong[name] = error
    sortable = order in ORDERS
    return LogAddress(
        given,
        order if sortable else "mixed",
        sortable and not sort.startswith("-"),
        max(number_of(fields.get("page")) or 1, 1),
        numbers_in(fields.get("pick", "")),
        days.get("from"),
        days.get("to"),
        wrong,
    )
