"""What is damaged in the logbook: said where it would stand, and removed with a touch."""

from __future__ import annotations

from collections.abc import Sequence

from flask import Flask, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.garage import damaged
from curewatch.garage.damaged import Damaged
from curewatch.garage.step import DamagedStep
from curewatch.logbook.fields import Paper
from dashboard.hall import Hall
from dashboard.undo import answered


def said(hall: Hall, found: Sequence[Damaged]) -> list[tuple[str, str]]:
    """What is damaged, each with the name to remove it by and in words."""
    stamp = Paper(hall.zone, hall.manner(request)).stamp
    return [(each.id, damaged.sentence(each, stamp(each.row.told))) for each in found]


def things(hall: Hall, *subjects: str) -> list[tuple[str, str]]:
    """What is damaged of cans, parts or other things that are no step."""
    entries = [entry for about in subjects for entry in hall.store.all_entries(about)]
    return said(hall, damaged.of_entries(entries))


def register(app: Flask, hall: Hall) -> None:
    """Put what is damaged on the app."""

    @app.get("/damaged")
    def everything() -> str:
        found = said(hall, damaged.all_damaged(hall.store))
        return render_template("damaged.html", title="Damaged entries", found=found)

    @app.post("/damaged/remove")
    def remove() -> AnyResponse:
        if hall.tokens.first(request.form.get("once", "")):
            damaged.remove(hall.store, request.form.get("entry", ""), now=hall.clock())
        return answered("Removed; it stays in the history.", "/damaged")

    @app.errorhandler(DamagedStep)
    def broken(error: DamagedStep) -> tuple[str, int]:
        found = said(hall, damaged.of_steps(hall.store, [error.number]))
        title = f"Step {error.number} is damaged"
        code = 200 if request.method == "GET" else 409
        return render_template("damaged.html", title=title, found=found), code
