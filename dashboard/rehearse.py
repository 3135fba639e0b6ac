"""A dry rehearsal before the nozzle is cut."""

from __future__ import annotations

from flask import Flask, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.bench.bench import Details
from curewatch.garage.shelf import find_sheet
from curewatch.gate import rehearsal
from curewatch.gate.gather import ask
from curewatch.gate.proposal import Proposal
from curewatch.products.sheet import Sheet
from curewatch.units import parse_duration, with_unit
from dashboard.forms import once
from dashboard.hall import Hall


def _asked(hall: Hall, sheet: Sheet, part: str) -> Proposal:
    return ask(hall.bench, sheet.id, hall.clock(), Details(part=part or None), zone=hall.zone)


def _held(asked: Proposal) -> rehearsal.Outcome | None:
    if asked.rehearsed_min is None:
        return None
    wet = asked.wet
    timed = wet is not None and wet.likely_min is not None
    early, late = (wet.early_min, wet.late_min) if wet and timed else (None, None)
    return rehearsal.hold(asked.rehearsed_min, early, late)


def _page(hall: Hall, sheet: Sheet, error: str = "") -> str:
    part = request.values.get("part", "").strip()
    asked = _asked(hall, sheet, part)
    return render_template(
        "rehearse.html",
        sheet=sheet,
        part=part,
        asked=asked,
        held=_held(asked),
        running=rehearsal.running(hall.store, sheet.id, hall.clock()),
        error=error,
    )


def _rehearsed(hall: Hall, sheet: Sheet) -> None:
    form, now = request.form, hall.clock()
    part = form.get("part", "")
    match form.get("what"):
        case "start":
            rehearsal.begin(hall.store, sheet.id, now=now, part=part)
        case "stop":
            rehearsal.stop(hall.store, sheet.id, now=now)
        case _:
            took = parse_duration(with_unit(form.get("took", ""), "min"))
            rehearsal.record(hall.store, sheet.id, took, now=now, part=part)


def _rehearsals(app: Flask, hall: Hall) -> None:
    @app.get("/mix/<id>/rehearse")
    def rehearse(id: str) -> str:
        return _page(hall, find_sheet(hall.store, id))

    @app.post("/mix/<id>/rehearse")
    def rehearsed(id: str) -> AnyResponse | tuple[str, int]:
        sheet = find_sheet(hall.store, id)
        try:
            if hall.tokens.first(once()):
                _rehearsed(hall, sheet)
        except (ValueError, LookupError) as error:
            return _page(hall, sheet, str(error)), 400
        return redirect(f"/mix/{sheet.id}/rehearse", 303)


def register(app: Flask, hall: Hall) -> None:
    """Put the page of rehearsal on the app."""
    _rehearsals(app, hall)
