"""The parts of all jobs: asked for, and what is entered about them.

What names a part without its job is of the one part of that name. Where several jobs have one, or a
step named another job, nobody can know which was meant: the bare clock runs on, and it is asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, get_args

from curewatch.climate.bare_steel import bare_hours
from curewatch.errors import StepError
from curewatch.events.bodies import PartKind as Kind
from curewatch.garage.part_history import Key, Part, PartHistory, fold, key_of, one_line_of
from curewatch.garage.shelf import sheets_of
from curewatch.quality.overview import believed
from curewatch.text import LONGEST_TEXT
from curewatch.walltime import check_time

if TYPE_CHECKING:
    from curewatch.garage.place_air import PlaceAir
    from curewatch.store.store import Store

SUBJECT = "part"
FINE = timedelta(days=2)
UNMEASURED_C = 20.0
KINDS: tuple[Kind, ...] = get_args(Kind)


def _grouped(store: Store) -> dict[Key, PartHistory]:
    histories: dict[Key, PartHistory] = {}
    for work in store.step_summaries():
        if work.part:
            histories.setdefault(key_of(work.part, work.job), PartHistory()).works.append(work)
    for entry in store.entries(SUBJECT):
        key = key_of(entry.body["name"], entry.body["job"])
        histories.setdefault(key, PartHistory()).entries.append(entry)
    return _joined(histories)


def _joined(histories: dict[Key, PartHistory]) -> dict[Key, PartHistory]:
    """What was entered without a job goes to the one part of that name."""
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
    conditions = air.at(readings, part.place, since, now, UNMEASURED_C)
    damp_known = any(reading.quantity == "relative_humidity" for reading in readings)
    return replace(part, bare_hours=bare_hours(conditions), damp_known=damp_known)


def _all(store: Store) -> list[Part]:
    histories = _grouped(store).values()
    ids = {work.row.sheet for history in histories for work in history.works}
    kinds = {id: sheet.kind for id, sheet in sheets_of(store, ids).items()}
    return [fold(history, kinds) for history in histories]


def parts(air: PlaceAir, now: datetime, job: str | None = None) -> list[Part]:
    """Every part that a step or an entry names, of one job where asked.

    Those with bare metal first, then those worked on last; what is done with comes at the end.
    """
    job_key = None if job is None else key_of("", job)[1]
    kept = [part for part in _all(air.store) if job_key in (None, part.key[1])]
    kept.sort(
        key=lambda part: (part.done, part.bare_since is None, -(part.last_step or 0), part.key)
    )
    return [_weighed(air, part, now) for part in kept]


def existing(air: PlaceAir, name: str, job: str, now: datetime) -> Part | None:
    """One part; where this job has none of that name, the one worked on last that has it. None
    where there is none."""
    key = key_of(name, job)
    same_name = [part for part in _all(air.store) if part.key[0] == key[0]]
    latest = max(same_name, key=lambda part: (part.key == key, part.last_step or 0), default=None)
    return None if latest is None else _weighed(air, latest, now)


def find(store: Store, name: str, job: str) -> Part:
    """The one part of this name, whatever job is named with it, unless several jobs have one.

    Raises StepError where there is none, or where it is not clear which.
    """
    key, all_parts = key_of(name, job), _all(store)
    same_name = [part for part in all_parts if part.key[0] == key[0]]
    exact = [part for part in same_name if part.key == key]
    if len(same_name) == 1 or exact:
        return (exact or same_name)[0]
    if same_name:
        jobs = " and ".join(repr(part.job) if part.job else "no job" for part in same_name)
        raise StepError(f"there is a part {name[:40]!r} in {jobs}", fix="name its job")
    from difflib import get_close_matches

    near = get_close_matches(key[0], [part.key[0] for part in all_parts], n=3)
    raise StepError(f"there is no part {name[:40]!r}", fix=_meant(all_parts, near))


def _meant(all_parts: Sequence[Part], near: Sequence[str]) -> str:
    """What may have been meant: the parts of nearly that name, else those that there are."""
    close = dict.fromkeys(repr(part.name) for part in all_parts if part.key[0] in near)
    if close:
        return f"did you mean {' or '.join(close)}?"
    names = dict.fromkeys(repr(part.name) for part in all_parts)
    return f"the parts are {', '.join([*names][:5])}" if names else "no part is known yet"


def part(air: PlaceAir, name: str, job: str, now: datetime) -> Part:
    """One part as `existing` gives it; a plain one where there is none."""
    return existing(air, name, job, now) or Part(name, job)


def jobs(store: Store) -> list[str]:
    """The jobs that parts belong to, what was worked on last first."""
    all_parts = sorted(_all(store), key=lambda part: -(part.last_step or 0))
    return list({part.key[1]: part.job for part in all_parts}.values())


def bare(all_parts: Iterable[Part]) -> list[Part]:
    """Those with bare metal, the longest first."""
    bare_parts = [part for part in all_parts if part.bare_since is not None]
    return sorted(bare_parts, key=lambda part: -(part.bare_hours or 0.0))


def _tell(
    store: Store, name: str, job: str, kind: str, at: datetime, now: datetime, body: dict[str, Any]
) -> None:
    name, job = one_line_of(name), one_line_of(job)
    if not name:
        raise StepError("the part has no name", fix="say which part, like 'left rear rib'")
    entered = {key: value for key, value in body.items() if value}
    store.add_entry(
        SUBJECT, key_of(name, job)[0], kind, at, now, entered | {"name": name, "job": job}
    )


def mark(store: Store, name: str, job: str, kind: str, *, now: datetime, who: str = "") -> None:
    """Mark a part as body or structural."""
    if kind not in KINDS:
        raise StepError(f"{kind[:40]!r} is not a kind of part", fix=f"use {' or '.join(KINDS)}")
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
