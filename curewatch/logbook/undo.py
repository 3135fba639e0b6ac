"""Undoing an act, whatever it was: a further event that names what it undoes.

Nothing is taken out of the file, and an undo can be undone itself. What later acts rest on is not
undone: that is refused, with the reason.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.errors import StepError
from curewatch.events.events import UNDO, Entry, Event, undone_by
from curewatch.frozen import frozen
from curewatch.garage.step import UNDONE, DamagedStep
from curewatch.logbook.undo_rules import AUTOMATIC, rests_on
from curewatch.quality import clock, typed
from curewatch.text import LONGEST_TEXT

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench
    from curewatch.store.store import Store

MOST = 1000


@frozen
class PastAct:
    """One act as it is on record: its number, what it recorded of steps and of other things;
    undone: whether nothing of it stands any more."""

    number: int
    events: tuple[Event, ...]
    entries: tuple[Entry, ...]
    undone: bool

    @property
    def rows(self) -> tuple[Event | Entry, ...]:
        """All that it recorded, what happened to steps first."""
        return (*self.events, *self.entries)

    @property
    def recorded_at(self) -> datetime:
        """When it was recorded."""
        return self.rows[0].recorded_at

    @property
    def at(self) -> datetime:
        """When it was."""
        return self.rows[0].at

    @property
    def is_undo(self) -> bool:
        """Whether it undid another act."""
        return all(row.kind == UNDO for row in self.rows)


def _by_a_person(row: Event | Entry) -> bool:
    subject = row.subject if isinstance(row, Entry) else ""
    return (subject, row.kind) not in AUTOMATIC


def _is_undone(store: Store, row: Event | Entry) -> bool:
    """Whether a row no longer stands."""
    if isinstance(row, Entry):
        return row.id in undone_by(store.all_entries(row.subject, row.name))
    return row.id in undone_by(store.events([row.step])[row.step])


def _past(store: Store, number: int) -> PastAct | None:
    events, entries = store.of_act(number)
    act = PastAct(
        number, tuple(filter(_by_a_person, events)), tuple(filter(_by_a_person, entries)), False
    )
    return (
        replace(act, undone=all(_is_undone(store, row) for row in act.rows)) if act.rows else None
    )


def past_act(store: Store, number: int) -> PastAct:
    """One act by its number. Raises StepError where there is none."""
    act = _past(store, number)
    if act is None:
        raise StepError(f"no act has the number {number}", fix="see: curewatch undo --list")
    return act


def last_acts(store: Store) -> Iterator[PastAct]:
    """The acts recorded last, the latest first; those of people, not what happened by itself."""
    for number in store.last_acts(MOST):
        act = _past(store, number)
        if act is not None:
            yield act


def last_one(store: Store) -> PastAct:
    """What `undo` undoes where nothing is named: the last act that stands and is no undo."""
    for act in last_acts(store):
        if not act.undone and not act.is_undo:
            return act
    raise StepError("there is nothing to undo", fix="see: curewatch undo --list")


def act_of_event(store: Store, step: int, event: int) -> PastAct:
    """The act that recorded an event of a step. Raises StepError where there is none."""
    for candidate in store.events([step])[step]:
        if candidate.id == event:
            return past_act(store, candidate.act)
    raise StepError(f"step {step} has no event {event}", fix="see its history")


def undoable(store: Store, step: int) -> set[int]:
    """The numbers of the events of a step that can be undone, or, of an undo, brought back."""
    events = store.events([step])[step]
    undone = undone_by(events)
    never = events[0].id in undone
    return {
        event.id
        for event in events
        if event.id not in undone
        and _by_a_person(event)
        and (not never or event is undone[events[0].id])
    }


def undo(bench: Bench, act: PastAct, *, now: datetime, why: str = "") -> None:
    """Undo an act, or bring back what an undo undid; what stood before stays in the history.

    Raises StepError where it is undone already, or where later acts rest on it.
    """
    if act.undone:
        raise StepError("that is undone already", fix="undo that undo to bring it back")
    for row in act.rows:
        reason = _never_mixed(bench, row) or rests_on(bench, row)
        if reason:
            raise StepError(f"that cannot be undone: {reason}", fix="undo what came after it first")
    body = {"why": why.strip()[:LONGEST_TEXT]} if why.strip() else {}
    with bench.store.together():
        bench.store.add_undo(
            [event for event in act.events if not _is_undone(bench.store, event)],
            [entry for entry in act.entries if not _is_undone(bench.store, entry)],
            now,
            body,
        )
        if any(entry.subject == typed.SUBJECT for entry in act.entries):
            typed.settle(bench.store)
        clock.settle(bench.store, act.entries)


def _never_mixed(bench: Bench, row: Event | Entry) -> str:
    """Why nothing of a step is undone whose mix is undone, but for that undoing."""
    if isinstance(row, Entry) or row.damaged:
        return ""
    with suppress(DamagedStep):
        if bench.step(row.step).state != UNDONE:
            return ""
    first = bench.store.events([row.step])[row.step][0]
    of_the_mix = row.kind == UNDO and row.body["event"] == first.id
    return "" if of_the_mix or row.act == first.act else "the mix itself was undone"
