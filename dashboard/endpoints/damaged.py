"""What is damaged in the logbook: said where it would stand, and removed with a touch."""

from __future__ import annotations

from collections.abc import Sequence

from flask import Flask, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.garage import damaged
from curewatch.garage.damaged import REASON, Damaged, failed_step
from curewatch.garage.step import DamagedStep
from dashboard.context.page_context import PageContext
from dashboard.endpoints.undo import answered

DamagedEntry = tuple[str, str, int | None]


def in_words(context: PageContext, entries: Sequence[Damaged]) -> list[DamagedEntry]:
    """What is damaged, each with the name to remove it by, in words, and the step it is of."""
    stamp = context.field_formatter(request).stamp
    return [
        (entry.id, damaged.sentence(entry, stamp(entry.row.recorded_at)), entry.step)
        for entry in entries
    ]


def things(context: PageContext, *subjects: str) -> list[DamagedEntry]:
    """What is damaged of cans, parts or other things that are no step."""
    entries = [entry for about in subjects for entry in context.store.all_entries(about)]
    return in_words(context, damaged.of_entries(entries))


def failed_before(context: PageContext) -> list[Damaged]:
    """The steps that could not be worked out since the start."""
    by_step = context.store.events(context.bench.reader.failures.steps)
    return [Damaged(events[0], REASON, True) for events in by_step.values() if events]


def register(app: Flask, context: PageContext) -> None:
    """Put what is damaged on the app."""

    @app.post("/damaged/remove")
    def remove() -> AnyResponse:
        if context.tokens.first(request.form.get("once", "")):
            entry, failed = request.form.get("entry", ""), failed_before(context)
            damaged.remove(context.store, entry, now=context.clock(), also=failed)
        return answered("Removed; it stays in the history.", "/damaged")

    @app.errorhandler(DamagedStep)
    def broken(error: DamagedStep) -> tuple[str, int]:
        events = context.store.events([error.number])[error.number]
        entries = in_words(context, damaged.of_events(events) or [failed_step(events, error)])
        title = f"Step {error.number} is damaged"
        code = 200 if request.method == "GET" else 409
        return render_template("damaged.html", title=title, entries=entries), code
