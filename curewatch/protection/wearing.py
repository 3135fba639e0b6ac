"""From the steps' answered reminders to how long cartridges and dust filters were worn."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from curewatch.bench.bench import Bench
from curewatch.climate.summary import summary
from curewatch.garage.step import DamagedStep, Step
from curewatch.garage.steps import steps
from curewatch.protection import cartridges
from curewatch.protection.cartridges import DAMP_PCT, Cartridge, State, Worn

MOST_STEPS = {"vapour": 60, "dust": 500}
DUSTY = timedelta(hours=1)
USUAL = timedelta(minutes=30)
VAPOUR_KEYS, DUST_KEYS = ("respirator",), ("dust:sanding",)


def _damp(bench: Bench, step: Step, start: datetime, end: datetime) -> bool:
    try:
        conditions = bench.reader.conditions_of(step, end)
    except DamagedStep:
        return False
    humid = summary(conditions, start, end).get("relative_humidity")
    return humid is not None and humid.maximum > DAMP_PCT


def _wet(bench: Bench, step: Step, now: datetime) -> timedelta:
    """How long one stands over the wet work: to the late end of its working time."""
    try:
        view = bench.step_view(step.id, now)
    except DamagedStep:
        return USUAL
    named = view.by_name
    wet = named.get("working_time") or named.get("pot_life")
    return USUAL if wet is None or wet.late is None else wet.late - step.mixed_at


def _spells(bench: Bench, kind: str, since: datetime, now: datetime) -> Iterator[Worn]:
    keys = VAPOUR_KEYS if kind == "vapour" else DUST_KEYS
    for step in steps(bench.store, most=MOST_STEPS[kind]):
        answered = [step.acknowledged[key] for key in keys if key in step.acknowledged]
        if not answered or max(answered) < since - timedelta(days=1):
            continue
        start = min(answered)
        most = (
            start + DUSTY if kind == "dust" else max(step.mixed_at, start) + _wet(bench, step, now)
        )
        end = min(most, step.closed_at or most, now)
        if end > start:
            yield Worn(start, end, kind == "vapour" and _damp(bench, step, start, end))


def spells(bench: Bench, cartridge: Cartridge, now: datetime) -> list[Worn]:
    """The spells in which this kind of mask was worn since the set was opened."""
    return list(_spells(bench, cartridge.kind, cartridge.opened, now))


def states(bench: Bench, now: datetime, zone: ZoneInfo) -> list[State]:
    """Every set in use, with its hours and its rule."""
    open_ones = [
        cartridge for cartridge in cartridges.cartridges(bench.store) if cartridge.gone is None
    ]
    newest = {cartridge.kind: cartridge for cartridge in open_ones}
    return [
        cartridges.state(
            cartridge,
            spells(bench, cartridge, now) if newest[cartridge.kind] is cartridge else [],
            now,
            zone,
        )
        for cartridge in open_ones
    ]


def to_discard(bench: Bench, now: datetime, zone: ZoneInfo) -> list[State]:
    """The sets that are to be thrown away by the rule."""
    return [state for state in states(bench, now, zone) if state.discard]
