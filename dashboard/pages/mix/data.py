"""What a mix would be: the ribbon it would have, the gate's answers, when to mix by."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from flask import request

from curewatch.bench.bench import Details
from curewatch.bench.views import StepView
from curewatch.climate.reading import HeatSpell
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.garage import evening
from curewatch.gate.gate import Gate, gate
from curewatch.gate.gather import ask, would_be
from curewatch.plan.mix_by import MixBy, mix_by
from curewatch.products.sheet import Sheet
from curewatch.vocabulary import WAITED, in_words
from curewatch.walltime import next_time
from curewatch.warmth.trial import Trial, Wish, warmth
from dashboard.context.page_context import PageContext

WAIT, BY = "wait", "by"


@frozen
class ProposedMix:
    """A mix as it would be now; heated: with the heat that is asked about."""

    sheet: Sheet
    gate: Gate
    view: StepView
    heated: StepView | None


def proposed(
    context: PageContext, sheet: Sheet, details: Details, heat: HeatSpell | None, now: datetime,
    say: ReaderFormat,
) -> ProposedMix:  # fmt: skip
    """What it would be, as of now."""
    step, reader = would_be(sheet, now, details), context.bench.reader
    snapshot = reader.snapshot(now, now)
    heated = reader.step_view(replace(step, heated=(heat,)), now, snapshot) if heat else None
    verdict = gate(ask(context.bench, sheet.id, now, details, zone=context.zone), say)
    return ProposedMix(sheet, verdict, reader.step_view(step, now, snapshot), heated)


def waits(sheet: Sheet) -> dict[str, str]:
    """What of a product one may wait for, with its words."""
    given = sheet.reference.minutes
    return {name: in_words(name) for name in WAITED if name in given}


def asked_by(context: PageContext, values: Mapping[str, Any], now: datetime) -> datetime | None:
    """By when it is wanted: as the box says, else tonight's stopping time if that is to come.
    Raises ConfigError."""
    if text := str(values.get(BY) or "").strip():
        return next_time(text, now, context.zone, context.date_order(request))
    stop = evening.stop_of(context.store, now, context.zone)
    return stop if stop is not None and stop > now else None


def milestone_asked(sheet: Sheet, values: Mapping[str, Any]) -> str:
    """What is waited for: as chosen, else the first that the label gives a time for."""
    milestones = waits(sheet)
    chosen = str(values.get(WAIT) or "")
    return chosen if chosen in milestones else next(iter(milestones), "")


def mix_when(
    context: PageContext, sheet: Sheet, details: Details, values: Mapping[str, Any], now: datetime
) -> MixBy | None:
    """Between when and when it may be mixed; None where nothing is asked. Raises CurewatchError."""
    milestone, by = milestone_asked(sheet, values), asked_by(context, values, now)
    if not milestone or by is None:
        return None
    return mix_by(
        context.bench, sheet.id, now, details, milestone=milestone, by=by, zone=context.zone
    )


def mix_warmth(
    context: PageContext, sheet: Sheet, details: Details, values: Mapping[str, Any], now: datetime
) -> Trial | None:
    """What heat or another product would buy for it, mixed now; None where nothing is asked.
    Raises CurewatchError."""
    milestone, by = milestone_asked(sheet, values), asked_by(context, values, now)
    if not milestone or by is None:
        return None
    there_until = evening.stop_of(context.store, now, context.zone) or by
    wish = Wish(milestone, by, now, there_until)
    return warmth(context.bench, sheet.id, now, details, wish, context.zone)
