"""Airing after a step with solvent: at least how long, from when; also of steps closed lately.
A minimum, never a clearance.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from curewatch.bench.bench import Bench
from curewatch.bench.views import BenchView, StepView
from curewatch.durations import duration, full_minute
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.garage.step import DamagedStep
from curewatch.garage.steps import steps
from curewatch.products.solvents import leaving
from curewatch.text import short_name
from curewatch.walltime import stamp

if TYPE_CHECKING:
    from curewatch.protection.ventilation import Room

WITHIN = timedelta(hours=24)
MOST = 8


def recently_closed(bench: Bench, now: datetime) -> list[StepView]:
    """The steps with solvent that were closed in the last day."""
    views = []
    for step in steps(bench.store, most=MOST):
        closed = step.closed_at
        if closed and now - closed <= WITHIN and leaving(step.sheet) is not None:
            with suppress(DamagedStep):
                views.append(bench.reader.step_view(step, closed))
    return views


SHARE = 0.99
SHOWN_AFTER, FURTHEST = timedelta(hours=3), timedelta(days=3)
UNTIMED_FOR = timedelta(hours=12)
OVER = (
    "The least airing time is over. It is a minimum and not a clearance: the air may still hold "
    "vapour, and you cannot judge by smell. Leave the door open."
)
FAN = "fresh air blown in, motor and switch outside the vapour"
NO_ISOCYANATE = (
    "Isocyanate: no airing time can be given. Go back in only with an air-fed mask; "
    "the fan stays on."
)
NO_ROOM = "Airing: enter the room's size and its fan once, and the least time is counted here."
NO_END = (
    "Airing: no time can be given, because it is not known when the solvent has evaporated. "
    f"Fan on, {FAN}."
)


@frozen
class Purge:
    """The airing of one step: until when at least, None where nothing counts down; fan_on: since
    when it was told to run; over: whether the least time has passed; words for people."""

    step_id: int
    part: str
    until: datetime | None
    fan_on: datetime | None
    over: bool
    words: str
    room_known: bool


def _begin(step: StepView) -> datetime | None:
    """When the last solvent has left: its late bound."""
    milestone = step.by_name.get(leaving(step.sheet) or "")
    return milestone.late if milestone else None


def purge(step: StepView, room: Room | None, now: datetime, say: ReaderFormat) -> Purge | None:
    """The airing of a step, None where it holds no solvent or the airing is long past."""
    if leaving(step.sheet) is None or now - step.mixed_at > FURTHEST:
        return None
    room_known, left = room is not None, _begin(step)
    part = step.part or short_name(step.sheet.name)
    untimed = _untimed(step, room, left)
    if untimed and now - step.mixed_at > UNTIMED_FOR:
        return None
    if untimed or room is None or left is None:
        return Purge(step.id, part, None, step.fan_on, False, untimed, room_known)
    from curewatch.protection.ventilation import purge_min

    least = purge_min(room.air_changes_per_h, SHARE, room.mixing)
    return _timed(step, part, left, least, now, say)


def _timed(
    step: StepView, part: str, left: datetime, least_min: float, now: datetime, say: ReaderFormat
) -> Purge | None:
    moment = say.moment(left, now)
    ends = (
        f"solvent evaporates until about {moment}"
        if left > now
        else f"solvent evaporated by {moment}"
    )
    if step.fan_on is None:
        words = (
            f"Fan on? ({FAN}) {ends}; then at least {duration(least_min, 'up')} to air 99 % of it"
        )
        over = now > left + timedelta(minutes=least_min) + SHOWN_AFTER
        return None if over else Purge(step.id, part, None, None, False, words, True)
    until = full_minute(max(step.fan_on, left) + timedelta(minutes=least_min))
    if now >= until + SHOWN_AFTER:
        return None
    if now >= until:
        return Purge(step.id, part, None, step.fan_on, True, OVER, True)
    words = f"Airing 99 % of the vapour, at least until {say.moment(until, now)}; {ends}"
    return Purge(step.id, part, until, step.fan_on, False, words, True)


def _untimed(step: StepView, room: Room | None, left: datetime | None) -> str:
    """Why no time is counted; '' where one is."""
    if step.sheet.hazards.isocyanate:
        return NO_ISOCYANATE
    if room is None:
        return NO_ROOM
    return NO_END if left is None else ""


def purges(
    view: BenchView, room: Room | None, say: ReaderFormat, closed: Sequence[StepView] = ()
) -> list[Purge]:
    """The airing of every step with solvent, on the bench or lately taken off it; the last mixed
    first."""
    steps = sorted((*view.steps, *closed), key=lambda step: step.mixed_at, reverse=True)
    candidates = (purge(step, room, view.now, say) for step in steps)
    return [purge for purge in candidates if purge is not None]


def aired(bench: Bench, view: BenchView, say: ReaderFormat) -> list[Purge]:
    """The least airing of each step with solvent, on the bench or lately taken off it."""
    closed = recently_closed(bench, view.now)
    if all(leaving(step.sheet) is None for step in (*view.steps, *closed)):
        return []  # most benches: what works out airing need not be loaded
    from curewatch.protection.airing import last_room

    return purges(view, last_room(bench.store), say, closed)


def as_json(purge: Purge) -> dict[str, Any]:
    """An airing as plain data; `until`: at least, and null where nothing counts down."""
    return {
        "step": purge.step_id,
        "part": purge.part,
        "at_least_until": stamp(purge.until),
        "fan_on": stamp(purge.fan_on),
        "least_time_over": purge.over,
        "words": purge.words,
    }
