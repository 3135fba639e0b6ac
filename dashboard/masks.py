"""Cartridges and dust filters: opened, worn, and when to throw them away."""

from __future__ import annotations

from flask import Flask, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.protection import cartridges, wearing
from curewatch.units import parse_duration, with_unit
from dashboard.forms import once
from dashboard.hall import Hall


def _page(hall: Hall, error: str = "", filled: object = None) -> str:
    return render_template(
        "masks.html",
        states=wearing.states(hall.bench, hall.clock(), hall.zone),
        error=error,
        filled=filled or {},
        kinds=cartridges.KINDS,
    )


def _hours(name: str) -> float | None:
    text = request.form.get(name, "").strip()
    return parse_duration(with_unit(text, "h")) / 60 if text else None


def _told(hall: Hall) -> None:
    form, now = request.form, hall.clock()
    name = form.get("name", "")
    match form.get("what"):
        case "open":
            kind = form.get("kind", "vapour")
            cartridges.open_new(hall.store, name, kind, now=now, maker_h=_hours("maker"))
        case "worn":
            cartridges.worn(hall.store, name, _hours("hours") or 0.0, now=now)
        case _:
            cartridges.discard(hall.store, name, now=now)


def register(app: Flask, hall: Hall) -> None:
    """Put the page of masks on the app."""

    @app.get("/air/masks")
    def masks() -> str:
        return _page(hall)

    @app.post("/air/masks")
    def masks_told() -> AnyResponse | tuple[str, int]:
        try:
            if hall.tokens.first(once()):
                _told(hall)
        except (ValueError, LookupError) as error:
            return _page(hall, str(error), request.form), 400
        return redirect("/air/masks", 303)
