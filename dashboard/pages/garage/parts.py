"""The parts, one row each: what is next on it, and whether that fits tonight; bare metal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from dash import html
from flask import request

from curewatch.formats import ReaderFormat
from curewatch.garage import evening, parts
from curewatch.plan import sentences
from curewatch.plan.next_action import MOST, Card, Cards, urgent_first
from dashboard.context.page_context import PageContext
from dashboard.endpoints import damaged
from dashboard.pages.components import choices, first_up, link, links
from dashboard.pages.garage import part, until
from dashboard.pages.garage.query import asked_of
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import Form, TouchOutcome

_NEARBY = (
    ("Plan", "/plan"),
    ("Last night", "/morning"),
    ("Shelf", "/shelf"),
    ("Entered last", "/undo"),
)
_MOST_JOBS = 40


def row(card: Card, now: datetime, say: ReaderFormat) -> html.Li:
    """One part: its name, what is next on it and what was last, whether it fits tonight."""
    named = card.part
    kind = html.Em("structural?" if card.joint == "asked" else "structural")
    name = [html.B(named.name), html.Span(named.job) if named.job else None]
    bare = sentences.bare_words(named, now, say)
    following = sentences.brief_words(card, now, say)
    middle = [
        html.Strong(first_up(bare)) if bare else None,
        html.B(first_up(following)) if following else None,
        html.Span(first_up(sentences.last_words(card, now, say))),
        html.B(part.asks(card)) if named.asked_step else None,
    ]
    fits = sentences.fits_words(card, now, say)
    end = html.Span(fits, className=f"fits-{card.fits}") if fits else None
    query = urlencode({"part": named.name, "job": named.job})
    cells = [
        html.Span([*name, kind if card.structural else None], className="part-name"),
        html.Span(middle, className="part-next"),
        html.Span(end, className="part-fits"),
    ]
    return html.Li(
        html.A(cells, href=f"/parts?{query}", className="bare" if named.bare_since else None)
    )


def _rows(cards: Sequence[Card], now: datetime, say: ReaderFormat) -> html.Ul:
    return html.Ul([row(card, now, say) for card in cards], className="part-rows")


def _listed(cards: Sequence[Card], now: datetime, say: ReaderFormat) -> list[Any]:
    """The parts, urgent first; the finished ones folded."""
    if not cards:
        empty = "No part yet. Name one when you mix, or enter one cleaned to bare metal below."
        return [html.P(empty, className="teach")]
    ordered = urgent_first(cards)
    finished = [card for card in ordered if card.part.done]
    going_on = [card for card in ordered if not card.part.done]
    summary = html.Summary(f"Finished, {len(finished)}")
    folded = html.Details([summary, _rows(finished, now, say)]) if finished else None
    return [_rows(going_on, now, say), folded]


def _jobs(context: PageContext, cards: Sequence[Card], chosen: str | None) -> Any:
    """The jobs to choose from, where there are several."""
    names = parts.jobs(context.store)[:_MOST_JOBS]
    if len(names) < 2:
        return None
    ways = [link("All jobs", "/parts", here=chosen is None)]
    ways += [
        link(name or "Without a job", f"/parts?{urlencode({'job': name})}", here=chosen == name)
        for name in names
    ]
    text = "Only the parts worked on last. The others are under their job."
    return [
        choices("Jobs", ways),
        html.P(text, className="hint") if len(cards) == MOST else None,
    ]


def _tonight(cards: Sequence[Card], stop: datetime | None, now: datetime, say: ReaderFormat) -> Any:
    """What can be done before one stops."""
    if stop is None:
        return None
    groups = sentences.grouped(cards, now, say)
    rows = [
        html.Li(
            [html.B(", ".join(card.part.name for card in group)), f" {what}", html.Span(whether)],
            className=f"fits-{group[0].fits}",
        )
        for what, whether, group in groups
    ]
    nothing = html.P("Nothing on these parts is known to fit before then.")
    head = html.H2(f"Before {say.moment(stop, now)}")
    return html.Section([head, html.Ul(rows, className="fitting plain") if rows else nothing])


def _bared(context: PageContext, _key: str, values: Mapping[str, Any]) -> TouchOutcome:
    name, job = ((values.get(key) or "").strip() for key in ("part", "job"))
    return part.bared(context, name, job, values)


def _cleaned(job: str) -> html.Section:
    form = Form("cleaned to metal")
    boxes = [
        form.box("part", "Part", placeholder="left rear rib"),
        form.box("job", "Job", job),
        *part.metal_boxes(form),
    ]
    start = html.P([form.send("Bare-metal timer: start")], className="buttons")
    head = html.H2("Cleaned to bare metal")
    return html.Section([head, html.Div(boxes, className="fields"), form.wrong(), start])


def _damaged(context: PageContext) -> Any:
    entries = damaged.things(context, parts.SUBJECT)
    if not entries:
        return None
    lines = [html.P(f"{text}.") for _, text, _ in entries]
    return html.Div([*lines, link("Damaged entries", "/damaged")], className="problem")


def _all(context: PageContext, job: str | None) -> list[Any]:
    now, say = context.clock(), context.manner(request)
    stop = evening.stop_of(context.store, now, context.zone)
    cards = Cards(context.bench).cards(now, job=job, stop=stop)
    return [
        html.Div([html.H1("Parts"), links(_NEARBY)], className="head"),
        until.box(stop, say),
        _tonight(cards, stop, now, say),
        _damaged(context),
        html.Div(_jobs(context, cards, job)),
        *_listed(cards, now, say),
        _cleaned(cards[0].part.job if cards else ""),
    ]


def content(context: PageContext, address: Address, _first: bool) -> list[Any]:
    """All parts, those of a job, or one part, as the address asks."""
    query = asked_of(address)
    if "part" in query:
        return part.content(context, query["part"].strip(), query.get("job", "").strip())
    return _all(context, query.get("job"))


def _title(_context: PageContext, address: Address) -> str:
    return asked_of(address).get("part", "").strip()[:80] or "Parts"


PAGE = DashPage(
    _title,
    content,
    acts={
        "working until": until.keep,
        "cleaned to metal": _bared,
        **part.ACTS,
    },
)
