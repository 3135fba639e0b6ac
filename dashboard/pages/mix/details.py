"""What the boxes of a mix say of it, each wrong one at its own box; what was used last, and known
parts, jobs and cans to choose from."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import HeatSpell
from curewatch.errors import QuantityError
from curewatch.events.fields import FIELDS, PLACE, Field
from curewatch.garage import cans
from curewatch.garage.steps import steps
from curewatch.plan.recent_mixes import LOOKED_THROUGH
from curewatch.products.sheet import Sheet
from curewatch.quality.places import known_places, place_named
from curewatch.units import parse_duration, parse_temperature
from dashboard.context.page_context import PageContext
from dashboard.pages.touches import at_field
from dashboard.request.boxes import in_unit

ASKED = ("amount", "hardener", "part", "job", "place", "batch", "applied")
HEAT, HEAT_FOR = "heat", "heat_for"
USUAL_HEAT_MIN, LONGEST_HEAT_MIN = 120.0, 24 * 60.0
MOST_CHOICES = 6
_FIELDS = {field.input_name: field for field in FIELDS if field.input_name in ASKED}


def _value(context: PageContext, field: Field, text: str) -> Any:
    if field.kind is PLACE:
        return place_named(text, known_places(context.store, context.settings))
    kind = field.kind
    return in_unit(text, kind.unit, kind.parse) if kind.unit else kind.parse(text)


def details_of(context: PageContext, values: Mapping[str, Any]) -> Details:
    """What the boxes say of a mix. Raises WrongField."""
    recorded = dict[str, Any]()
    for name, field in _FIELDS.items():
        if text := str(values.get(name) or "").strip():
            with at_field(name):
                recorded[field.name] = _value(context, field, text)
    return Details(**recorded)


def heat_of(values: Mapping[str, Any], now: datetime, unit: str) -> HeatSpell | None:
    """The heat that is asked about; None for none. unit: C or F, of the reader. Raises
    WrongField."""
    warm = str(values.get(HEAT) or "").strip()
    if not warm:
        return None
    with at_field(HEAT):
        surface_c = in_unit(warm, unit, parse_temperature)
    length_min, text = USUAL_HEAT_MIN, str(values.get(HEAT_FOR) or "").strip()
    with at_field(HEAT_FOR):
        length_min = in_unit(text, "h", parse_duration) if text else USUAL_HEAT_MIN
        if not 0 < length_min <= LONGEST_HEAT_MIN:
            raise QuantityError("that is no length of heating", fix="write it in hours, like 2")
    begun = now + timedelta(seconds=1)  # after the last reading, which is of the metal as it is
    return HeatSpell(begun, begun + timedelta(minutes=length_min), surface_c)


def first_details(bench: Bench, sheet: Sheet, query: Mapping[str, str]) -> dict[str, str]:
    """What stands in the boxes at first: hardener, sensor and batch as with the last mix of this
    product, and the part that the address names. Its last part and amount are only offered."""
    boxes = dict[str, str]()
    for step in steps(bench.store, most=LOOKED_THROUGH):
        if step.sheet.id == sheet.id:
            hardener = f"{step.hardener_pct:g} %" if step.hardener_pct else ""
            batch = cans.batch_again(bench.store, sheet.id, step.batch)
            boxes = {"place": step.place, "batch": batch, "hardener": hardener}
            break
    if query.get("part"):
        boxes |= {"part": query["part"][:120], "job": query.get("job", "")[:120]}
    return boxes


def known_parts(bench: Bench) -> list[tuple[str, str]]:
    """The parts worked on lately, each with its job."""
    lately = ((step.part, step.job) for step in steps(bench.store, most=LOOKED_THROUGH))
    return list(dict.fromkeys(pair for pair in lately if pair[0]))[:MOST_CHOICES]


def _distinct(texts: list[str]) -> list[str]:
    return list(dict.fromkeys(text for text in texts if text))[:MOST_CHOICES]


def choices(bench: Bench, sheet: Sheet) -> dict[str, list[str]]:
    """What was entered last, to choose from by a touch: jobs, this product's amounts and
    shares of hardener, and the batches of its cans."""
    lately = steps(bench.store, most=LOOKED_THROUGH)
    same = [step for step in lately if step.sheet.id == sheet.id]
    in_use = [can for can in cans.cans(bench.store, sheet.id) if not can.used_up]
    span = sheet.limits.hardener_pct
    usual = [f"{span[1]:g} %"] if span else []
    shares = [f"{step.hardener_pct:g} %" for step in same if step.hardener_pct]
    return {
        "job": _distinct([step.job for step in lately]),
        "amount": _distinct([f"{step.amount_g:g} g" for step in same if step.amount_g]),
        "hardener": _distinct([*usual, *shares]),
        "batch": _distinct([can.batches for can in in_use]),
    }
