"""Airing: the room and its fan, the vapour of a product in it, and the fan of one step."""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import urlencode

from flask import Flask, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from curewatch.errors import QuantityError
from curewatch.garage.shelf import find_sheet, shelf
from curewatch.protection import airing
from curewatch.protection.airing import Airing
from curewatch.protection.purge import FAN
from curewatch.protection.ventilation import Room, parse_flow, parse_volume
from curewatch.units import parse_duration, parse_mass, with_unit
from dashboard.hall import Hall
from dashboard.undo import answered

ASKED = ("sheet", "amount", "over", "spray", "sand")


@dataclass(frozen=True)
class Shown:
    """What the page has to say: the airing, or a sentence of what is missing."""

    found: Airing | None
    error: str


def _found(hall: Hall, room: Room) -> Airing:
    asked = request.args
    sheet = find_sheet(hall.store, asked["sheet"]) if asked.get("sheet") else None
    amount = asked.get("amount", "").strip()
    return airing.airing(
        room,
        sheet,
        amount_g=parse_mass(with_unit(amount, "g")) if amount else None,
        over_min=parse_duration(with_unit(asked.get("over", "").strip() or "30 min", "min")),
        sprayed=asked.get("spray") == "1",
        sanded=asked.get("sand") == "1",
    )


def _shown(hall: Hall) -> Shown:
    room = airing.last_room(hall.store)
    if room is None:
        return Shown(None, "")
    try:
        return Shown(_found(hall, room), "")
    except (ValueError, LookupError) as error:
        return Shown(None, str(error))


def _page(hall: Hall, error: str = "", filled: object = None) -> str:
    shown = _shown(hall)
    return render_template(
        "airing.html",
        room=airing.last_room(hall.store),
        shown=shown,
        error=error or shown.error,
        filled=filled or request.args,
        sheets=sorted(shelf(hall.store).values(), key=lambda each: each.name),
        lines=list(airing.level_lines(shown.found)) if shown.found else [],
        build_up=airing.build_up(shown.found) if shown.found else [],
    )


def _factor(text: str) -> float | None:
    """The mixing factor as typed. [-]"""
    plain = text.strip().replace(",", ".")
    if not plain:
        return None
    if not re.fullmatch(r"[0-9]{1,9}(\.[0-9]{0,9})?", plain):
        raise QuantityError(
            f"{text[:20]!r} is not a mixing factor", fix="write a number from 1 to 10"
        )
    return float(plain)


def _keep(hall: Hall) -> None:
    form = request.form
    airing.entered(
        hall.store,
        parse_volume(with_unit(form.get("room", ""), "m3")),
        parse_flow(with_unit(form.get("fan", ""), "m3/h")),
        _factor(form.get("mixing", "")),
        now=hall.clock(),
    )


def register(app: Flask, hall: Hall) -> None:
    """Put the airing page and the fan's touch on the app."""

    @app.get("/air/out")
    def air_out() -> str:
        return _page(hall)

    @app.post("/air/out")
    def air_out_told() -> AnyResponse | tuple[str, int]:
        try:
            _keep(hall)
        except (ValueError, LookupError) as error:
            return _page(hall, str(error), request.form), 400
        asked = {key: request.form[key] for key in ASKED if request.form.get(key)}
        return redirect("/air/out" + (f"?{urlencode(asked)}" if asked else ""), 303)

    @app.post("/step/<int:number>/fan")
    def fan(number: int) -> AnyResponse:
        on = request.form.get("on") == "1"
        hall.bench.fan(number, on, now=hall.clock())
        return answered(f"Fan on, {FAN}: the least airing time is counted." if on else "Fan off.")
