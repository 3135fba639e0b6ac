"""Events and entries that cannot be read: named, and removed by a further event, as an undo is.

The logbook's file hands each row out with what is wrong in it (`bodies.read_row`), and
`events.standing` leaves it out, so that no page works with it. Nothing is taken out of the file.
Whatever fails while one step is worked out is that step's damage too, and ends nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.errors import StepError, StoreError
from curewatch.events.events import Event, undone_by
from curewatch.frozen import frozen
from curewatch.garage.step import DamagedStep, Step, fold

if TYPE_CHECKING:
    from curewatch.events.events import Entry
    from curewatch.store.search import StepQuery
    from curewatch.store.store import Store

WHY = "damaged"
REASON = "its times cannot be worked out from what was entered of it and of its product"
FIX = "its history shows what was entered; what is wrong there can be undone"


@frozen
class Damaged:
    """A row that cannot be read, and what is wrong with it; whole_step: it is a step's start, so
    that nothing of the step can be shown."""

    row: Event | Entry
    what: str
    whole_step: bool = False

    @property
    def id(self) -> str:
        """What names it in a form: the step's events and the ledger's entries count apart."""
        return f"{'e' if isinstance(self.row, Event) else 'l'}{self.row.id}"

    @property
    def step(self) -> int | None:
        """The step it is of, None where it is of none."""
        return self.row.step if isinstance(self.row, Event) else None

    @property
    def of(self) -> str:
        """What it is of, in words."""
        if isinstance(self.row, Event):
            return f"step {self.row.step}"
        return f"{self.row.subject} {self.row.name}".strip()[:80]


def of_events(events: Sequence[Event]) -> list[Damaged]:
    """What of one step's events is damaged and was not removed."""
    undone = undone_by(events)
    damaged = [
        Damaged(event, event.damaged, event is events[0])
        for event in events
        if event.damaged and event.id not in undone
    ]
    if events and events[0].id not in undone and not events[0].damaged:
        try:
            fold(events)
        except DamagedStep as error:
            damaged.insert(0, Damaged(events[0], error.reason, True))
    return damaged


def failed_step(events: Sequence[Event], error: DamagedStep) -> Damaged:
    """A step, by its events, that cannot be worked out."""
    return Damaged(events[0], error.reason, True)


def of_entries(entries: Sequence[Entry]) -> list[Damaged]:
    """The same of entries of the ledger."""
    undone = undone_by(entries)
    return [
        Damaged(entry, entry.damaged)
        for entry in entries
        if entry.damaged and entry.id not in undone
    ]


def of_steps(store: Store, numbers: Iterable[int]) -> list[Damaged]:
    """What is damaged of these steps."""
    return [damaged for events in store.events(numbers).values() for damaged in of_events(events)]


def of_bench(store: Store) -> list[Damaged]:
    """What is damaged of the steps on the bench, and of what is no step."""
    on_it = [row.id for row in store.steps(only_open=True)]
    return [*of_steps(store, on_it), *of_entries(store.all_entries())]


def of_query(
    store: Store, query: StepQuery, most: int | None = None, before: int | None = None
) -> list[Damaged]:
    """What is damaged of the steps sought, at most so many of them, under a number."""
    return of_steps(store, store.find(query, most=most, before=before))


def all_damaged(store: Store) -> list[Damaged]:
    """Everything that is damaged; reads the whole logbook."""
    return [*of_steps(store, store.all_steps()), *of_entries(store.all_entries())]


def remove(store: Store, id: str, *, now: datetime, also: Sequence[Damaged] = ()) -> Damaged:
    """Record that a damaged row is removed: what else there is goes on without it.

    also: what else counts as damaged. Raises StepError where there is no such row.
    """
    from curewatch.quality import typed

    record = next((damaged for damaged in (*all_damaged(store), *also) if damaged.id == id), None)
    if record is None:
        raise StepError("no such entry is damaged", fix="load the page again")
    events, entries = ([record.row], []) if isinstance(record.row, Event) else ([], [record.row])
    with store.together():
        store.add_undo(events, entries, now, {"why": WHY})
        if record.of.partition(" ")[0] == typed.SUBJECT:
            typed.settle(store)
    return record


def reading_sentences(store: Store) -> list[str]:
    """The readings that are damaged, for a page or a terminal; looks at every reading."""
    return [
        f"{unsound.count} {'reading is' if unsound.count == 1 else 'readings are'} "
        f"damaged and left out: {unsound.quantity.replace('_', ' ')} at {unsound.place}, "
        f"from {unsound.source} "
        "(the value is not a number, or the time is impossible)"
        for unsound in store.unsound()
    ]


def as_json(damaged: Damaged) -> dict[str, str]:
    """What is damaged as plain data; entry: the name to remove it by."""
    text = damaged.row.recorded_at.isoformat()
    named = {"entry": damaged.id, "of": damaged.of, "kind": damaged.row.kind}
    return named | {"told": text, "what": damaged.what}


def sentence(damaged: Damaged, when: str) -> str:
    """What is damaged, for a page or a terminal; when: its instant as this reader writes it."""
    head = f"{damaged.of[:1].upper()}{damaged.of[1:]}"
    if damaged.whole_step:
        return f"{head}, entered {when}, is damaged and is not shown ({damaged.what})"
    kind = damaged.row.kind[:40]
    return f"{head}: {kind}, entered {when}, is damaged and left out ({damaged.what})"


class Failures:
    """The steps that could not be worked out since the start, each logged once as it was told."""

    def __init__(self) -> None:
        self._logged = set[tuple[int, int]]()

    @property
    def steps(self) -> set[int]:
        """The numbers of the steps that could not be worked out."""
        return {number for number, _ in self._logged}

    @contextmanager
    def of(self, step: Step) -> Iterator[None]:
        """Raises DamagedStep for whatever fails inside, but for what the disk says."""
        try:
            yield
        except (DamagedStep, StoreError):
            raise
        except Exception as error:
            self._log(step, error)
            raise DamagedStep(step.id, REASON, FIX) from error

    def _log(self, step: Step, error: Exception) -> None:
        key = (step.id, step.last_event)
        if key not in self._logged:
            self._logged.add(key)
            import logging  # takes as long to load as all of this package

            text = "step %d: %s (failure %d since the start)"
            logging.getLogger(__name__).error(
                text, step.id, REASON, len(self._logged), exc_info=error
            )
