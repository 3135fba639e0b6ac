"""What the log gives as files: its steps as CSV, and a job's hand-over sheet to read and print."""

from __future__ import annotations

import threading
from base64 import b64encode
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Any
from urllib.parse import urlencode

from flask import Flask, Response, request

from curewatch.days import parse_day
from curewatch.handover.blocks import Document
from curewatch.handover.handover import document
from curewatch.handover.html import STYLE, to_html
from curewatch.logbook import logbook
from curewatch.walltime import day_start
from dashboard.context.page_context import PageContext
from dashboard.context.turns import Busy, OneAtATime
from dashboard.pages.log.address import log_address
from dashboard.pages.touches import TouchOutcome, at_field

CSV, SHEET, SHEET_PDF = "/logbook.csv", "/handover.html", "/handover.pdf"
PDF = "hand-over.pdf"
_HASH = b64encode(sha256(STYLE.encode()).digest()).decode()
POLICY = (
    f"default-src 'none'; style-src 'sha256-{_HASH}'; img-src data:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
"""The sheet has its style inside itself, so that it can be kept and sent as one file."""


def _as_of(context: PageContext) -> datetime | None:
    """The end of the day for which the hand-over sheet says the recoat state; None for now."""
    text = request.args.get("on", "").strip()
    if not text:
        return None
    return day_start(parse_day(text, context.date_order(request)), context.zone, 1) - timedelta(
        minutes=1
    )


def on_day(context: PageContext, job: str, values: Mapping[str, Any]) -> TouchOutcome:
    """Open a job's sheet as of another day. Raises CurewatchError."""
    text = str(values.get("on") or "")
    with at_field("on"):
        day = parse_day(text, context.date_order(request))
    path = SHEET_PDF if values.get("send") == "pdf" else SHEET
    return TouchOutcome(go=f"{path}?{urlencode({'job': job, 'on': day.isoformat()})}")


def _in_turn(turn: threading.Lock, lines: Iterator[str]) -> Iterator[str]:
    """The lines, the turn held while they are written and given back however that ends."""
    with turn:
        yield from lines


def _csv(app: Flask, context: PageContext) -> None:
    turn = threading.Lock()

    @app.get(CSV)
    def log_csv() -> Response:
        address = log_address(context, request.query_string.decode())
        for error in address.wrong.values():
            raise error
        step_records = logbook.entries(context.bench, context.clock(), address.query)
        if turn.locked():
            raise Busy("A CSV of the log is being written already; ask again once it is there.")
        answer = Response(_in_turn(turn, logbook.csv_lines(step_records)), mimetype="text/csv")
        answer.headers["Content-Disposition"] = 'attachment; filename="curewatch-logbook.csv"'
        return answer


def _opened(data: str | bytes, kind: str, name: str) -> Response:
    """A file that opens in the browser, and is kept under that name."""
    answer = Response(data, mimetype=kind)
    answer.headers["Content-Disposition"] = f'inline; filename="{name}"'
    return answer


def _sheets(app: Flask, context: PageContext) -> None:
    turns = OneAtATime("Another hand-over sheet is being made; ask again in a moment.", waiting=1)

    def sheet() -> Document:
        job, now, say = request.args.get("job", ""), context.clock(), context.manner(request)
        return document(context.bench, job, now, context.zone, say, _as_of(context))

    @app.get(SHEET)
    def handover_html() -> Response:
        with turns.turn():
            text = to_html(sheet())
        answer = _opened(text, "text/html", "hand-over.html")
        answer.headers["Content-Security-Policy"] = POLICY
        return answer

    @app.get(SHEET_PDF)
    def handover_pdf() -> Response:
        from curewatch.handover.pdf import to_pdf

        with turns.turn():
            data = to_pdf(sheet(), context.clock())
        return _opened(data, "application/pdf", PDF)


def register(app: Flask, context: PageContext) -> None:
    """Put the files on the app."""
    _csv(app, context)
    _sheets(app, context)
