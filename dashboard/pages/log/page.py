"""The log: every step in a table to search, sort and choose from, and the calendar of a job."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any
from urllib.parse import quote, urlencode

from dash import html
from flask import request

from curewatch.formats import ReaderFormat
from curewatch.garage.step import Step
from curewatch.vocabulary import STEP_STATES
from curewatch.wording import air_words, words
from dashboard.context.page_context import PageContext
from dashboard.endpoints import damaged
from dashboard.figures import job
from dashboard.figures.spark import spark
from dashboard.pages.components import (
    cell,
    damaged_entries,
    figure_box,
    first_up,
    link,
    links,
    scrolled,
)
from dashboard.pages.log import files, filters
from dashboard.pages.log.address import COMPARE, PRODUCT, LogAddress, log_address
from dashboard.pages.log.data import LogPage, LogRow, job_steps, log_page
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import Form
from dashboard.request.device import screen_of

_HEADS = (("Step", "part"), ("Product", "product"), ("Mixed", "mixed"), ("State", "state"))
ON_DAY = "sheet for a day"


def _name_cell(step: Step) -> html.Th:
    overrides = [first_up(override.words) for override in step.overrides]
    lines: list[Any] = [html.Small(f"step {step.id}{f', {step.job}' if step.job else ''}")]
    lines += [html.Small(text, className="warn") for text in overrides]
    lines += [html.Small(note, className="note") for note in step.notes]
    thumbs = list(_pictures(step))
    lines += [html.Div(thumbs, className="thumbs")] if thumbs else []
    title = words.part_of(step.part, step.sheet.name)
    return html.Th([link(title, f"/step/{step.id}", button=False), *lines], scope="row")


def _product_cell(step: Step, say: ReaderFormat) -> html.Td:
    details = [
        words.mixed_details(say, "", step.amount_g, step.hardener_pct),
        f"batch {step.batch}" if step.batch else "",
        f"by {step.who}" if step.who else "",
    ]
    lines = [words.short_name(step.sheet.name), html.Small(", ".join(filter(None, details)))]
    return _cell("Product", lines)


def _mixed_cell(step: Step, now: datetime, say: ReaderFormat) -> html.Td:
    late = words.entered_late(step.mixed_at, step.recorded_at)
    return _cell("Mixed", [say.moment(step.mixed_at, now), html.Small(late)])


def _state_cell(step: Step, now: datetime, say: ReaderFormat) -> html.Td:
    closed = f" {say.moment(step.closed_at, now)}" if step.closed_at else ""
    seen = [
        f"{words.STATES.get(witness.state, witness.state)} {say.clock(witness.at)}"
        for witness in step.witnesses
    ]
    dabs = f"Dab: {', '.join(seen)}" if seen else ""
    return _cell("State", [f"{STEP_STATES[step.state]}{closed}", html.Small(dabs)])


def _cell(head: str, lines: list[Any]) -> html.Td:
    return cell(head, [line for line in lines if not isinstance(line, html.Small) or line.children])


def _span_words(row: LogRow, quantity: str, say: ReaderFormat) -> str:
    span = row.ranges.get(quantity)
    if span is None:
        return ""
    least = words.bare(say, quantity, span.minimum)
    most = words.value(say, quantity, span.maximum)
    return most if least == words.bare(say, quantity, span.maximum) else f"{least} to {most}"


def _felt_cell(row: LogRow, say: ReaderFormat, theme: str) -> html.Td:
    surface = _span_words(row, "surface_temperature", say)
    others = [
        f"{words.QUANTITY[name]} {text}"
        for name in ("air_temperature", "relative_humidity")
        if (text := _span_words(row, name, say))
    ]
    picture = spark(row.line, row.minimum_c, theme)
    alt = f"surface from mixing to the end, {surface}"
    drawn = [html.Img(src=picture, alt=alt, className="spark")] if picture else []
    text = surface or ("" if others else "nothing measured")
    return _cell("Surface", [*drawn, html.Span(text), html.Small("; ".join(others))])


def _pictures(step: Step) -> Iterator[html.A]:
    for event in step.of("photographed")[:6]:
        path = f"/step/{step.id}/photograph/{event.id}/small"
        alt = event.body["words"] or f"Photograph of step {step.id}"
        yield html.A(html.Img(src=path, alt=alt), href=f"/step/{step.id}#photographs")


def _pick_cell(step: Step, address: LogAddress) -> html.Td:
    chosen = step.id in address.picked
    label = f"Take step {step.id} out" if chosen else f"Choose step {step.id} to compare"
    attributes: dict[str, Any] = {"aria-label": label}
    kind = "button pick-step chosen" if chosen else "button pick-step"
    tick, href = html.I(className="tick"), address.picking(step.id)
    picked = html.A(tick, href=href, id=f"pick-{step.id}", className=kind, **attributes)
    return html.Td(picked, className="pick-cell")


def _row(row: LogRow, address: LogAddress, now: datetime, say: ReaderFormat) -> html.Tr:
    step = row.step
    cells = [
        _pick_cell(step, address),
        _name_cell(step),
        _product_cell(step, say),
        _mixed_cell(step, now, say),
        _state_cell(step, now, say),
        _felt_cell(row, say, screen_of(request).theme),
    ]
    return html.Tr(cells, className="chosen" if step.id in address.picked else None)


def _head(text: str, order: str, address: LogAddress) -> html.Th:
    """A column's name, which sorts by it."""
    now_so = address.order == order
    way = ("ascending" if address.rising else "descending") if now_so else "none"
    mark = (" \u25b2" if address.rising else " \u25bc") if now_so else ""
    attributes: dict[str, Any] = {"aria-sort": way}
    return html.Th(html.A(text + mark, href=address.sorted_by(order)), scope="col", **attributes)


def _table(shown: LogPage, now: datetime, say: ReaderFormat) -> html.Div:
    compare = html.Th(html.Small("Compare"), scope="col")
    heads = [compare, *(_head(text, order, shown.address) for text, order in _HEADS)]
    heads.append(html.Th("Surface", scope="col"))
    rows = [_row(row, shown.address, now, say) for row in shown.rows]
    table = html.Table([html.Thead(html.Tr(heads)), html.Tbody(rows)], className="stack log-table")
    return scrolled(table, "Steps")


def _count(shown: LogPage) -> html.P:
    if not shown.total:
        text = (
            "Nothing found. Words are found by their beginning, in parts, jobs, products, batches, "
            "names and notes."
            if shown.address.given
            else words.EMPTY["logbook"]
        )
        return html.P(text, className="teach", role="status")
    steps = "step" if shown.total == 1 else "steps"
    part = f", page {shown.address.page} of {shown.pages}" if shown.pages > 1 else ""
    picks = ". Choose two or more to compare them" if shown.total > 1 else ""
    text = f"{shown.total} {steps}{part}{picks}."
    return html.P(text, className="hint", role="status")


def _pages(shown: LogPage) -> html.Nav | None:
    """The way to the other pages."""
    address, page = shown.address, shown.address.page
    ways = [("Page before", page - 1)] if page > 1 else []
    ways += [("Next page", page + 1)] if page < shown.pages else []
    attributes: dict[str, Any] = {"aria-label": "More of the log"}
    page_links = [link(text, address.address(page=number)) for text, number in ways]
    return html.Nav(page_links, className="buttons", **attributes) if page_links else None


def _chosen(address: LogAddress) -> html.Div | None:
    """What to do with the steps that are chosen."""
    if not address.picked:
        return None
    count = len(address.picked)
    text = "1 step chosen; choose another" if count == 1 else f"{count} steps chosen"
    compare = link("Compare", f"{COMPARE}?steps={'.'.join(map(str, address.picked))}")
    clear = link("Choose none", address.address(pick="", page=address.page))
    buttons = [compare, clear] if count > 1 else [clear]
    return html.Div([html.B(text, role="status"), *buttons], className="log-chosen")


def _made(text: str, address: str, file: str = "") -> html.A:
    """A link to what takes a while to be made, which says so when it is touched; file: its name,
    where it is one to keep."""
    attributes: dict[str, Any] = {"data-busy": "Making the hand-over sheet. This can take a while."}
    attributes |= {"data-file": file} if file else {}
    return html.A(text, href=address, className="button", **attributes)


def _job(context: PageContext, name: str, now: datetime, say: ReaderFormat) -> list[Any]:
    """The job's calendar, and its sheet."""
    steps = job_steps(context, name)
    if not steps:
        return []
    products = filters.names((step.row.sheet for step in steps), context)

    def tell(step: Any) -> str:
        return "<br>".join(air_words.step(step, products, say, now))

    drawn = job.figure(steps, now, tell, say, screen_of(request))
    sheet = f"?{urlencode({'job': name})}"
    form = Form(ON_DAY, name)
    return [
        html.H2(f"Job: {name}"),
        figure_box("job-calendar", drawn, f"Calendar of {name}: its steps by part and day"),
        html.P([_made("Hand-over sheet", files.SHEET + sheet),
                _made("as PDF", files.SHEET_PDF + sheet, files.PDF)], className="buttons"),
        html.Details(
            [
                html.Summary("Recoat state as of another day"),
                html.Div(
                    [
                        form.box("on", "Day", placeholder="24.12.2026"),
                        form.send("Sheet for that day", "html"),
                        form.send("PDF for that day", "pdf", None),
                    ],
                    className="one-line",
                ),
            ]
        ),
    ]  # fmt: skip


def _nearby(address: LogAddress) -> html.P:
    csv = address.address(files.CSV, pick="", page="", sort="")
    pairs = [("Export CSV", csv), ("Add to calendar", "/bench.ics"), ("Entered last", "/undo")]
    if address.given:
        pairs.insert(0, ("All steps", "/logbook"))
    if product := address.given.get("product"):
        pairs.insert(0, ("Predicted and actual", f"{PRODUCT}/{quote(product, '')}"))
    return links(pairs)


def content(context: PageContext, place: Address, first: bool) -> list[Any]:
    """The whole page at an address."""
    now, say = context.clock(), context.manner(request)
    address = log_address(context, place.query)
    shown = log_page(context, address, now)
    job_name = address.given.get("job", "")
    return [
        html.Div([html.H1("Log"), _nearby(address)], className="head"),
        filters.seek(context, address),
        *(html.P(str(error), className="problem") for error in address.wrong.values()),
        *damaged_entries(damaged.in_words(context, shown.damaged)),
        *(_job(context, job_name, now, say) if job_name else []),
        _count(shown),
        _table(shown, now, say) if shown.rows else None,
        _chosen(address),
        _pages(shown),
    ]


PAGE = DashPage(
    "Log",
    content,
    acts={filters.SEEK: filters.sought, ON_DAY: files.on_day},
)
