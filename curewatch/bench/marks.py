"""What is recorded of a step beside its mix: coats, clamps, film, heat on its metal, when the dab
turned, and what a device sounded.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from curewatch.bench.plausible import check_turn
from curewatch.climate.reading import HeatSpell
from curewatch.days import Order
from curewatch.errors import StepError
from curewatch.events.events import Event, acting
from curewatch.products.solvents import leaving, most_c
from curewatch.text import LONGEST_TEXT
from curewatch.units import format_film
from curewatch.vocabulary import MARKS, TURNS, in_words
from curewatch.walltime import OLDEST, check_time, is_clock, near_time, next_time

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench
    from curewatch.formats import ReaderFormat
    from curewatch.garage.step import Step, WitnessView

TURN_ASKED = timedelta(minutes=10)
LONGEST = timedelta(hours=48)
LONGEST_BY_CLOCK = timedelta(hours=16)
FURTHEST = timedelta(days=2)


def turned(
    bench: Bench, number: int, turned_min: float | None, *, now: datetime, look: int | None = None
) -> int:
    """Record how long before a look the dab had turned; returns the event's number.

    turned_min: None for some time before [min]; look: its event's number, the last one's if None.
    """
    step = bench.mixed(number)
    witnesses = {witness.id: witness for witness in step.witnesses}
    chosen = look if look is not None else max(witnesses, default=0)
    if chosen not in witnesses:
        raise StepError(f"step {number} has no such look", fix="enter first how the dab is")
    witness = witnesses[chosen]
    check_turn(witness.state, turned_min, step.after_min(witness.at))
    body = {"event": chosen, "turned_min": turned_min}
    return bench.store.add_event(number, "turned", now, now, body)


def turn_to_tell(
    looks: Sequence[WitnessView], events: Iterable[Event], now: datetime
) -> WitnessView | None:
    """A step's last look, where its dab was turned and nobody has told yet when it did.

    Asked for a while only: later nobody remembers. events: the step's.
    """
    look = looks[-1] if looks else None
    if look is None or now - look.recorded_at > TURN_ASKED:
        return None
    answered = any(event.kind == "turned" and event.body["event"] == look.id for event in events)
    unanswered = look.state in TURNS and look.turned_min is None and not answered
    return look if unanswered else None


def gone_at(bench: Bench, step: Step, now: datetime) -> tuple[str, datetime | None] | None:
    """Until which milestone solvent leaves, and when that is over at the latest, None where no time
    can be given; None altogether where it holds no solvent or a test found it over."""
    name = leaving(step.sheet)
    if name is None or name in step.reached:
        return None
    milestone = bench.step_view(step.id, now).by_name.get(name)
    return name, milestone.late if milestone else None


def against(
    bench: Bench, step: Step, spell: HeatSpell, now: datetime, say: ReaderFormat
) -> tuple[str, ...]:
    """What speaks against heat, as sentences; empty where nothing does."""
    objections, most = [], most_c(step.sheet)
    if spell.surface_c is not None and spell.surface_c > most:
        whose = "the label's" if step.sheet.limits.temperature_c else "a cautious"
        here = say.temperature(spell.surface_c, 0)
        objections.append(f"{here} at the panel is over {whose} {say.temperature(most, 0)}")
    solvent = gone_at(bench, step, now)
    if solvent is not None and (solvent[1] is None or spell.start < solvent[1]):
        end = "no time can be given for that" if solvent[1] is None else say.moment(solvent[1], now)
        objections.append(f"no heat while solvent evaporates, until {in_words(solvent[0])}: {end}")
    return tuple(objections)


def spell(
    step: Step,
    start: str,
    until: str,
    surface_c: float | None,
    now: datetime,
    zone: ZoneInfo,
    order: Order | None = None,
) -> HeatSpell:
    """Heat as it is typed by the wall clock; never a spell that was over before the mixing.

    One whose end comes before its beginning on the clock is refused where it would last over 16 h.
    surface_c: at the panel [C]; order: which comes first in a date, day or month.
    """
    begun = near_time(start, now, zone, order)
    ended = next_time(until, begun, zone, order)
    if ended <= step.mixed_at:
        begun = next_time(start, begun, zone, order)
        ended = next_time(until, begun, zone, order)
    overnight = ended.astimezone(zone).date() > begun.astimezone(zone).date()
    by_clock = is_clock(start) and is_clock(until)
    if by_clock and overnight and ended - begun > LONGEST_BY_CLOCK:
        raise _backwards(f"from {start.strip()} until {until.strip()}")
    return HeatSpell(begun, ended, surface_c)


def _backwards(what: str) -> StepError:
    fix = "check both times; for longer heat name the day, like '25 Nov 2026 22:00'"
    return StepError(f"the heat ends before it begins: {what}", fix=fix)


def _check(step: Step, spell: HeatSpell, now: datetime) -> None:
    if spell.until <= spell.start:
        raise StepError("the heat ends before it begins", fix="check both times")
    if spell.until - spell.start > LONGEST:
        raise StepError("that is more than two days of heat", fix="check both times")
    if spell.until <= step.mixed_at:
        fix = "if the panel is warm, enter a reading: curewatch reading add --surface"
        raise StepError("the heat was over before the mixing", fix=fix)
    if not now - OLDEST <= spell.start <= now + FURTHEST:
        raise StepError("that heat is too far away", fix="check both times")


def heat(
    bench: Bench, number: int, spell: HeatSpell, *, now: datetime, say: ReaderFormat, why: str = ""
) -> tuple[str, ...]:
    """Record heat on a step's metal; returns what spoke against it.

    Planned heat over the limit or into solvent is refused. Heat that already was is a fact: it is
    kept where a reason is given, and stands in the log as an override.
    """
    step = bench.mixed(number)
    _check(step, spell, now)
    stops = against(bench, step, spell, now, say)
    if stops and spell.until > now:
        raise StepError("; ".join(stops), fix="heat later or less, or test first")
    if stops and not why.strip():
        fix = 'if it was heated anyway, give the reason: --why "..."'
        raise StepError("; ".join(stops), fix=fix)
    body = {
        "from": spell.start.isoformat(),
        "until": spell.until.isoformat(),
        "surface_c": spell.surface_c,
    }
    with acting():
        bench.store.add_event(number, "heated", spell.start, now, body)
        if stops:
            kept = {"stops": list(stops), "why": why.strip()[:LONGEST_TEXT]}
            bench.store.add_event(number, "overridden", now, now, kept)
    return stops


MOST_UM = 100_000


def check_film(film_um: float | None) -> None:
    """A measured film. [um] Raises StepError."""
    if film_um is not None and not (math.isfinite(film_um) and 0 < film_um <= MOST_UM):
        raise StepError(f"a film of {format_film(film_um)} cannot be", fix="write it like '120 um'")


def mark(
    bench: Bench,
    number: int,
    what: str,
    *,
    now: datetime,
    at: datetime | None = None,
    film_wet_um: float | None = None,
) -> int:
    """Record a coat, or that the clamps went on or off, with its time; returns the event's number.

    film_wet_um: as measured on this coat [um].
    """
    step = bench.mixed(number)
    if what not in MARKS:
        raise StepError(f"{what[:40]!r} is nothing to mark", fix=f"use {', '.join(MARKS)}")
    check_film(film_wet_um)
    then = check_time(at or now, now, "it")
    if then < step.mixed_at:
        raise StepError("that is before the mixing", fix="check how long ago it was")
    body: dict[str, Any] = {} if film_wet_um is None else {"film_wet_um": film_wet_um}
    if what == "coat":
        body["coat"] = len(step.of("coated")) + 1
    return bench.store.add_event(number, MARKS[what], then, now, body)


MOST_ALARMS = 60


def record_alarm(
    bench: Bench, number: int, key: str, kind: str, words: str, *, now: datetime
) -> bool:
    """Record that an alarm sounded, with its words; False where it is known, or too many are."""
    events = bench.step(number).of("sounded")
    if len(events) >= MOST_ALARMS or any(event.body["key"] == key for event in events):
        return False
    body = {"key": key, "kind": kind, "words": words}
    bench.store.add_event(number, "sounded", now, now, body)
    return True
