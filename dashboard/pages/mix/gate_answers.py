"""The gate's answers as components: verdict first, stops and cautions with their remedies, what is
fine folded."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from dash import html

from curewatch.formats import ReaderFormat
from curewatch.gate.check import Check
from curewatch.gate.gate import Gate
from curewatch.wording import words
from dashboard.pages.components import first_up, link
from dashboard.pages.mix.details import HEAT
from dashboard.pages.touches import Form

VERDICTS = {"stop": "Stop", "caution": "Caution", "go": "Go"}
_KINDS = {"stop": "stop", "caution": "caution", "go": "goes"}
_TOO_COLD = ("panel", "panel ahead", "time")


def fills(form: Form, values: Mapping[str, str], text: str) -> html.Button:
    """A button that writes values into boxes of the form."""
    boxes = {form.target(field): value for field, value in values.items()}
    attributes: dict[str, Any] = {"data-fills": json.dumps(boxes)}
    return html.Button(text, type="button", **attributes)


def _link(text: str, path: str, **query: str) -> html.A:
    fields = {name: value for name, value in query.items() if value}
    return link(text, f"{path}?{urlencode(fields)}" if fields else path)


def _remedies(check: Check, gate: Gate, form: Form, say: ReaderFormat) -> list[Any]:
    """The remedies that are a touch away."""
    proposal = gate.proposal
    sheet, part = proposal.sheet, proposal.part
    warm_c = sheet.reference.temperature_c
    cold = check.question in _TOO_COLD and (proposal.here.surface_c or warm_c) < warm_c
    if check.asks and part:
        return [form.send(text, key, kind=None) for key, text in words.STRUCTURAL.items()]
    if cold:
        warm = say.number(say.degrees(warm_c), 0)
        return [fills(form, {HEAT: warm}, f"See it with the panel at {say.temperature(warm_c, 0)}")]
    if check.question in ("batch", "stored"):
        return [_link("Cans of it", f"/shelf/{sheet.id}")]
    if check.question == "hardener" and sheet.limits.hardener_pct:
        usual = f"{sheet.limits.hardener_pct[1]:g} %"
        return [fills(form, {"hardener": usual}, f"Use {usual}")]
    if check.question == "protection":
        return [_link("Room and fan", "/air/out", sheet=sheet.id)]
    if check.question in ("metal", "underneath") and part:
        return [_link("Open the part", "/parts", part=part, job=proposal.job)]
    return []


def _check(check: Check, gate: Gate, form: Form, say: ReaderFormat) -> html.Li:
    first, _, more = check.change.partition("; ")
    remedy = html.P(first_up(first), className="remedy") if first else None
    buttons = [] if check.verdict == "go" else _remedies(check, gate, form, say)
    touches = html.P(buttons, className="buttons") if buttons else None
    body = [html.P(first_up(check.words)), remedy, touches]
    attributes: dict[str, Any] = {
        "aria-label": f"{'More, and source' if more else 'Source'}: {check.question}"
    }
    title = html.Summary("more" if more else "source", **attributes)
    rest = [html.P(more, className="remedy more") if more else None, html.Small(check.source)]
    source = html.Details([title, *rest], className="source") if check.source or more else None
    return html.Li(
        [html.B(VERDICTS[check.verdict]), html.Div(body), source], className=_KINDS[check.verdict]
    )


def _listed(checks: Sequence[Check], gate: Gate, form: Form, say: ReaderFormat) -> Any:
    items = [_check(check, gate, form, say) for check in checks]
    return html.Ul(items, className="gate") if items else None


def _of(gate: Gate, verdict: str) -> list[Check]:
    return [check for check in gate.checks if check.verdict == verdict]


def reasons_wanted(gate: Gate) -> bool:
    """Whether a mix needs its reason first."""
    return any(check.verdict == "stop" and not check.asks for check in gate.checks)


def _portions(gate: Gate) -> html.P | None:
    """Grams of each part; where the densities are not known, where to enter them."""
    if gate.portions is None:
        return None
    if gate.portions.grams:
        return html.P(gate.portions.words, className="lead")
    ratio, edit = gate.proposal.sheet.mix_ratio, f"/shelf/{gate.proposal.sheet.id}/edit"
    way = link("enter the densities of its parts", edit, button=False)
    return html.P([f"Mix {ratio}: measure it so, or ", way, " to have it in grams."])


def answers(gate: Gate, form: Form, say: ReaderFormat) -> list[Any]:
    """Everything that the gate says."""
    fine, kind = _of(gate, "go"), _KINDS[gate.verdict]
    going = None
    if fine:
        count = "1 check OK" if len(fine) == 1 else f"{len(fine)} checks OK"
        going = html.Details(
            [html.Summary(count), _listed(fine, gate, form, say)], className="going"
        )
    missing = ", ".join(gate.not_told)
    return [
        html.H2(VERDICTS[gate.verdict], className=f"fit {kind}", id="fit"),
        _listed(_of(gate, "stop"), gate, form, say),
        _listed(_of(gate, "caution"), gate, form, say),
        going,
        _portions(gate),
        html.P(f"Not checked because not entered: {missing}.", className="hint")
        if missing
        else None,
    ]
