"""What the log is searched by: a box for words and days, and one list a choice."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from dash import html
from flask import request

from curewatch.garage.shelf import shelf
from curewatch.store import search_index
from curewatch.vocabulary import STEP_STATES
from curewatch.wording import log_words
from dashboard.context.page_context import PageContext
from dashboard.pages.components import link
from dashboard.pages.log.address import LogAddress, log_address
from dashboard.pages.touches import Form, TouchOutcome, WrongField
from dashboard.request.device import screen_of

SEEK = "search the log"
SORTS = {
    "": "newest first",
    "mixed": "oldest first",
    "part": "part",
    "job": "job",
    "product": "product",
    "state": "state",
}
_MOST = 60
Choice = tuple[str, str]


def names(ids: Iterable[str], context: PageContext) -> dict[str, str]:
    """The products' names by id."""
    return log_words.product_names(ids, shelf(context.store))


def choices(context: PageContext) -> Mapping[str, tuple[str, list[Choice]]]:
    """By field: its name, and what can be chosen, each as the address has it and in words."""
    listed = {what: context.store.recent_names(what, _MOST) for what in ("job", "part", "sheet")}
    return {
        "job": ("Job", [(name, name) for name in listed["job"]]),
        "part": ("Part", [(name, name) for name in listed["part"]]),
        "product": ("Product", list(names(listed["sheet"], context).items())),
        "state": ("State", [(state, STEP_STATES[state]) for state in search_index.STATES]),
    }


def _list(address: LogAddress, field: str, name: str, offered: list[Choice]) -> html.Details:
    """One choice as a list that opens; what is chosen stands on it."""
    chosen = address.given.get(field, "")
    current = dict(offered).get(chosen, chosen) or "all"
    entries = [("", "all"), *offered]
    links = [
        html.Li(link(text, address.address(**{field: value}), button=False, here=value == chosen))
        for value, text in entries
    ]
    summary = html.Summary([html.Span(f"{name}:"), html.B(current)])
    kind = "pick-list chosen" if chosen else "pick-list"
    return html.Details([summary, html.Ul(links)], className=kind)


def _sorts(address: LogAddress) -> html.Details:
    links = [
        html.Li(link(text, address.address(sort=sort), button=False, here=sort == address.sort))
        for sort, text in SORTS.items()
    ]
    current = SORTS.get(address.sort.removeprefix("-") if address.sort else "", "newest first")
    summary = html.Summary([html.Span("Order:"), html.B(current)])
    return html.Details([summary, html.Ul(links)], className="pick-list")


def _days(form: Form, address: LogAddress) -> html.Details:
    """The days between which a step was mixed, typed in the reader's way."""
    first, last = (address.given.get(name, "") for name in ("from", "to"))
    text = f"{first or '…'} to {last or 'today'}" if first or last else "all"
    boxes = [
        form.box("from", "Mixed from", first, placeholder="14.10.2026"),
        form.box("to", "to", last, placeholder="today"),
        form.send("Show"),
    ]
    summary = html.Summary([html.Span("Days:"), html.B(text)])
    kind = "pick-list chosen" if first or last else "pick-list"
    inside = html.Div(boxes, className="pick-days")
    return html.Details([summary, inside], className=kind)


def seek(context: PageContext, address: LogAddress) -> html.Section:
    """The search and the choices."""
    form, given = Form(SEEK, address.address(find="", **{"from": "", "to": ""})), address.given
    boxes = [
        form.box(
            "find", "Search", given.get("find", ""), type="search",
            placeholder="batch, part, note …",
        ),
        form.send("Search"),
    ]  # fmt: skip
    lists = [_list(address, field, *offer) for field, offer in choices(context).items()]
    search = html.Div(boxes, className="log-seek", role="search")
    picks = _picks([*lists, _days(form, address)], address)
    return html.Section([search, picks, form.wrong()], className="log-find")


def _picks(lists: list[html.Details], address: LogAddress) -> html.Nav | html.Details:
    """The choices side by side; on the phone folded, and with the order, as no heads show it."""
    attributes: dict[str, Any] = {"aria-label": "Filter"}
    if screen_of(request).layout != "phone":
        return html.Nav(lists, className="pick-lists", **attributes)
    nav = html.Nav([*lists, _sorts(address)], className="pick-lists", **attributes)
    count = len(set(address.given) - {"find"})
    summary = html.Summary(f"Filter: {count} chosen" if count else "Filter and order")
    return html.Details([summary, nav], className="log-filter")


def sought(context: PageContext, key: str, values: Mapping[str, Any]) -> TouchOutcome:
    """Go to what was typed; key: the address without it. Raises CurewatchError."""
    address = log_address(context, key.partition("?")[2])
    typed = {name: str(values.get(name) or "").strip() for name in ("find", "from", "to")}
    wanted = address.address(**typed)
    for field, error in log_address(context, wanted.partition("?")[2]).wrong.items():
        raise WrongField(field, error)
    return TouchOutcome(go=wanted)
