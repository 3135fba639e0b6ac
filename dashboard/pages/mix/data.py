"""What a mix would be: the ribbon it would have, the gate's answers, when to mix by."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from curewatch.bench.bench import Details
from curewatch.bench.views import StepView
from curewatch.climate.reading import HeatSpell
from curewatch.errors import CurewatchError
from curewatch.formats import ReaderFormat
from curewatch.gate.gate import Gate, gate
from curewatch.gate.gather import ask, would_be
from curewatch.plan import mix_by_words
from curewatch.plan.mix_by import mix_by
from curewatch.products.sheet import Sheet
from curewatch.wording import mix_words
from dashboard.hall import Hall


@dataclass(frozen=True)
class ProposedMix:
    """A mix as it would be now; heated: with the heat that is asked about."""

    sheet: Sheet
    gate: Gate
    view: StepView
    heated: StepView | None


def proposed(
    hall: Hall, sheet: Sheet, details: Details, heat: HeatSpell | None, now: datetime,
    say: ReaderFormat,
) -> ProposedMix:  # fmt: skip
    """What it would be, as of now."""
    step, reader = would_be(sheet, now, details), hall.bench.reader
    snapshot = reader.snapshot(now, now)
    heated = reader.step_view(replace(step, heated=(heat,)), now, snapshot) if heat else None
    found = gate(ask(hall.bench, sheet.id, now, details, zone=hall.zone), say)
    return ProposedMix(sheet, found, reader.step_view(step, now, snapshot), heated)


def by_when(
    hall: Hall, mix: ProposedMix, details: Details, now: datetime, say: ReaderFormat
) -> str:
    """Between when and when it may be mixed for the user's stopping time; '' where none is
    entered, or nobody can say."""
    stop, waited = mix.gate.proposal.stop_at, mix_words.waited_for(mix.view)
    if stop is None or waited is None or stop <= now:
        return ""
    try:
        found = mix_by(hall.bench, mix.sheet.id, now, details, milestone=waited.name, by=stop,
                       zone=hall.zone)  # fmt: skip
    except CurewatchError:
        return ""
    return mix_by_words.sentence(found, say)
