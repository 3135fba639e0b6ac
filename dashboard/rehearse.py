"""A dry rehearsal before the nozzle is cut, and heat entered for a step."""

from __future__ import annotations

from flask import Flask, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.bench import marks
from curewatch.bench.bench import Details
from curewatch.climate.reading import HeatSpell
from curewatch.garage.shelf import find_sheet
from curewatch.gate import rehearsal
from curewatch.gate.gather import ask
from curewatch.gate.proposal import Proposal
from curewatch.products.sheet import Sheet
from curewatch.products.solvents import most_c
from curewatch.quality.places import known_places, place_named
from curewatch.units import parse_duration, parse_temperature, with_unit
from dashboard.forms import once
from dashboard.hall import Hall
from dashboard.undo import answered


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


def _heat_page(hall: Hall, number: int, error: str = "") -> str:
    now, step = hall.clock(), hall.bench.step(number)
    return render_template(
        "heat.html",
        step=step,
        view=hall.bench.step_view(number, now),
        most_c=most_c(step.sheet),
        solvent=marks.gone_at(hall.bench, step, now),
        filled=request.form,
        error=error,
    )


def _spell(hall: Hall, number: int) -> HeatSpell:
    form, now = request.form, hall.clock()
    warm, unit = form.get("surface", "").strip(), hall.manner(request).unit
    celsius = parse_temperature(with_unit(warm, unit)) if warm else None
    step, start, until = hall.bench.step(number), form.get("from", ""), form.get("until", "")
    return marks.spell(step, start, until, celsius, now, hall.zone, hall.date_order(request))


def _own_place(hall: Hall, number: int) -> None:
    """Let the step follow the place that is entered, where that is another one."""
    text = request.form.get("place", "").strip()
    place = text and place_named(text, known_places(hall.store, hall.settings), own=True)
    if place and place != hall.bench.step(number).place:
        hall.bench.amend(number, Details(place=place), now=hall.clock(), why="heated by itself")


def _heats(app: Flask, hall: Hall) -> None:
    @app.get("/step/<int:number>/heat")
    def heat(number: int) -> str:
        return _heat_page(hall, number)

    @app.post("/step/<int:number>/heat")
    def heated(number: int) -> AnyResponse | tuple[str, int]:
        now, manner = hall.clock(), hall.manner(request)
        try:
            if hall.tokens.first(once()):
                why = request.form.get("why", "")
                _own_place(hall, number)
                marks.heat(hall.bench, number, _spell(hall, number), now=now, say=manner, why=why)
        except (ValueError, LookupError) as error:
            return _heat_page(hall, number, str(error)), 400
        return answered("Kept.", f"/step/{number}")


def register(app: Flask, hall: Hall) -> None:
    """Put the pages of rehearsal and heat on the app."""
    _rehearsals(app, hall)
    _heats(app, hall)
