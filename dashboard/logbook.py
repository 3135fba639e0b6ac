"""The logbook: steps found by any word, compared, compared with what was predicted; handed over."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from contextlib import suppress
from datetime import datetime, timedelta
from urllib.parse import urlencode

from flask import Flask, Response, render_template, request

from curewatch.climate.summary import Span, summary
from curewatch.days import parse_day
from curewatch.errors import StepError
from curewatch.garage import steps as steps_of
from curewatch.garage.damaged import of_query
from curewatch.garage.shelf import shelf
from curewatch.garage.step import DamagedStep, Step
from curewatch.handover import handover
from curewatch.logbook import compare, logbook, predictions
from curewatch.store import search_index
from curewatch.store.search import Range, StepQuery
from curewatch.vocabulary import STEP_STATES
from curewatch.walltime import day_start
from dashboard import damaged, found
from dashboard.forms import paper
from dashboard.hall import Hall
from dashboard.lane import Busy, Lane
from dashboard.numbers import number_of

MOST = 40
FIELDS = ("find", "job", "part", "product", "state", "from", "to")


def by_job(steps: list[Step]) -> list[tuple[str, list[Step]]]:
    """Steps under their jobs, the job touched last first."""
    found: dict[str, list[Step]] = {}
    for step in steps:
        found.setdefault(step.job, []).append(step)
    return list(found.items())


def _day(name: str, hall: Hall, later: int = 0) -> datetime | None:
    text = request.args.get(name, "").strip()
    day = parse_day(text, hall.date_order(request)) if text else None
    return day_start(day, hall.zone, later) if day else None


def sought(hall: Hall) -> StepQuery:
    """What the form of the logbook looks for. Raises StepError."""
    given = request.args
    return StepQuery(
        text=given.get("find", "").strip(),
        job=given["job"] if "job" in given and (given["job"] or len(given) == 1) else None,
        part=given.get("part", ""),
        sheet=given.get("product", ""),
        state=given.get("state", "") if given.get("state") in search_index.STATES else "",
        since=_day("from", hall),
        until=_day("to", hall, 1),
    )


def _as_of(hall: Hall) -> datetime | None:
    """The end of the day for which the hand-over sheet says the recoat state; None for now."""
    day = _day("on", hall, 1)
    return None if day is None else day - timedelta(minutes=1)


def _ranges(hall: Hall, step: Step, now: datetime) -> Mapping[str, Range | Span]:
    """What was measured during a step at its place, the air elsewhere where it has none; where
    nothing was, what the model took."""
    end = max(step.mixed_at, step.closed_at or now)
    held: dict[str, Range] = {}
    for each in hall.store.ranges(step.mixed_at, end):
        home = each.place == step.place
        if home or (each.place == "air" and each.quantity not in held):
            held[each.quantity] = each
    with suppress(DamagedStep):
        return held or dict(summary(hall.bench.reader.conditions_of(step, end), step.mixed_at, end))
    return held


def _older(numbers: list[int], total: int) -> str:
    """The address of the page after this one; '' for the last."""
    if len(numbers) < MOST or total <= MOST:
        return ""
    kept = {key: request.args[key] for key in FIELDS if request.args.get(key)}
    return "/logbook?" + urlencode(kept | {"before": str(numbers[-1])})


def _before() -> int | None:
    return number_of(request.args.get("before"))


def _list(hall: Hall) -> str:
    now, wanted = hall.clock(), sought(hall)
    before = _before()
    steps = steps_of.steps(hall.bench.store, query=wanted, most=MOST, before=before)
    total = hall.store.count(wanted)
    return render_template(
        "logbook.html",
        damaged=damaged.said(hall, of_query(hall.store, wanted, MOST, before)),
        jobs=by_job(steps),
        ranges={step.id: _ranges(hall, step, now) for step in steps},
        total=total,
        shown=len(steps),
        older=_older(hall.store.find(wanted, most=MOST, before=before), total),
        before=before,
        sought=wanted,
        given=request.args,
        today=now.astimezone(hall.zone).date().isoformat(),
        known={what: hall.store.recent_names(what) for what in ("job", "part")},
        products=found.names(hall.store.recent_names("sheet"), shelf(hall.store)),
        states=[(state, STEP_STATES[state]) for state in search_index.STATES],
        paper=paper(hall),
    )


def _number(name: str) -> int:
    number = number_of(request.args.get(name))
    if number is None:
        raise StepError("two steps are compared", fix="choose both on a product's page")
    return number


def _file(data: str | bytes | Iterator[str], kind: str, name: str) -> Response:
    answer = Response(data, mimetype=kind)
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _in_turn(turn: threading.Lock, lines: Iterator[str]) -> Iterator[str]:
    """The lines, the turn held while they are written and given back however that ends."""
    with turn:
        yield from lines


def _downloads(app: Flask, hall: Hall) -> None:
    turn = threading.Lock()
    lane = Lane("Another hand-over sheet is being made; ask again in a moment.", waiting=1)

    @app.get("/logbook.csv")
    def log_csv() -> Response:
        held = logbook.entries(hall.bench, hall.clock(), sought(hall))
        if turn.locked():
            raise Busy("A CSV of the log is being written already; ask again once it is there.")
        lines = _in_turn(turn, logbook.csv_lines(held))
        return _file(lines, "text/csv", "curewatch-logbook.csv")

    @app.get("/handover.html")
    def handover_html() -> Response:
        said, job = paper(hall), request.args.get("job", "")
        with lane.turn():
            text = handover.handover(
                hall.bench, job, hall.clock(), hall.zone, said.say, _as_of(hall)
            )
        return _file(text, "text/html", "hand-over.html")

    @app.get("/handover.pdf")
    def handover_pdf() -> Response:
        said, job = paper(hall), request.args.get("job", "")
        with lane.turn():
            data = handover.handover_pdf(
                hall.bench, job, hall.clock(), hall.zone, said.say, _as_of(hall)
            )
        return _file(data, "application/pdf", "hand-over.pdf")


def register(app: Flask, hall: Hall) -> None:
    """Put the logbook on the app."""
    app.jinja_env.filters["twice"] = lambda held: [(each, each) for each in held]

    @app.get("/logbook")
    def log() -> str:
        return _list(hall)

    @app.get("/log/compare")
    def log_compare() -> str:
        one, other = _number("a"), _number("b")
        pair = compare.compare(hall.bench, one, other, hall.clock(), paper(hall))
        return render_template("compare.html", pair=pair)

    @app.get("/log/product/<id>")
    def log_product(id: str) -> str:
        courses = predictions.of_product(hall.bench, id, hall.clock(), before=_before())
        if not courses:
            raise StepError(f"no step was made with {id[:60]!r}", fix="see the log")
        total = hall.store.count(StepQuery(sheet=id))
        name = courses[0].step.sheet.name
        figures = found.figures(courses, hall.manner(request))
        last = courses[-1].step.id if len(courses) == predictions.MOST else None
        return render_template(
            "product.html",
            courses=courses,
            total=total,
            name=name,
            id=id,
            figures=figures,
            older=last,
        )

    _downloads(app, hall)
