"""What was mixed, where Mixed now was touched before the product had a name: one touch names it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from dash import html
from flask import request

from curewatch.bench.bench import Details
from curewatch.durations import ago
from curewatch.formats import ReaderFormat
from curewatch.garage import unnamed_mix
from curewatch.garage.step import Step
from curewatch.plan.recent_mixes import LOOKED_THROUGH, again, owned, recent
from curewatch.products.sheet import Sheet
from curewatch.units import minutes
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.endpoints.mixed import name_touch
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import TouchOutcome, button

NAME = "name mix"


def _key(touch: int, sheet: str, repeated: bool) -> str:
    return json.dumps([touch, sheet, repeated])


def _again(touch: int, step: Step, say: ReaderFormat) -> html.Li:
    text = words.mixed_details(say, step.sheet.name, step.amount_g, step.hardener_pct)
    components = [html.B(words.short_name(step.sheet.name)), html.Span(f"as last: {text}")]
    return html.Li(button(components, NAME, _key(touch, step.sheet.id, True), "wide"))


def _other(touch: int, sheet: Sheet) -> html.Li:
    mixed = f", {sheet.mix_ratio}" if sheet.mix_ratio else ""
    components = [
        html.B(words.short_name(sheet.name)),
        html.Span(f"{words.KIND[sheet.kind]}{mixed}"),
    ]
    return html.Li(button(components, NAME, _key(touch, sheet.id, False), "wide"))


def content(context: PageContext, address: Address, _first: bool) -> list[Any]:
    """The whole page. Raises StepError where nothing waits for a name under that number."""
    now, say = context.clock(), context.manner(request)
    touch = unnamed_mix.find(context.store, int(address.values["number"]), now)
    steps = recent(context.bench, LOOKED_THROUGH)
    products = {step.sheet.id for step in steps}
    others = [
        sheet for group in owned(context.bench) for sheet in group if sheet.id not in products
    ]
    none = html.Button("Nothing was mixed", name="act", value=str(touch.act), type="submit")
    return [
        html.H1(f"What was mixed {words.when(touch.at, now, say)}?"),
        html.P(f"Its clock runs since {ago(minutes(now - touch.at))}. Touch what it was.",
               className="lead"),
        html.Ul([_again(touch.id, step, say) for step in steps], className="named plain"),
        html.Ul([_other(touch.id, sheet) for sheet in others], className="named plain"),
        html.Form(none, method="post", action="/undo", className="buttons"),
    ]  # fmt: skip


def _named(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    """Start what was touched as this product, from the touch on."""
    touch, sheet, repeated = json.loads(key)
    details = again(context.bench, str(sheet)) if repeated else Details()
    name_touch(context, int(touch), str(sheet), details, context.clock())
    return TouchOutcome(go="/")


PAGE = DashPage("What was mixed", content, acts={NAME: _named})
