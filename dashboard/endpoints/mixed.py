"""Mixed now, with one touch; what it was can be said afterwards."""

from __future__ import annotations

from datetime import datetime

from flask import Flask, Response, after_this_request, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.bench.bench import Details
from curewatch.garage import unnamed_mix
from curewatch.garage.shelf import shelf
from curewatch.gate import starting
from curewatch.plan.recent_mixes import again
from dashboard.context.page_context import PageContext
from dashboard.endpoints.undo import answered
from dashboard.request.forms import once

OPENED = "mixing"
OPEN_S = 30 * 60


def opened(context: PageContext) -> str | None:
    """The product whose mix page this device opened last, while that is fresh."""
    id = request.cookies.get(OPENED, "")
    return id if id in shelf(context.store) else None


def begin(context: PageContext, sheet: str, details: Details, at: datetime, now: datetime) -> int:
    """Start a step that nothing may hold back: its clock runs already."""
    return starting.start(
        context.bench, sheet, details,
        now=now, say=context.manner(request), zone=context.zone, at=at, in_cup=True, why_later=True,
    )  # fmt: skip


def name_touch(
    context: PageContext, number: int, sheet: str, details: Details, now: datetime
) -> None:
    """What was touched before was this product, mixed at the touch's instant."""
    touch = unnamed_mix.find(context.store, number, now)
    step = begin(context, sheet, details, touch.at, now)
    unnamed_mix.name(context.store, touch, step, now)


def keep_touch(context: PageContext, now: datetime) -> str:
    """Keep the moment of a mix whose product is named later; what the toast says."""
    unnamed_mix.touch(context.store, now)
    return f"Mixed at {context.manner(request).clock(now)}. What was it?"


def _mixed(context: PageContext) -> str:
    now, likely = context.clock(), opened(context)
    if likely is None:
        return keep_touch(context, now)
    begin(context, likely, again(context.bench, likely), now, now)
    return ""


def remember(id: str) -> None:
    """The device keeps for half an hour which product's mix page it opened."""

    @after_this_request
    def kept(answer: Response) -> Response:
        answer.set_cookie(OPENED, id, max_age=OPEN_S, samesite="Strict", httponly=True)
        return answer


def forget() -> None:
    """The mix that the device opened a page for is started."""

    @after_this_request
    def forgotten(answer: Response) -> Response:
        answer.delete_cookie(OPENED)
        return answer


def register(app: Flask, context: PageContext) -> None:
    """Put the one touch on the app."""

    @app.post("/mixed")
    def mixed_now() -> AnyResponse:
        forget()
        return answered(_mixed(context) if context.tokens.first(once()) else "Mixed.")
