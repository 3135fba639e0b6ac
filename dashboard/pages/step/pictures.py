"""A step's photographs as files: taken in, and given back."""

from __future__ import annotations

from typing import BinaryIO, cast

from flask import Flask, Response, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.errors import PhotographError, StepError
from curewatch.logbook import photographs
from dashboard.forms import once, typed
from dashboard.hall import Hall
from dashboard.lane import Lane
from dashboard.undo import answered

UPLOAD_BYTES = photographs.MOST_BYTES + 1_000_000


def _upload() -> BinaryIO:
    for name in ("camera", "file"):
        found = request.files.get(name)
        if found is not None and found.filename:
            return cast(BinaryIO, found.stream)
    raise PhotographError("no photograph was chosen", fix="choose one, then send it")


def register(app: Flask, hall: Hall) -> None:
    """Put the photographs on the app."""
    lane = Lane("Other photographs are being taken in; send this one again in a moment.", waiting=2)

    @app.post("/step/<int:number>/photograph")
    def photograph(number: int) -> AnyResponse:
        request.max_content_length = UPLOAD_BYTES
        with lane.turn():
            if hall.tokens.first(once()):
                photographs.add(
                    hall.bench, number, _upload(), now=hall.clock(), words=typed("words")
                )
        return answered("", f"/step/{number}#photographs")

    @app.get("/step/<int:number>/photograph/<int:event>")
    @app.get("/step/<int:number>/photograph/<int:event>/small", defaults={"small": True})
    def picture(number: int, event: int, small: bool = False) -> Response:
        held = photographs.shown(hall.bench.step(number))
        name = next((each.body["name"] for each in held if each.id == event), None)
        if name is None:
            raise StepError(f"step {number} has no photograph {event}", fix="open it from its step")
        data = photographs.read(hall.store.path, name, small=small)
        if data is None:
            raise PhotographError("the photograph's file is gone", fix="put it back from a copy")
        answer = Response(data, mimetype="image/jpeg")
        answer.headers["Cache-Control"] = "private, max-age=86400"
        return answer
