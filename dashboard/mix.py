"""Starting a mix: choose the sheet, say what is known, touch Mixed now."""

from __future__ import annotations

from typing import Any

from flask import Flask, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.bench import reminders, spraying
from curewatch.bench.bench import Details, check_mix
from curewatch.garage import cans, parts
from curewatch.garage.shelf import find_sheet, shelf
from curewatch.garage.step import Step
from curewatch.garage.steps import steps
from curewatch.gate import starting
from curewatch.gate.gate import Gate, gate
from curewatch.gate.gather import ask
from curewatch.products.sheet import Sheet
from curewatch.wording import words
from dashboard.forms import ago_of, details, mass, once
from dashboard.hall import Hall
from dashboard.undo import answered

AGO = ("0", "3", "5", "10")


def last_used(hall: Hall) -> list[Step]:
    """The last step of each product on the shelf with the same part, the latest first."""
    known = shelf(hall.store)
    found: dict[tuple[str, str], Step] = {}
    for step in steps(hall.bench.store, most=40):
        if step.sheet.id in known:
            found.setdefault((step.sheet.id, step.part), step)
    return list(found.values())


def ordered(hall: Hall) -> list[Sheet]:
    """The shelf, what was used last first."""
    sheets = shelf(hall.store)
    recent = [step.sheet.id for step in last_used(hall)]
    ids = list(dict.fromkeys([*recent, *sorted(sheets, key=lambda id: sheets[id].name)]))
    return [sheets[id] for id in ids]


def _places(hall: Hall) -> list[str]:
    heard = {
        each.place
        for each in hall.store.latest(hall.clock())
        if each.quantity == "surface_temperature"
    }
    return sorted({"panel", *heard, *hall.settings.places} - {"air", "outdoors"})


def asked(hall: Hall, sheet: Sheet, told: Details) -> Gate:
    """What the gate says of this mix now."""
    found = ask(hall.bench, sheet.id, hall.clock(), told, zone=hall.zone)
    return gate(found, hall.manner(request))


def why() -> str:
    """The reason for mixing all the same, as touched or typed."""
    return (request.form.get("why_else", "").strip() or request.form.get("why", "")).strip()


def _form(
    hall: Hall,
    sheet: Sheet,
    filled: Any,
    error: str = "",
    told: Details | None = None,
    unapplied: str = "",
) -> str:
    return render_template(
        "mix_sheet.html",
        sheet=sheet,
        cautions=reminders.cautions(sheet),
        places=_places(hall),
        ago=AGO,
        gate=asked(hall, sheet, told or Details()),
        why=words.WHY,
        unapplied=unapplied,
        applied=words.APPLIED if spraying.sprayable(sheet) else {},
        filled=filled,
        can=cans.in_use(hall.store, sheet.id),
        error=error,
        view=hall.bench.view(hall.clock()),
    )


def _last(hall: Hall, sheet: Sheet) -> dict[str, str]:
    for step in steps(hall.bench.store, most=40):
        if step.sheet.id == sheet.id:
            amount = f"{step.amount_g:g} g" if step.amount_g else ""
            usual = f"{step.hardener_pct:g} %" if step.hardener_pct else ""
            batch = cans.batch_again(hall.store, sheet.id, step.batch)
            kept = {"part": step.part, "job": step.job, "place": step.place, "batch": batch}
            return kept | {"amount": amount, "hardener": usual}
    return {}


def register(app: Flask, hall: Hall) -> None:
    """Put the mix pages on the app."""

    @app.get("/mix")
    def mix() -> str:
        repeats = [
            step.but(batch=cans.batch_again(hall.store, step.sheet.id, step.batch))
            for step in last_used(hall)[:4]
        ]
        return render_template("mix.html", sheets=ordered(hall), repeats=repeats)

    @app.get("/mix/<id>")
    def mix_sheet(id: str) -> str:
        sheet = find_sheet(hall.store, id)
        last = _last(hall, sheet)
        if part := request.args.get("part", "")[:120]:
            last |= {"part": part, "job": request.args.get("job", "")[:120]}
        told = Details(
            part=last.get("part"),
            job=last.get("job"),
            place=last.get("place"),
            batch=last.get("batch"),
            amount_g=mass(last.get("amount", "")),
        )
        return _form(hall, sheet, last, told=told)

    @app.post("/mix/<id>/ask")
    def mix_asked(id: str) -> str | tuple[str, int]:
        sheet = find_sheet(hall.store, id)
        try:
            told = details(hall, hall.clock())
            check_mix(sheet, told)
            if kind := request.form.get("kind"):
                parts.mark(hall.store, told.part or "", told.job or "", kind, now=hall.clock())
        except (ValueError, LookupError) as error:
            return _form(hall, sheet, request.form, str(error)), 400
        return _form(hall, sheet, request.form, told=told)

    @app.post("/mix/<id>")
    def mixed(id: str) -> AnyResponse | tuple[str, int]:
        sheet = find_sheet(hall.store, id)
        now = hall.clock()
        if hall.tokens.known(once()):
            return answered("Mixed.", "/")
        try:
            told, at = details(hall, now), now - ago_of(request.form.get("ago"))
            kept = request.form.getlist("acknowledged")
            if hall.tokens.first(once()):
                starting.start(
                    hall.bench, id, told,
                    now=now, say=hall.manner(request), zone=hall.zone, at=at,
                    acknowledged=kept, why=why(),
                )  # fmt: skip
        except spraying.HeldBack as held:
            return _form(hall, sheet, request.form, told=told, unapplied=held.question), 400
        except starting.Unreasoned as stopped:
            error = f"Stop: {stopped.stops[0]} Say why it is mixed all the same."
            return _form(hall, sheet, request.form, error, told), 409
        except (ValueError, LookupError) as error:
            return _form(hall, sheet, request.form, str(error)), 400
        return answered("Mixed.", "/")
