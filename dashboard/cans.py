"""The cans on the shelf's pages: how they keep, and what a touch tells of them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from flask import Flask, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.days import Order, parse_day, parse_expiry
from curewatch.garage import cans, storage
from curewatch.garage.cans import Can, CanDetails
from curewatch.products.shelf_life import local_day
from dashboard.forms import once
from dashboard.hall import Hall
from dashboard.undo import answered


def shown(hall: Hall, sheet_id: str | None = None) -> dict[str, Any]:
    """What the list of cans needs, of one product or of all."""
    kept = storage.stored_cans(hall.bench.reader, hall.clock(), hall.zone, sheet_id)
    return {"cans": kept, "keeping": storage}


def _day(hall: Hall, name: str, parse: Callable[[str, Order | None], date]) -> date | None:
    text = request.form.get(name, "").strip()
    return parse(text, hall.date_order(request)) if text else None


def _told(hall: Hall) -> CanDetails:
    texts = {
        key: request.form.get(key, "").strip() for key in ("batch", "hardener_batch", "stored")
    }
    return CanDetails(
        bought=_day(hall, "bought", parse_day),
        opened=_day(hall, "opened", parse_day),
        expiry=_day(hall, "expiry", parse_expiry),
        **{key: value or None for key, value in texts.items()},
    )


def _with_days(said: str, told: CanDetails) -> str:
    """What was done, with the dates as they were read."""
    days = cans.days_in(told.body())
    return f"{said}: {days}" if days else said


def _back(can: Can, said: str) -> AnyResponse:
    return answered(said, f"/shelf/{can.sheet_id}")


def register(app: Flask, hall: Hall) -> None:
    """Put the forms for cans on the app."""

    @app.post("/shelf/<id>/cans")
    def can_added(id: str) -> AnyResponse:
        told = _told(hall)
        if hall.tokens.first(once()):
            cans.add(hall.store, id, told, now=hall.clock())
        return answered(f"{_with_days('On the shelf', told)}.", f"/shelf/{id}")

    @app.post("/cans/<int:number>/opened")
    def can_opened(number: int) -> AnyResponse:
        now = hall.clock()
        can = cans.opened(hall.store, number, local_day(now, hall.zone), now=now)
        return _back(can, "Opened today.")

    @app.post("/cans/<int:number>/used-up")
    def can_used_up(number: int) -> AnyResponse:
        back = request.form.get("back") == "1"
        can = cans.used_up(hall.store, number, now=hall.clock(), back=back)
        return _back(can, "Back in use." if back else "Used up.")

    @app.post("/cans/<int:number>/amend")
    def can_amended(number: int) -> AnyResponse:
        told = _told(hall)
        can = cans.amend(hall.store, number, told, now=hall.clock())
        return _back(can, f"{_with_days('Saved', told)}.")
