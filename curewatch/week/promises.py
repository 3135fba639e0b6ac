"""What plans promised of wishes whose time is past, and whether it came true.

A promise counts as it was last shown before the first mix on the part: that is what was acted on.
It held where all the mixes that the wish takes were made by its time.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from curewatch.errors import ConfigError
from curewatch.frozen import frozen
from curewatch.garage.part_history import key_of
from curewatch.garage.steps import steps
from curewatch.ways.entered import way_of
from curewatch.ways.left import MOST_STEPS
from curewatch.week.kept import MINE, PLAN

if TYPE_CHECKING:
    from curewatch.store.store import Store

LEAST_COUNTED = 10
Mixes = Sequence[tuple[datetime, str]]


@frozen
class Promise:
    """A chance in tenths as it was shown at some time."""

    shown_at: datetime
    tenths: int


@frozen
class PromiseTally:
    """Of the promises of so many tenths, how many were acted on, and how many were kept."""

    tenths: int
    made: int
    kept: int


def outcome(
    shown: Sequence[Promise], mixes: Mixes, kinds: Sequence[str], by: datetime
) -> tuple[int, bool] | None:
    """The tenths that were acted on and whether they held; None where nothing was done.

    shown: of one wish; mixes: on its part, when and of which kind; kinds: of the mixes that the
    wish takes; all in order.
    """
    since = [(at, kind) for at, kind in mixes if at >= shown[0].shown_at]
    if not since:
        return None
    acted_on = [promise for promise in shown if promise.shown_at <= since[0][0]][-1]
    in_time = [kind for at, kind in mixes if at <= by]
    behind = iter(in_time)
    return acted_on.tenths, all(kind in behind for kind in kinds)


def _shown(store: Store, now: datetime) -> Mapping[tuple[str, str, str, str], list[Promise]]:
    """The promises of each wish whose time is past: by part, job, end and time."""
    promises: dict[tuple[str, str, str, str], list[Promise]] = {}
    for entry in store.entries(PLAN, MINE):
        rows: Any = entry.body["promises"]
        for row in rows:
            if datetime.fromisoformat(row["by"]) <= now:
                wish = (row["name"], row["job"], row["end"], row["by"])
                promises.setdefault(wish, []).append(Promise(entry.at, row["tenths"]))
    return promises


def _kinds(store: Store, part: str, job: str, end: str) -> list[str]:
    """The kinds of the mixes that a wish takes, none where its way is not known any more."""
    way = way_of(store, part, job)
    try:
        return [] if way is None else [step.kind for step in way.until(end) if step.kind]
    except ConfigError:
        return []


def _outcomes(store: Store, now: datetime) -> Iterator[tuple[int, bool]]:
    worked: dict[tuple[str, str], list[tuple[datetime, str]]] = {}
    for step in steps(store, most=MOST_STEPS):
        if step.state != "abandoned":
            mixes = worked.setdefault(key_of(step.part, step.job), [])
            mixes.append((step.mixed_at, step.sheet.kind))
    for (part, job, end, by), shown in _shown(store, now).items():
        kinds = _kinds(store, part, job, end)
        mixes = sorted(worked.get(key_of(part, job), []))
        result = outcome(shown, mixes, kinds, datetime.fromisoformat(by)) if kinds else None
        if result is not None:
            yield result


def tallies(store: Store, now: datetime) -> tuple[PromiseTally, ...]:
    """How often what was promised and acted on came true, the surest first; only after ten."""
    by_tenths: dict[int, list[bool]] = {}
    for tenths, came_true in _outcomes(store, now):
        by_tenths.setdefault(tenths, []).append(came_true)
    return tuple(
        PromiseTally(tenths, len(outcomes), sum(outcomes))
        for tenths, outcomes in sorted(by_tenths.items(), reverse=True)
        if len(outcomes) >= LEAST_COUNTED
    )
