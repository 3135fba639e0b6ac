"""What every page asks of the bench every two seconds."""

from __future__ import annotations

from typing import Any

from flask import Flask, Response, jsonify, request

from curewatch.wording import clock_words
from dashboard.context.page_context import PageContext
from dashboard.endpoints import alarms, undo
from dashboard.request.device import chosen
from dashboard.request.numbers import ms


def _pressed(context: PageContext) -> dict[str, Any]:
    """What the buttons on MQTT last did, and the keys of the alarms they silenced."""
    last = context.presses.last
    did = undo.standing(context, last.act)
    data = {"act": did.act, "label": did.label} if did else {}
    return {"number": last.number, "said": last.sentence, "silenced": sorted(last.silenced), **data}


def _state(context: PageContext) -> Response:
    now = context.clock()
    view, manner = context.bench.view(now), context.manner(request)
    heard = alarms.as_data(view, manner, chosen(request, "looks", alarms.LOOKS) == "sound")
    heard += alarms.of_plan(context.reminders.now(now, context.zone), now, manner)
    return jsonify(
        now=ms(now),
        speed=context.speed,
        clock=manner.clock(now),
        clock_back=clock_words.on_page(context.went_back(), manner),
        running=bool(view.steps),
        revision=view.revision,
        alarms=heard,
        pressed=_pressed(context),
    )


def register(app: Flask, context: PageContext) -> None:
    """Put the bench's state on the app."""

    @app.get("/state.json")
    def state() -> Response:
        return _state(context)
