"""One step: why its times are what they are, its conditions, its record, its end."""

from __future__ import annotations

from flask import Flask, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.bench import reminders
from curewatch.bench.due import asked_name
from curewatch.errors import StepError
from curewatch.events.events import UNDO
from curewatch.events.fields import FIELDS
from curewatch.garage.damaged import of_steps
from curewatch.garage.shelf import shelf
from curewatch.garage.step import Step
from curewatch.logbook import logbook, photographs, predictions
from curewatch.logbook.paper import SPANS
from curewatch.logbook.undo import undoable
from curewatch.store.search import StepQuery
from curewatch.wording import sensor_words
from dashboard import damaged
from dashboard.band import minutes_to, ms
from dashboard.forms import ago_of, details, paper
from dashboard.hall import Hall
from dashboard.undo import answered

ENDS = ("finished", "abandoned", UNDO)


def _earlier(hall: Hall, number: int, sheet: str) -> int | None:
    """The step of the same product before this one."""
    return next(iter(hall.store.find(StepQuery(sheet=sheet), most=1, before=number)), None)


def _changed(hall: Hall, step: Step) -> bool:
    """Whether the shelf's sheet says something else by now."""
    now = shelf(hall.store).get(step.sheet.id)
    return now is not None and now.text != step.sheet.text


def _page(hall: Hall, number: int, error: str = "", filled: object = None) -> str:
    now = hall.clock()
    found = logbook.entry(hall.bench, hall.bench.step(number), now)
    events = hall.store.events([number])[number]
    open_events = undoable(hall.store, number)
    closing = [each.id for each in events if each.id in open_events and each.kind in ENDS]
    sources = {
        each.key: each.source for each in reminders.cautions(found.step.sheet, found.step.applied)
    }
    return render_template(
        "step.html",
        entry=found,
        damaged=damaged.said(hall, of_steps(hall.store, [number])),
        step=found.view,
        told=found.step,
        sources=sources,
        error=error,
        filled=filled or {},
        fields=FIELDS,
        minutes_to=minutes_to,
        ms=ms,
        asked=asked_name(found.view),
        paper=paper(hall),
        spans=SPANS,
        sensors=sensor_words,
        predicted=predictions.predicted(hall.bench, found.step),
        photographs=photographs.shown(found.step),
        marks=[each for each in found.step.happened if each.kind not in ("photographed",)],
        changed=_changed(hall, found.step),
        first=events[0].id,
        sheets=sorted(shelf(hall.store).values(), key=lambda each: each.name),
        open=open_events,
        closing=closing[-1] if found.step.closed_at else None,
        earlier=_earlier(hall, number, found.step.sheet.id),
    )


def register(app: Flask, hall: Hall) -> None:
    """Put the step page on the app."""

    @app.get("/step/<int:number>")
    def step(number: int) -> str:
        return _page(hall, number)

    @app.post("/step/<int:number>/amend")
    def amend(number: int) -> AnyResponse | tuple[str, int]:
        now, ago = hall.clock(), request.form.get("ago", "").strip()
        why, by = request.form.get("why", ""), request.form.get("by", "")
        sheet = request.form.get("sheet") or None
        try:
            at = now - ago_of(ago) if ago else None
            hall.bench.amend(
                number, details(hall, now), now=now, mixed_at=at, sheet_id=sheet, why=why, by=by
            )
        except (ValueError, StepError) as error:
            hall.bench.step(number)
            return _page(hall, number, str(error), request.form), 400
        return answered("", f"/step/{number}")

    @app.post("/step/<int:number>/note")
    def note(number: int) -> AnyResponse:
        hall.bench.note(number, request.form.get("text", ""), now=hall.clock())
        return answered("", f"/step/{number}")

    @app.post("/step/<int:number>/abandon")
    def abandon(number: int) -> AnyResponse:
        hall.bench.abandon(number, request.form.get("why", ""), now=hall.clock())
        return answered("", "/")
