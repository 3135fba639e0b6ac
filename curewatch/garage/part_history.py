"""One part as its history makes it: body or structural, bare since when, the last step on it.

What is entered of a part is an entry of the ledger, and the last one counts, whatever the clock did
between two; steps are read with it by when they were mixed. Names of part and job are compared
without regard to capitals.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar

from curewatch.events.bodies import PartKind as Kind
from curewatch.frozen import frozen
from curewatch.text import LONGEST_TEXT, plain

if TYPE_CHECKING:
    from curewatch.events.events import Entry
    from curewatch.store.store import StepSummary

WORDS = ("cleaned_with", "grit", "place")
COVERS = ("primer", "sealer")
ONLY_THAT = "take off what is left of that batch only"
ALL_OF_IT = "take it off down to sound metal before anything goes over it"
Key = tuple[str, str]
Batch = TypeVar("Batch")


@frozen
class Part:
    """One part of a job. bare_since: when it was cleaned to metal, None where it is not bare;
    bare_hours: hours bare, counted faster when damp [h]; damp_known: whether a humidity was
    measured for that; asked_step: a step that may have covered it, not yet answered.
    last_step: the number of the last step on it, of those abandoned only where there is no other;
    failed_step: that of one abandoned over it since; done: nothing more is wanted of it."""

    name: str
    job: str
    kind: Kind = "body"
    bare_since: datetime | None = None
    bare_hours: float | None = None
    cleaned_with: str = ""
    grit: str = ""
    place: str = "panel"
    asked_step: int | None = None
    last_step: int | None = None
    failed_step: int | None = None
    damp_known: bool = False
    done: bool = False

    @property
    def key(self) -> Key:
        """What tells it from others."""
        return key_of(self.name, self.job)


def key_of(name: str, job: str) -> Key:
    """A part's name and job as they are compared."""
    return one_line_of(name).casefold(), one_line_of(job).casefold()


def one_line_of(text: str) -> str:
    """A name as it is kept: plain characters, on one line, not too long."""
    return " ".join(plain(text).split())[:LONGEST_TEXT].rstrip()


@frozen
class _PartState:
    """A part after some entries: when it was last entered as bare, and as still bare."""

    part: Part
    said_bare_at: datetime | None = None
    still_bare_at: datetime | None = None
    done: datetime | None = None


def _after_entry(state: _PartState, entry: Entry) -> _PartState:
    body, part = entry.body, state.part
    if entry.kind == "marked":
        return replace(state, part=replace(part, kind=body["as"]))
    if entry.kind == "bared":
        words: dict[str, Any] = {key: body[key] for key in WORDS if body.get(key)}
        blank = replace(part, bare_since=entry.at, cleaned_with="", grit="")
        return _PartState(replace(blank, **words), entry.recorded_at)
    if entry.kind == "still bare":
        return replace(state, said_bare_at=entry.recorded_at, still_bare_at=entry.recorded_at)
    if entry.kind in ("covered", "done"):
        done = entry.recorded_at if entry.kind == "done" else state.done
        return _PartState(replace(part, bare_since=None), done=done)
    return state


def _over(state: _PartState, work: StepSummary, kind: str) -> Part:
    """The part after a step over it: covered by a primer or sealer mixed after it was said to be
    bare; else it is asked, but not twice."""
    part, mixed = state.part, work.row.mixed_at
    if part.bare_since is None or work.abandoned or mixed < part.bare_since:
        return part
    if state.still_bare_at is not None and mixed <= state.still_bare_at:
        return part
    if kind in COVERS and state.said_bare_at is not None and mixed >= state.said_bare_at:
        return replace(part, bare_since=None, asked_step=None)
    return replace(part, asked_step=work.row.id)


@dataclass
class PartHistory:
    """All that is known of one part: words in the order told, its steps, and in `near` the steps on
    a part of the same name whose job is another one or none."""

    entries: list[Entry] = field(default_factory=list)
    works: list[StepSummary] = field(default_factory=list)
    near: list[StepSummary] = field(default_factory=list)


def fold(history: PartHistory, kinds: Mapping[str, str]) -> Part:
    """The part that its history makes; kinds: of the products, by id."""
    works = sorted(history.works, key=lambda work: work.row.mixed_at)
    part = Part("", "")
    top, failed = lying(works, [work.abandoned for work in works])
    if top is not None:
        over = failed.row.id if failed else None
        last = works[-1]
        part = Part(last.part, last.job, place=last.place, last_step=top.row.id, failed_step=over)
    for entry in history.entries[-1:]:
        part = replace(part, name=entry.body["name"])
    part = replace(part, job=_job(history))
    state = _PartState(part)
    for entry in history.entries:
        state = _after_entry(state, entry)
    for work in works:
        state = replace(state, part=_over(state, work, kinds.get(work.row.sheet, "")))
    for work in sorted(history.near, key=lambda work: work.row.mixed_at):
        state = replace(state, part=_over(state, work, ""))
    again = [work for work in works if state.done is None or work.row.mixed_at > state.done]
    return replace(state.part, done=state.done is not None and not again)


def _job(history: PartHistory) -> str:
    """The job as it was written last, where it was written at all."""
    texts = [work.job for work in sorted(history.works, key=lambda work: work.row.mixed_at)]
    texts += [str(entry.body["job"]) for entry in history.entries]
    return next((job for job in reversed(texts) if job), "")


def lying(batches: Sequence[Batch], abandoned: Sequence[bool]) -> tuple[Batch | None, Batch | None]:
    """The batch on top, of a part's batches in the order mixed and whether each was abandoned; and
    the last one abandoned over it.

    A batch that was abandoned says nothing against the one under it. Where all were abandoned, the
    last of them is on top.
    """
    good = [place for place, given_up in enumerate(abandoned) if not given_up]
    if not good:
        return (batches[-1] if batches else None), None
    return batches[good[-1]], (batches[-1] if good[-1] < len(batches) - 1 else None)
