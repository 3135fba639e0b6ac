"""What every page asks of the bench every two seconds, and what the forms of a step record."""

from __future__ import annotations

from typing import Any

from flask import Flask, Response, jsonify, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.bench import finishing
from curewatch.errors import StillOpenError, UnlikelyError
from curewatch.wording import clock_words, milestone_words, words
from dashboard import alarms, undo
from dashboard.band import ms
from dashboard.forms import ago_of, once
from dashboard.hall import Hall
from dashboard.undo import answered


def _pressed(hall: Hall) -> dict[str, Any]:
    """What the buttons on MQTT last did, and the keys of the alarms they silenced."""
    last = hall.presses.last
    did = undo.found(hall, last.act)
    told = {"act": did.act, "label": did.label} if did else {}
    return {"number": last.number, "said": last.said, "silenced": sorted(last.silenced), **told}


def _state(hall: Hall) -> Response:
    now = hall.clock()
    view, manner = hall.bench.view(now), hall.manner(request)
    return jsonify(
        now=ms(now),
        speed=hall.speed,
        clock=manner.clock(now),
        clock_back=clock_words.on_page(hall.went_back(), manner),
        running=bool(view.steps),
        revision=view.revision,
        alarms=alarms.told(view, manner),
        pressed=_pressed(hall),
    )


def _touches(app: Flask, hall: Hall) -> None:
    @app.post("/step/<int:number>/answer")
    def answer(number: int) -> AnyResponse | tuple[str, int]:
        result, name = request.form.get("result", ""), request.form.get("milestone") or None
        now = hall.clock()
        if not hall.tokens.first(once()):
            return answered("Saved.")
        sure = request.form.get("sure") == "yes"
        try:
            name = hall.bench.test(number, result, now=now, milestone=name, sure=sure)
        except UnlikelyError as error:
            asked = {"number": number, "milestone": name, "result": result}
            return render_template("really.html", odd=error.what, **asked), 409
        found = hall.bench.step_view(number, now).by_name.get(name)
        return answered(milestone_words.recorded(result, found, now, hall.manner(request)))

    @app.post("/step/<int:number>/witness")
    def witness(number: int) -> AnyResponse:
        state, now = request.form.get("state", ""), hall.clock()
        sample = request.form.get("sample", "smear")
        seen = now - ago_of(request.form.get("ago"))
        if hall.tokens.first(once() and once() + state):
            hall.bench.witness(number, state, now=now, seen_at=seen, sample=sample)
        said = words.STATES.get(state, state)
        return answered(f"Seen at {hall.manner(request).clock(seen)}: {said}.", f"/step/{number}")

    @app.post("/step/<int:number>/remind")
    def remind(number: int) -> AnyResponse:
        hall.bench.acknowledge(number, request.form.get("key", ""), now=hall.clock())
        return answered()

    @app.post("/step/<int:number>/finish")
    def finish(number: int) -> AnyResponse | tuple[str, int]:
        now, sure = hall.clock(), request.form.get("sure") == "yes"
        try:
            if hall.tokens.first(once()):
                finishing.finish(hall.bench, number, now=now, say=hall.manner(request), sure=sure)
        except StillOpenError as error:
            return render_template("finish.html", number=number, open=error.what), 409
        return answered()


def register(app: Flask, hall: Hall) -> None:
    """Put the bench's state and the touches of a step on the app."""

    @app.get("/state.json")
    def state() -> Response:
        return _state(hall)

    _touches(app, hall)
