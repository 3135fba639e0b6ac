"""The logbook: jobs, their steps, the conditions of each, and all of it as CSV."""

from __future__ import annotations

from flask import Flask, Response, render_template, request

from curewatch import logbook
from curewatch.logbook import Entry
from dashboard.hall import Hall

MOST = 60


def by_job(entries: list[Entry]) -> list[tuple[str, list[Entry]]]:
    """Entries under their jobs, the job touched last first."""
    found: dict[str, list[Entry]] = {}
    for entry in entries:
        found.setdefault(entry.step.job, []).append(entry)
    return list(found.items())


def register(app: Flask, hall: Hall) -> None:
    """Put the logbook on the app."""

    @app.get("/logbook")
    def log() -> str:
        job = request.args.get("job")
        entries = logbook.logbook(hall.bench, hall.clock(), job=job, most=MOST)
        return render_template("logbook.html", jobs=by_job(entries), job=job, most=MOST)

    @app.get("/logbook.csv")
    def log_csv() -> Response:
        text = logbook.to_csv(logbook.logbook(hall.bench, hall.clock()))
        answer = Response(text, mimetype="text/csv")
        answer.headers["Content-Disposition"] = 'attachment; filename="curewatch-logbook.csv"'
        return answer
