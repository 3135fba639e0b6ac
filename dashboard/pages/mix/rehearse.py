"""A dry rehearsal before the nozzle is cut: a stopwatch, held against the working time here."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import parse_qs, quote

from dash import html
from flask import request

from curewatch.bench.bench import Details
from curewatch.durations import between, duration, parts
from curewatch.formats import ReaderFormat
from curewatch.garage.joint import NO_TIME
from curewatch.garage.shelf import find_sheet
from curewatch.gate import rehearsal
from curewatch.gate.gather import ask
from curewatch.gate.proposal import Proposal
from curewatch.notice_words import sentence
from curewatch.units import minutes, parse_duration
from curewatch.wording import words
from dashboard.context.page_context import PageContext
from dashboard.pages.components import link
from dashboard.pages.routes import Address, DashPage
from dashboard.pages.touches import Form, TouchOutcome, at_field, button
from dashboard.request.boxes import in_unit
from dashboard.request.numbers import ms

START, STOP, TOOK = "rehearsal start", "rehearsal stop", "rehearsal took"
_APART = "\n"
_DRY = {
    "adhesive": "Go through the whole bond with nothing mixed and the nozzle still closed: bead, "
    "panel, every clamp.",
}
_DRY_SPREAD = "Go through all of it with nothing mixed, up to the clean tools."
_LAST = {"adhesive": "Last clamp on: stop"}


def _working(proposal: Proposal, say: ReaderFormat) -> str:
    """How long there is, in words."""
    wet = proposal.wet
    if proposal.structural:
        return sentence(NO_TIME[proposal.joint], say)
    if wet is None or wet.early_min is None or wet.likely_min is None:
        return "No working time can be given here now."
    if wet.late_min is None:
        return f"Working time here now: {duration(wet.early_min, 'down')} or more."
    return f"Working time here now: {between(wet.early_min, wet.late_min, 'down')}."


def _outcome(proposal: Proposal) -> html.P | None:
    if proposal.rehearsed_min is None:
        return None
    wet = proposal.wet
    timed = wet is not None and wet.likely_min is not None
    early, late = (wet.early_min, wet.late_min) if wet and timed else (None, None)
    outcome = rehearsal.hold(proposal.rehearsed_min, early, late)
    line: list[Any] = [html.B(outcome.verdict.capitalize()), f" {outcome.words}"]
    return html.P(line, className=f"outcome is-{outcome.verdict}")


def _stopwatch(context: PageContext, sheet_id: str, key: str, first: bool) -> list[Any] | None:
    now, kind = context.clock(), find_sheet(context.store, sheet_id).kind
    running = rehearsal.running(context.store, sheet_id, now)
    if running is None:
        return None
    shown = [html.B(figure) for figure, _ in parts(minutes(now - running), "down")]
    attributes: dict[str, Any] = {"data-up": ms(running)}
    count = html.Span(shown if first else None, className="digits", role="timer", **attributes)
    return [
        html.P(count, className="stopwatch"),
        html.P(
            [
                button(_LAST.get(kind, "Done: stop"), STOP, key, "go"),
                button("Start again", START, key),
            ],
            className="buttons",
        ),
    ]


def _idle(proposal: Proposal, key: str) -> list[Any]:
    form = Form(TOOK, key)
    return [
        _outcome(proposal),
        html.P(_DRY.get(proposal.sheet.kind, _DRY_SPREAD)),
        html.P(button("Start the stopwatch", START, key, "go"), className="buttons"),
        html.Div(form.box("took", "Or it took, min"), className="fields"),
        html.P(form.send("Save", kind=None), className="buttons"),
    ]


def content(context: PageContext, address: Address, first: bool) -> list[Any]:
    """The whole page. Raises StepError where there is no such product."""
    sheet = find_sheet(context.store, str(address.values["id"]))
    part = parse_qs(address.query).get("part", [""])[0].strip()[:120]
    details = Details(part=part or None)
    proposal = ask(context.bench, sheet.id, context.clock(), details, zone=context.zone)
    key = f"{sheet.id}{_APART}{part}"
    name = f"{words.short_name(sheet.name)}, {part}" if part else words.short_name(sheet.name)
    back = f"/mix/{sheet.id}" + (f"?part={quote(part)}" if part else "")
    return [
        html.H1("Dry rehearsal"),
        html.P(f"{name}. {_working(proposal, context.manner(request))}", className="lead"),
        *(_stopwatch(context, sheet.id, key, first) or _idle(proposal, key)),
        html.P("It should fit with a quarter of the shortest working time to spare, because the "
               "real thing goes slower than a dry run.", className="hint"),
        html.P(link("Back to the mix", back), className="buttons"),
    ]  # fmt: skip


def _of(key: str) -> tuple[str, str]:
    sheet_id, _, part = key.partition(_APART)
    return sheet_id, part


def _begun(context: PageContext, key: str, _values: Mapping[str, Any]) -> TouchOutcome:
    sheet_id, part = _of(key)
    rehearsal.begin(
        context.store, find_sheet(context.store, sheet_id).id, now=context.clock(), part=part
    )
    return TouchOutcome("The stopwatch runs.")


def _stopped(context: PageContext, key: str, _values: Mapping[str, Any]) -> None:
    rehearsal.stop(context.store, find_sheet(context.store, _of(key)[0]).id, now=context.clock())


def _took(context: PageContext, key: str, values: Mapping[str, Any]) -> TouchOutcome:
    sheet_id, part = _of(key)
    with at_field("took"):
        took_min = in_unit(str(values.get("took") or ""), "min", parse_duration)
        sheet = find_sheet(context.store, sheet_id)
        rehearsal.record(context.store, sheet.id, took_min, now=context.clock(), part=part)
    return TouchOutcome(clear=True)


PAGE = DashPage("Dry rehearsal", content, acts={START: _begun, STOP: _stopped, TOOK: _took})
