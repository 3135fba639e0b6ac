"""What an address of the air page shows, as data; and the same as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

import numpy as np
from flask import Flask, Response, request

from curewatch.bench.views import BenchView, Track
from curewatch.formats import ReaderFormat
from curewatch.garage.shelf import shelf
from curewatch.logbook.air_history import AirHistory, air_history, begins
from curewatch.walltime import from_ms
from curewatch.wording import air_words, log_words
from dashboard.context.page_context import PageContext
from dashboard.figures.air import AirDrawing
from dashboard.pages.air.periods import Period, period
from dashboard.request.device import screen_of

PATH, CSV = "/air", "/air.csv"
USUAL_LIMIT_C = 10.0
_ASSUMED = "forecast-assumed"
_COLUMNS = ("mean", "least", "most")


def period_at(context: PageContext, view: BenchView, search: str, say: ReaderFormat) -> Period:
    """The stretch of an address; the limit is the highest that a product on the bench needs."""
    minimums_c = [least_c for _, least_c in view.track.minimums] if view.track else []
    usual_c = max(minimums_c, default=USUAL_LIMIT_C)
    return period(search, view.now, begins(context.store, view.now), usual_c, say.unit)


def history_of(context: PageContext, view: BenchView, shown: Period) -> AirHistory:
    """What was measured in a period, around the place of the bench's steps."""
    place = view.track.place if view.track else "panel"
    return air_history(context.store, shown.start, shown.end, place=place, limit_c=shown.limit_c)


def drawing_of(context: PageContext, view: BenchView, history: AirHistory) -> AirDrawing:
    """What its figure needs beside it, for the device that asks."""
    names = log_words.product_names(
        (summary.row.sheet for summary in history.steps), shelf(context.store)
    )
    return AirDrawing(view.now, _measured(view), names, context.manner(request), screen_of(request))


def _measured(view: BenchView) -> Track | None:
    """The forecast, where anything was measured that it goes on from."""
    track = view.track
    assumed = track and any(notice.code == _ASSUMED for notice in track.basis)
    return None if assumed else track


def _csv_lines(history: AirHistory, say: ReaderFormat) -> Iterator[Sequence[str]]:
    named = [
        f"{air_words.name(course.place, course.quantity)}, {_unit(course.quantity)}"
        for course in history.courses
    ]
    yield ["time", *(f"{name}, {column}" for name in named for column in _COLUMNS)]
    for index, at_s in enumerate(history.times):
        triples = [(e.mean[index], e.low[index], e.high[index]) for e in history.courses]
        values = ["" if np.isnan(value) else f"{value:.2f}" for row in triples for value in row]
        if any(values):
            at = say.local(from_ms(round(at_s * 1000)))
            yield [at.isoformat(timespec="seconds"), *values]


def _unit(quantity: str) -> str:
    return "%" if quantity == "relative_humidity" else "C"


def register(server: Flask, context: PageContext) -> None:
    """Put what is no page of Dash's on the server: what is shown as CSV, in C and %."""

    @server.get(CSV)
    def air_csv() -> Response:
        view, say = context.bench.view(context.clock()), context.manner(request)
        shown = period_at(context, view, request.query_string.decode(errors="replace"), say)
        buffer = io.StringIO()
        csv.writer(buffer).writerows(_csv_lines(history_of(context, view, shown), say))
        answer = Response(buffer.getvalue(), mimetype="text/csv")
        answer.headers["Content-Disposition"] = 'attachment; filename="curewatch-air.csv"'
        return answer
