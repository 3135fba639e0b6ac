"""Photographs of steps and labels as files: taken in, and given back."""

from __future__ import annotations

from typing import BinaryIO, cast

from flask import Flask, Response, jsonify, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.errors import PhotographError, StepError
from curewatch.logbook import photographs
from dashboard.context.page_context import PageContext
from dashboard.context.turns import OneAtATime
from dashboard.endpoints.undo import answered
from dashboard.request.forms import once, typed

UPLOAD_BYTES = photographs.MOST_BYTES + 1_000_000


def _upload() -> BinaryIO:
    for name in ("camera", "file"):
        file_storage = request.files.get(name)
        if file_storage is not None and file_storage.filename:
            return cast(BinaryIO, file_storage.stream)
    raise PhotographError("no photograph was chosen", fix="choose one, then send it")


def _picture(context: PageContext, name: str, small: bool) -> Response:
    data = photographs.read(context.store.path, name, small=small)
    if data is None:
        raise PhotographError("the photograph's file is gone", fix="put it back from a copy")
    answer = Response(data, mimetype="image/jpeg")
    answer.headers["Cache-Control"] = "private, max-age=86400"
    return answer


def _of_steps(app: Flask, context: PageContext, turns: OneAtATime) -> None:
    @app.post("/step/<int:number>/photograph")
    def photograph(number: int) -> AnyResponse:
        request.max_content_length = UPLOAD_BYTES
        with turns.turn():
            if context.tokens.first(once()):
                photographs.add(
                    context.bench, number, _upload(), now=context.clock(), words=typed("words")
                )
        return answered("", f"/step/{number}#photographs")

    @app.get("/step/<int:number>/photograph/<int:event>")
    @app.get("/step/<int:number>/photograph/<int:event>/small", defaults={"small": True})
    def picture(number: int, event: int, small: bool = False) -> Response:
        happenings = photographs.shown(context.bench.step(number))
        name = next(
            (happening.body["name"] for happening in happenings if happening.id == event), None
        )
        if name is None:
            raise StepError(f"step {number} has no photograph {event}", fix="open it from its step")
        return _picture(context, name, small)


def _of_labels(app: Flask, context: PageContext, turns: OneAtATime) -> None:
    @app.post("/shelf/<id>/label")
    def label(id: str) -> AnyResponse:
        request.max_content_length = UPLOAD_BYTES
        with turns.turn():
            if context.tokens.first(once()):
                photographs.add_label(context.store, id, _upload(), now=context.clock())
        return answered("", f"/shelf/{id}#label")

    @app.post("/label-photograph")
    def label_to_come() -> AnyResponse:
        """Keep a photograph for a product that is not saved yet, which will name it."""
        request.max_content_length = UPLOAD_BYTES
        with turns.turn():
            kept = photographs.take(_upload(), context.store.path)
        return jsonify(said="Photograph taken: save the product to keep it.", name=kept.name)

    @app.get("/shelf/<id>/label/<name>")
    @app.get("/shelf/<id>/label/<name>/small", defaults={"small": True})
    def label_picture(id: str, name: str, small: bool = False) -> Response:
        if photographs.label_of(context.store, id) != name:
            raise PhotographError("there is no such photograph", fix="open it from its product")
        return _picture(context, name, small)


def register(app: Flask, context: PageContext) -> None:
    """Put the photographs on the app; one is taken in at a time, of whatever it is."""
    turns = OneAtATime(
        "Other photographs are being taken in; send this one again in a moment.", waiting=2
    )
    _of_steps(app, context, turns)
    _of_labels(app, context, turns)
