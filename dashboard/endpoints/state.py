"""What every page asks of the bench every two seconds."""

from __future__ import annotations

from typing import Any

from flask import Flask, Response, jsonify, request

from curewatch.wording import clock_words
from dashboard.context.page_context import Hall
from dashboard.endpoints import alarms, undo
from dashboard.request.device import chosen
from dashboard.request.numbers import ms


def _pressed(hall: Hall) -> dict[str, Any]:
    """What the buttons on MQTT last did, and the keys of the alarms they silenced."""
    last = hall.presses.last
    did = undo.found(hall, last.act)
    data = {"act": did.act, "label": did.label} if did else {}
    return {"number": last.number, "said": last.said, "silenced": sorted(last.silenced), **data}


def _state(hall: Hall) -> Response:
    now = hall.clock()
    view, manner = hall.bench.view(now), hall.manner(request)
    heard = alarms.told(view, manner, chosen(request, "looks", alarms.LOOKS) == "sound")
    heard += alarms.of_plan(hall.reminders.now(now, hall.zone), now, manner)
    return jsonify(
        now=ms(now),
        speed=hall.speed,
        clock=manner.clock(now),
        clock_back=clock_words.on_page(hall.went_back(), manner),
        running=bool(view.steps),
        revision=view.revision,
        alarms=heard,
        pressed=_pressed(hall),
    )


def register(app: Flask, hall: Hall) -> None:
    """Put the bench's state on the app."""

    @app.get("/state.json")
    def state() -> Response:
        return _state(hall)
