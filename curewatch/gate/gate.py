"""Fit to start? Each question with stop, caution or go, its figure, limit, source and remedy.

Nothing here measures, stores or asks a clock: what is known comes in as `Asked`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from curewatch.cure.estimate import as_json as forecast_json
from curewatch.formats import Manner
from curewatch.gate import climate, mix, outlook, pot, stock, underneath
from curewatch.gate.check import Check, Verdict, ordered, worst
from curewatch.gate.proposal import Asked
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


@dataclass(frozen=True)
class Gate:
    """The answer before a mix: strictest verdict, every check (stops first), grams of each part
    in each of so many cups, and what was not checked because it was not entered."""

    asked: Asked
    verdict: Verdict
    checks: tuple[Check, ...]
    portions: Portions | None
    not_told: tuple[str, ...]
    cups: int = 1

    @property
    def structural(self) -> bool:
        """Whether the joint is one that no time is given for."""
        return self.asked.structural


def _not_told(asked: Asked) -> tuple[str, ...]:
    told = {
        "amount": asked.amount_g,
        "humidity": asked.here.humidity_pct,
        "air temperature": asked.here.air_c,
        "product temperature": asked.product_c,
        "stopping time": asked.stop_at,
        "part": asked.part or None,
    }
    missing = tuple(name for name, value in told.items() if value is None)
    if not pot.unchecked(asked):
        return missing
    return (*missing, "pot life or working time on the product, to check the amount")


def gate(asked: Asked, say: Manner) -> Gate:
    """Every question that can be asked of this mix, answered in the reader's manner."""
    questions = ALWAYS if asked.structural else (*ALWAYS, *TIMED)
    checks = [found for each in questions if (found := each(asked, say)) is not None]
    cup = pot.cup(asked)
    parts, cups = None, cup.cups if cup else 1
    if asked.amount_g is not None:
        parts = portions(asked.sheet, asked.amount_g, asked.hardener_pct, cups)
    return Gate(asked, worst(checks), ordered(checks), parts, _not_told(asked), cups)


def _check(found: Check) -> dict[str, Any]:
    return {
        "question": found.question,
        "verdict": found.verdict,
        "words": found.words,
        "figure": None if found.figure is None else round(found.figure, 2),
        "limit": None if found.limit is None else round(found.limit, 2),
        "unit": found.unit or None,
        "source": found.source or None,
        "change": found.change or None,
        "at": stamp(found.at),
        "mix_before": stamp(found.before),
        "asks": found.asks,
    }


def _instead(asked: Asked) -> dict[str, Any]:
    return {
        "products": [
            {"name": each.name, "milestone": each.milestone, "late": stamp(each.late)}
            for each in asked.others
        ],
        "jobs": [{"words": each.words, "until": stamp(each.until)} for each in asked.jobs],
    }


def as_json(found: Gate) -> dict[str, Any]:
    """The gate as plain data; times in minutes from mixing now, null for a structural joint."""
    grams = found.portions.grams if found.portions else None
    times = None if found.structural else forecast_json(found.asked.forecast)["milestones"]
    return {
        "sheet": found.asked.sheet.id,
        "now": stamp(found.asked.now),
        "verdict": found.verdict,
        "checks": [_check(each) for each in found.checks],
        "cups": found.cups,
        "grams": None if grams is None else [round(each * found.cups, 1) for each in grams],
        "grams_words": found.portions.words if found.portions else None,
        "milestones": times,
        "instead": _instead(found.asked),
        "not_told": list(found.not_told),
    }
