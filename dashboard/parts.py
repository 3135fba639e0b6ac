"""The parts: where was I, what can be done tonight; bare metal, marks, the evening, the morning."""

from __future__ import annotations

from flask import Flask, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.errors import StepError
from curewatch.garage import evening, parts
from curewatch.plan import evening_question, morning, sentences
from curewatch.plan.next_action import MOST, Card, Cards
from curewatch.walltime import last_time, next_time
from curewatch.wording import words
from dashboard import damaged
from dashboard.forms import once
from dashboard.hall import Hall
from dashboard.undo import answered


def _named() -> tuple[str, str]:
    given = request.values
    return given.get("part", "").strip(), given.get("job", "").strip()


def _jobs(found: list[Card]) -> list[tuple[str, list[Card]]]:
    held: dict[str, list[Card]] = {}
    for each in found:
        held.setdefault(each.part.key[1], []).append(each)
    return [(group[0].part.job, group) for group in held.values()]


def _tells(app: Flask, hall: Hall) -> None:
    @app.post("/parts/bare")
    def part_bared() -> AnyResponse:
        (name, job), now, given = _named(), hall.clock(), request.form
        since = given.get("since", "").strip()
        at = last_time(since, now, hall.zone, hall.date_order(request)) if since else now
        told = {key: given.get(key, "") for key in ("grit", "cleaned_with", "place")}
        if hall.tokens.first(once()):
            parts.bared(hall.store, name, job, now=now, since=at, **told)
        return answered(f"{name} is bare since {hall.manner(request).clock(at)}.", "/parts")

    @app.post("/parts/covered")
    def part_covered() -> AnyResponse:
        if hall.tokens.first(once()):
            parts.covered(hall.store, *_named(), now=hall.clock())
        return answered("Its clock is stopped.", "/parts")

    @app.post("/parts/still-bare")
    def part_still_bare() -> AnyResponse:
        if hall.tokens.first(once()):
            parts.still_bare(hall.store, *_named(), now=hall.clock())
        return answered("The clock runs on.", "/parts")

    @app.post("/parts/done")
    def part_done() -> AnyResponse:
        if hall.tokens.first(once()):
            parts.done(hall.store, *_named(), now=hall.clock())
        return answered("Done with.", "/parts")

    @app.post("/parts/mark")
    def part_marked() -> AnyResponse:
        kind = request.form.get("kind", "")
        if hall.tokens.first(once() and once() + kind):
            parts.mark(hall.store, *_named(), kind, now=hall.clock())
        return answered(words.MARKED.get(kind, "Saved."), "/parts")


def _evening(app: Flask, hall: Hall) -> None:
    @app.post("/evening/stop")
    def stopping_time() -> AnyResponse:
        now = hall.clock()
        until = next_time(request.form.get("until", ""), now, hall.zone, hall.date_order(request))
        evening.set_stop(hall.store, until, now=now, zone=hall.zone)
        return answered(f"Until {hall.manner(request).moment(until, now)}.", "/parts")

    @app.post("/evening/bare")
    def bare_asked() -> AnyResponse:
        said = request.form.get("answer", "")
        evening_question.answer(hall.bench, said, now=hall.clock(), zone=hall.zone)
        return answered("Recorded; not asked again this evening.", "/parts")


def register(app: Flask, hall: Hall) -> None:
    """Put the parts, the evening and the morning on the app."""
    cards = Cards(hall.bench)

    @app.get("/parts")
    def parts_page() -> str:
        now = hall.clock()
        stop = evening.stop_of(hall.store, now, hall.zone)
        held = {"card_words": sentences, "stop": stop}
        if "part" in request.args:
            card = cards.one(*_named(), now, stop)
            if card is None:
                raise StepError("there is no such part", fix="see them under Parts")
            return render_template("part.html", card=card, **held)
        found = cards.cards(now, job=request.args.get("job"), stop=stop)
        return render_template(
            "parts.html",
            damaged=damaged.things(hall, parts.SUBJECT),
            jobs=_jobs(found),
            names=parts.jobs(hall.store) if len(found) == MOST else [],
            fitting=sentences.grouped(found, now, hall.manner(request)),
            **held,
        )

    @app.get("/morning")
    def morning_page() -> str:
        found = morning.morning(hall.bench, hall.clock(), hall.zone)
        return render_template("morning.html", night=found, morning=morning)

    _tells(app, hall)
    _evening(app, hall)
