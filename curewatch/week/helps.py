"""What would help several parts: louder or longer evenings, another product, a lamp on one panel;
each a plan made anew."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from curewatch.formats import tenths
from curewatch.frozen import frozen
from curewatch.gate.alternatives import owned_sheets
from curewatch.order.search import planned
from curewatch.products.solvents import most_c
from curewatch.warmth import panel
from curewatch.warmth.heated import lamp_rise_k
from curewatch.warmth.owned import Heater, heaters
from curewatch.ways.answer import MORE_TIME, Help
from curewatch.ways.left import Left, suits
from curewatch.ways.walk import Evenings
from curewatch.week.draws import Draws
from curewatch.week.plan import PlannedPart, Wanted, as_plan

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench

SOONER = timedelta(hours=6)
MOST_TRIED = 10


@frozen
class WeekHelp:
    """What would help: code; name: of the product or lamp, '' for none; on: the part that a lamp
    would be on, '' for all; parts: those that gain a tenth or six hours, as they would be then."""

    code: Help
    name: str
    on: str
    parts: tuple[PlannedPart, ...]


Try = tuple[Help, str, str, Wanted]


def _hours(wishes: Wanted) -> Iterator[Try]:
    spells = wishes.spells
    loud = tuple(replace(spell, loud_end=spell.end) for spell in spells)
    longer = tuple(replace(spell, end=spell.end + MORE_TIME) for spell in spells)
    if loud != spells:
        yield "loud", "", "", replace(wishes, spells=loud)
    yield "longer", "", "", replace(wishes, spells=longer)


def _swapped(left: Left, kind: str, bench: Bench, name: str) -> Left:
    other = next((s for s in owned_sheets(bench, "") if s.name == name), None)
    if other is None or kind not in left.sheets or not suits(left.steps, other):
        return left
    return replace(left, sheets=left.sheets | {kind: other})


def _products(bench: Bench, wishes: Wanted) -> Iterator[Try]:
    """Each own product instead of those of its kind, on all parts whose steps it suits."""
    used = {(kind, sheet.id) for left in wishes.lefts for kind, sheet in left.sheets.items()}
    kinds = {kind for kind, _ in used}
    for sheet in owned_sheets(bench, ""):
        if sheet.kind in kinds and (sheet.kind, sheet.id) not in used:
            lefts = tuple(_swapped(left, sheet.kind, bench, sheet.name) for left in wishes.lefts)
            yield "product", sheet.name, "", replace(wishes, lefts=lefts)


def _under(lamp: Heater, left: Left, wishes: Wanted) -> Wanted:
    """One part's panel under a lamp while somebody is there, by a cautious part of its rise."""
    plain = wishes.draws[left.place]
    there = Evenings(plain.weeks, wishes.spells).left > 0
    rise_k = lamp_rise_k(lamp, float(plain.weeks.air_c.mean()))
    sure_k = rise_k * (1 - panel.ASSUMED_SD if lamp.probed_k is None else 1.0)
    most = min(most_c(sheet) for sheet in left.sheets.values())
    warm = plain.weeks.warmed(np.where(there, sure_k, 0.0)[None, :], most, room=False)
    place = f"{left.place} under {lamp.name}"
    lefts = tuple(replace(other, place=place) if other is left else other for other in wishes.lefts)
    draws = {**wishes.draws, place: Draws(plain.weeks, plain.beliefs, heated=warm)}
    return replace(wishes, lefts=lefts, draws=draws)


def _lamps(bench: Bench, wishes: Wanted) -> Iterator[Try]:
    """Each lamp on one part after the other: it lights one panel."""
    for lamp in heaters(bench.store):
        for left in wishes.lefts:
            if lamp.on == "panel" and left.sheets:
                yield "lamp", lamp.name, left.part, _under(lamp, left, wishes)


def _parts(wishes: Wanted) -> Mapping[tuple[str, str], PlannedPart]:
    laid = wishes.laid()
    plan = as_plan(laid, planned(laid.job), wishes.now, wishes.zone, ())
    return {(part.part, part.job): part for part in plan.parts}


def _later(one: datetime | None, other: datetime | None) -> bool:
    """Whether one is done six hours after another, or never."""
    return other is not None and (one is None or one - other >= SOONER)


def _gains(before: PlannedPart, after: PlannedPart) -> bool:
    if before.chance is None or after.chance is None:
        return _later(before.done, after.done)
    if tenths(after.chance) > tenths(before.chance):
        return True
    return _later(before.done, after.done) and after.chance >= before.chance


def helps(bench: Bench, wishes: Wanted) -> tuple[WeekHelp, ...]:
    """What makes a part a tenth surer or six hours sooner, most parts first."""
    if not wishes.lefts:
        return ()
    before, week_helps = _parts(wishes), []
    tried = [*_hours(wishes), *_products(bench, wishes), *_lamps(bench, wishes)]
    for code, name, on, other in tried[:MOST_TRIED]:
        after = _parts(other)
        gain = tuple(part for key, part in after.items() if _gains(before[key], part))
        if gain:
            week_helps.append(WeekHelp(code, name, on, gain))
    return tuple(sorted(week_helps, key=lambda help: -len(help.parts)))
