"""The parts of a job: body or structural, bare since when, and the last step on each.

What is told of a part is an entry of the ledger, and the last word counts, whatever the clock did
between two; steps are read with it by when they were mixed. Names of part and job are compared
without regard to capitals.

What names a part without its job is of the one part of that name. Where several jobs have one, or a
step named another job, nobody can know which was meant: the bare clock runs on, and it is asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, get_args

from curewatch.climate.bare_steel import bare_hours
from curewatch.errors import StepError
from curewatch.events.bodies import PartKind as Kind
from curewatch.garage.lying import lying
from curewatch.garage.shelf import shelf
from curewatch.quality.overview import believed
from curewatch.text import LONGEST_TEXT, plain
from curewatch.walltime import check_time

if TYPE_CHECKING:
    from curewatch.events.events import Entry
    from curewatch.garage.place_air import PlaceAir
    from curewatch.store.store import Store, Worked

SUBJECT = "part"
WORDS = ("cleaned_with", "grit", "place")
COVERS = ("primer", "sealer")
FINE = timedelta(days=2)
UNMEASURED_C = 20.0
KINDS: tuple[Kind, ...] = get_args(Kind)
Key = tuple[str, str]


@dataclass(frozen=True)
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
    return _one_line(name).casefold(), _one_line(job).casefold()


def _one_line(text: str) -> str:
    return " ".join(plain(text).split())[:LONGEST_TEXT].rstrip()


@dataclass(frozen=True)
class _Said:
    """What words make of a part: `heard` when it was last said to be bare, `answered` when it was
    said to be still bare."""

    part: Part
    heard: datetime | None = None
    answered: datetime | None = None
    done: datetime | None = None


def _told(said: _Said, entry: Entry) -> _Said:
    body, part = entry.body, said.part
    if entry.kind == "marked":
        return replace(said, part=replace(part, kind=body["as"]))
    if entry.kind == "bared":
        told: dict[str, Any] = {key: body[key] for key in WORDS if body.get(key)}
        blank = replace(part, bare_since=entry.at, cleaned_with="", grit="")
        return _Said(replace(blank, **told), entry.told)
    if entry.kind == "still bare":
        return replace(said, heard=entry.told, answered=entry.told)
    if entry.kind in ("covered", "done"):
        done = entry.told if entry.kind == "done" else said.done
        return _Said(replace(part, bare_since=None), done=done)
    return said


def _over(said: _Said, work: Worked, kind: str) -> Part:
    """The part after a step over it: covered by a primer or sealer mixed after it was said to be
    bare; else it is asked, but not twice."""
    part, mixed = said.part, work.row.mixed_at
    if part.bare_since is None or work.abandoned or mixed < part.bare_since:
        return part
    if said.answered is not None and mixed <= said.answered:
        return part
    if kind in COVERS and said.heard is not None and mixed >= said.heard:
        return replace(part, bare_since=None, asked_step=None)
    return replace(part, asked_step=work.row.id)


@dataclass
class _PartHistory:
    """All that is known of one part: words in the order told, its steps, and in `near` the steps on
    a part of the same name whose job is another one or none."""

    entries: list[Entry] = field(default_factory=list)
    works: list[Worked] = field(default_factory=list)
    near: list[Worked] = field(default_factory=list)


def _fold(heard: _PartHistory, kinds: Mapping[str, str]) -> Part:
    works = sorted(heard.works, key=lambda work: work.row.mixed_at)
    part = Part("", "")
    top, failed = lying(works, [work.abandoned for work in works])
    if top is not None:
        over = failed.row.id if failed else None
        last = works[-1]
        part = Part(last.part, last.job, place=last.place, last_step=top.row.id, failed_step=over)
    for entry in heard.entries[-1:]:
        part = replace(part, name=entry.body["name"])
    part = replace(part, job=_job(heard))
    said = _Said(part)
    for entry in heard.entries:
        said = _told(said, entry)
    for work in works:
        said = replace(said, part=_over(said, work, kinds.get(work.row.sheet, "")))
    for work in sorted(heard.near, key=lambda work: work.row.mixed_at):
        said = replace(said, part=_over(said, work, ""))
    again = [work for work in works if said.done is None or work.row.mixed_at > said.done]
    return replace(said.part, done=said.done is not None and not again)


def _job(heard: _PartHistory) -> str:
    """The job as it was written last, where it was written at all."""
    texts = [work.job for work in sorted(heard.works, key=lambda work: work.row.mixed_at)]
    texts += [str(entry.body["job"]) for entry in heard.entries]
    return next((job for job in reversed(texts) if job), "")


def _grouped(store: Store) -> dict[Key, _PartHistory]:
    histories: dict[Key, _PartHistory] = {}
    for work in store.worked():
        if work.part:
            histories.setdefault(key_of(work.part, work.job), _PartHistory()).works.append(work)
    for entry in store.entries(SUBJECT):
        key = key_of(entry.body["name"], entry.body["job"])
        histories.setdefault(key, _PartHistory()).entries.append(entry)
    return _joined(histories)


def _joined(histories: dict[Key, _PartHistory]) -> dict[Key, _PartHistory]:
    """What was told without a job goes to the one part of that name."""
    by_name: dict[str, list[Key]] = {}
    for key in histories:
        by_name.setdefault(key[0], []).append(key)
    for name, keys in by_name.items():
        jobs = [key for key in keys if key[1]]
        if len(jobs) == 1 and len(keys) == 2:
            bare = histories.pop((name, ""))
            whole = histories[jobs[0]]
            whole.works += bare.works
            whole.entries = sorted([*whole.entries, *bare.entries], key=lambda entry: entry.id)
        elif len(keys) > 1:
            for key in keys:
                others = [histories[pair].works for pair in keys if pair != key]
                histories[key].near = [work for works in others for work in works]
    return histories


def _weighed(air: PlaceAir, part: Part, now: datetime) -> Part:
    since = part.bare_since
    if since is None:
        return part
    bucket_s = 60 if now - since <= FINE else 3600
    readings = believed(air.store, since - timedelta(hours=1), now, bucket_s=bucket_s)
    felt = air.at(readings, part.place, since, now, UNMEASURED_C)
    known = any(reading.quantity == "relative_humidity" for reading in readings)
    return replace(part, bare_hours=bare_hours(felt), damp_known=known)


def _all(store: Store) -> list[Part]:
    kinds = {id: sheet.kind for id, sheet in shelf(store).items()}
    return [_fold(heard, kinds) for heard in _grouped(store).values()]


def parts(air: PlaceAir, now: datetime, job: str | None = None) -> list[Part]:
    """Every part that a step or a word was told of, of one job where asked.

    Those with bare metal first, then those worked on last; what is done with comes at the end.
    """
    wanted = None if job is None else key_of("", job)[1]
    kept = [part for part in _all(air.store) if wanted in (None, part.key[1])]
    kept.sort(
        key=lambda part: (part.done, part.bare_since is None, -(part.last_step or 0), part.key)
    )
    return [_weighed(air, part, now) for part in kept]


def known(air: PlaceAir, name: str, job: str, now: datetime) -> Part | None:
    """One part; where this job has none of that name, the one worked on last that has it. None:
    never heard of."""
    wanted = key_of(name, job)
    found = [each for each in _all(air.store) if each.key[0] == wanted[0]]
    latest = max(found, key=lambda each: (each.key == wanted, each.last_step or 0), default=None)
    return None if latest is None else _weighed(air, latest, now)


def find(store: Store, name: str, job: str) -> Part:
    """The one part of this name, whatever job is named with it, unless several jobs have one.

    Raises StepError where there is none, or where it is not clear which.
    """
    wanted, held = key_of(name, job), _all(store)
    found = [each for each in held if each.key[0] == wanted[0]]
    exact = [each for each in found if each.key == wanted]
    if len(found) == 1 or exact:
        return (exact or found)[0]
    if found:
        jobs = " and ".join(repr(each.job) if each.job else "no job" for each in found)
        raise StepError(f"there is a part {name[:40]!r} in {jobs}", fix="name its job")
    near = get_close_matches(wanted[0], [each.key[0] for each in held], n=3)
    raise StepError(f"there is no part {name[:40]!r}", fix=_meant(held, near))


def _meant(held: Sequence[Part], near: Sequence[str]) -> str:
    """What may have been meant: the parts of nearly that name, else those that there are."""
    close = dict.fromkeys(repr(each.name) for each in held if each.key[0] in near)
    if close:
        return f"did you mean {' or '.join(close)}?"
    names = dict.fromkeys(repr(each.name) for each in held)
    return f"the parts are {', '.join([*names][:5])}" if names else "no part is known yet"


def part(air: PlaceAir, name: str, job: str, now: datetime) -> Part:
    """One part as `known`; never heard of: a plain one."""
    return known(air, name, job, now) or Part(name, job)


def jobs(store: Store) -> list[str]:
    """The jobs that parts belong to, what was worked on last first."""
    found = sorted(_all(store), key=lambda each: -(each.last_step or 0))
    return list({each.key[1]: each.job for each in found}.values())


def bare(found: Iterable[Part]) -> list[Part]:
    """Those with bare metal, the longest first."""
    held = [each for each in found if each.bare_since is not None]
    return sorted(held, key=lambda each: -(each.bare_hours or 0.0))


def _tell(
    store: Store, name: str, job: str, kind: str, at: datetime, now: datetime, body: dict[str, Any]
) -> None:
    name, job = _one_line(name), _one_line(job)
    if not name:
        raise StepError("the part has no name", fix="say which part, like 'left rear rib'")
    told = {key: value for key, value in body.items() if value}
    store.add_entry(SUBJECT, key_of(name, job)[0], kind, at, now, told | {"name": name, "job": job})


def mark(store: Store, name: str, job: str, kind: str, *, now: datetime, who: str = "") -> None:
    """Mark a part as body or structural."""
    if kind not in KINDS:
        raise StepError(f"{kind[:40]!r} is no kind of part", fix=f"use {' or '.join(KINDS)}")
    _tell(store, name, job, "marked", now, now, {"as": kind, "who": who})


def bared(
    store: Store,
    name: str,
    job: str,
    *,
    now: datetime,
    since: datetime | None = None,
    grit: str = "",
    cleaned_with: str = "",
    place: str = "",
    who: str = "",
) -> None:
    """Start the clock: the part was cleaned to bare metal now, or since an instant."""
    at = check_time(since or now, now, "the cleaning")
    body = {
        "grit": grit.strip()[:LONGEST_TEXT],
        "cleaned_with": cleaned_with.strip()[:LONGEST_TEXT],
        "place": place.strip()[:LONGEST_TEXT],
        "who": who,
    }
    _tell(store, name, job, "bared", at, now, body)


def covered(store: Store, name: str, job: str, *, now: datetime, who: str = "") -> Part:
    """Stop the clock: the metal is covered. Returns the part; raises StepError as `find` does."""
    return _tell_of(store, name, job, "covered", now, who)


def still_bare(store: Store, name: str, job: str, *, now: datetime, who: str = "") -> Part:
    """Answer that metal is still bare beside what the last step covered."""
    return _tell_of(store, name, job, "still bare", now, who)


def done(store: Store, name: str, job: str, *, now: datetime, who: str = "") -> Part:
    """Record that nothing more is wanted of a part; a later step or cleaning takes that back."""
    return _tell_of(store, name, job, "done", now, who)


def _tell_of(store: Store, name: str, job: str, kind: str, now: datetime, who: str) -> Part:
    """The same of a part that is known."""
    part = find(store, name, job)
    _tell(store, part.name, part.job, kind, now, now, {"who": who})
    return part
