"""From the bench's readings, steps and shelf to what the gate asks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from curewatch import logbook
from curewatch.asked import Asked, Here
from curewatch.bench import Bench, Details
from curewatch.conditions import AIR_PLACE, Conditions
from curewatch.quantities import minutes
from curewatch.reading import Quantity, Reading
from curewatch.sheet import Sheet
from curewatch.shelf import find_sheet, shelf
from curewatch.step import Step
from curewatch.views import StepView

FRESH = timedelta(hours=3)
MOST_STEPS = 500
NEVER = 0
SHELF = "shelf"


def _last(readings: Sequence[Reading], quantity: Quantity, places: Sequence[str]) -> Reading | None:
    for place in places:
        held = [each for each in readings if each.place == place and each.quantity == quantity]
        if held:
            return max(held, key=lambda each: each.at)
    return None


def here(
    readings: Sequence[Reading], felt: Conditions, place: str, now: datetime, old_after_min: float
) -> Here:
    """The place as measured now; air and humidity only while they are fresh. old_after_min [min]"""
    skin = _last(readings, "surface_temperature", [place])
    room = _last(readings, "air_temperature", [place, AIR_PLACE])
    damp = _last(readings, "relative_humidity", [place, AIR_PLACE])
    from_air = felt.source == "air"
    led = room if from_air else skin
    age = None if led is None else minutes(now - led.at)
    return Here(
        surface_c=None if led is None else float(felt.surface_c[-1]),
        air_c=room.value if room is not None and now - room.at <= FRESH else None,
        humidity_pct=damp.value if damp is not None and now - damp.at <= FRESH else None,
        from_air=from_air,
        age_min=age,
        old=age is not None and age > old_after_min,
    )


def _under(bench: Bench, part: str, job: str, now: datetime) -> StepView | None:
    """The last step on the same part, in the same job where one is named."""
    name = part.casefold()
    if not name:
        return None
    for step in logbook.steps(bench, most=MOST_STEPS):
        if step.part.casefold() == name and (not job or step.job.casefold() == job.casefold()):
            return bench.desk.step_view(step, now)
    return None


def _stored_c(readings: Sequence[Reading], now: datetime) -> float | None:
    """Temperature of the product as stored, by a fresh reading on the shelf. [C]"""
    found = _last(readings, "air_temperature", [SHELF])
    return found.value if found is not None and now - found.at <= FRESH else None


def _would_be(sheet: Sheet, now: datetime, details: Details) -> Step:
    return Step(
        id=NEVER,
        sheet=sheet,
        mixed_at=now,
        told_at=now,
        place=details.place or "panel",
        amount_g=details.amount_g,
        hardener_pct=details.hardener_pct,
        film_um=details.film_um,
        product_c=details.product_c,
    )


def ask(
    bench: Bench,
    sheet_id: str,
    now: datetime,
    details: Details,
    *,
    stop_at: datetime | None = None,
    wanted_min: float | None = None,
) -> Asked:
    """A mix as it would be if it were mixed now. wanted_min: from the pot [min]

    The product's temperature, where it is not told, is that of the air at the place `shelf`.
    """
    sheet, own = find_sheet(bench.store, sheet_id), bench.store.sheets()
    look = bench.desk.look(now, now)
    if details.product_c is None:
        details = replace(details, product_c=_stored_c(look.readings, now))
    step = _would_be(sheet, now, details)
    how = bench.desk.place(step.place)
    felt = bench.desk.conditions(look.readings, step, now)
    part, job = details.part or "", details.job or ""
    return Asked(
        sheet=sheet,
        now=now,
        here=here(look.readings, felt, step.place, now, how.old_after_min),
        ahead=look.ahead(step.place, sheet.reference.temperature_c, how),
        forecast=bench.desk.forecast(step, look),
        amount_g=details.amount_g,
        hardener_pct=details.hardener_pct,
        product_c=details.product_c,
        part=part,
        job=job,
        stop_at=stop_at,
        wanted_min=wanted_min,
        under=_under(bench, part, job, now),
        shelf=tuple(each for id, each in shelf(bench.store).items() if id in own),
    )
