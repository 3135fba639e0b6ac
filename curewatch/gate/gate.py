"""Fit to start? Each question with stop, caution or go, its figure, limit, source and remedy.

Nothing here measures, stores or asks a clock: what is known comes in as `Proposal`.
"""

from __future__ import annotations

from typing import Any

from curewatch.cure.estimate import as_json as forecast_json
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.gate import climate, mix, outlook, pot, stock, underneath
from curewatch.gate.check import Check, Verdict, ordered, worst
from curewatch.gate.proposal import Proposal
from curewatch.products.portions import Portions, portions
from curewatch.walltime import stamp

ALWAYS = (
    mix.structural,
    climate.panel,
    climate.room,
    climate.dew,
    outlook.dew_ahead,
    climate.humidity,
    mix.hardener,
    mix.product,
    stock.batch,
    stock.stored,
    stock.metal,
    underneath.underneath,
    mix.protection,
    mix.contents,
    mix.worn_out,
)
TIMED = (outlook.ahead, pot.amount, mix.wanted, mix.rehearsed, mix.stopping)


@frozen
class Gate:
    """The answer before a mix: strictest verdict, every check (stops first), grams of each part
    in each of so many cups, and what was not checked because it was not entered."""

    proposal: Proposal
    verdict: Verdict
    checks: tuple[Check, ...]
    portions: Portions | None
    not_told: tuple[str, ...]
    cups: int = 1

    @property
    def structural(self) -> bool:
        """Whether the joint is one that no time is given for."""
        return self.proposal.structural


def _not_entered(proposal: Proposal) -> tuple[str, ...]:
    entered = {
        "amount": proposal.amount_g,
        "humidity": proposal.here.humidity_pct,
        "air temperature": proposal.here.air_c,
        "product temperature": proposal.product_c,
        "stopping time": proposal.stop_at,
        "part": proposal.part or None,
    }
    missing = tuple(name for name, value in entered.items() if value is None)
    if not pot.unchecked(proposal):
        return missing
    return (*missing, "pot life or working time on the product, to check the amount")


def gate(proposal: Proposal, say: ReaderFormat) -> Gate:
    """Every question that can be asked of this mix, answered in the reader's manner."""
    questions = ALWAYS if proposal.structural else (*ALWAYS, *TIMED)
    checks = [check for question in questions if (check := question(proposal, say)) is not None]
    cup = pot.cup(proposal)
    parts, cups = None, cup.cups if cup else 1
    if proposal.amount_g is not None:
        parts = portions(proposal.sheet, proposal.amount_g, proposal.hardener_pct, cups, say)
    return Gate(proposal, worst(checks), ordered(checks), parts, _not_entered(proposal), cups)


def _check(check: Check) -> dict[str, Any]:
    return {
        "question": check.question,
        "verdict": check.verdict,
        "words": check.words,
        "figure": None if check.figure is None else round(check.figure, 2),
        "limit": None if check.limit is None else round(check.limit, 2),
        "unit": check.unit or None,
        "source": check.source or None,
        "change": check.change or None,
        "at": stamp(check.at),
        "mix_before": stamp(check.before),
        "asks": check.asks,
    }


def _instead(proposal: Proposal) -> dict[str, Any]:
    return {
        "products": [
            {"name": other.name, "milestone": other.milestone, "late": stamp(other.late)}
            for other in proposal.others
        ],
        "jobs": [{"words": job.words, "until": stamp(job.until)} for job in proposal.jobs],
    }


def as_json(gate: Gate) -> dict[str, Any]:
    """The gate as plain data; times in minutes from mixing now, null for a structural joint."""
    grams = gate.portions.grams if gate.portions else None
    times = None if gate.structural else forecast_json(gate.proposal.forecast)["milestones"]
    return {
        "sheet": gate.proposal.sheet.id,
        "now": stamp(gate.proposal.now),
        "verdict": gate.verdict,
        "checks": [_check(check) for check in gate.checks],
        "cups": gate.cups,
        "grams": None if grams is None else [round(gram * gate.cups, 1) for gram in grams],
        "grams_words": gate.portions.words if gate.portions else None,
        "milestones": times,
        "instead": _instead(gate.proposal),
        "not_told": list(gate.not_told),
    }
