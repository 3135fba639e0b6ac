"""What the bench asks of parts and of the evening's end, answered by its forms."""

from __future__ import annotations

from flask import Flask, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.garage import parts
from curewatch.plan import evening_question
from curewatch.wording import words
from dashboard.forms import once
from dashboard.hall import Hall
from dashboard.undo import answered


def register(app: Flask, hall: Hall) -> None:
    """Put the answers on the app."""

    @app.post("/parts/mark")
    def part_marked() -> AnyResponse:
        given = request.values
        kind, name, job = (given.get(key, "").strip() for key in ("kind", "part", "job"))
        if hall.tokens.first(once() and once() + kind):
            parts.mark(hall.store, name, job, kind, now=hall.clock())
        return answered(words.MARKED.get(kind, "Saved."), "/parts")

    @app.post("/evening/bare")
    def bare_asked() -> AnyResponse:
        said = request.form.get("answer", "")
        evening_question.answer(hall.bench, said, now=hall.clock(), zone=hall.zone)
        return answered("Recorded; not asked again this evening.", "/parts")
