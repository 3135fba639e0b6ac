"""Whether to ask now if any metal is bare, and which parts are known to be."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from curewatch import cans, evening, keeping, parts
from curewatch.bench import Bench
from curewatch.keeping import Keeping
from curewatch.parts import Part


@dataclass(frozen=True)
class Question:
    """Whether it is asked now; which parts are bare; until when this evening's work may go on."""

    asks: bool
    bare: tuple[Part, ...]
    stop: datetime | None


def _done(bench: Bench) -> list[datetime]:
    """When anything was told of parts and cans, or a step was mixed."""
    told = [
        each.told for about in (parts.SUBJECT, cans.SUBJECT) for each in bench.store.entries(about)
    ]
    return told + [row.mixed_at for row in bench.store.steps()[-20:]]


def indoors(bench: Bench, now: datetime, zone: ZoneInfo) -> list[Keeping]:
    """In the evening, the cans to bring indoors tonight."""
    if not evening.is_evening(now, zone):
        return []
    return [each for each in keeping.all_kept(bench.desk, now, zone) if each.tonight is not None]


def question(bench: Bench, now: datetime, zone: ZoneInfo) -> Question:
    """The evening's question as of now."""
    stop = evening.stop_of(bench.store, now, zone)
    held = tuple(parts.bare(parts.parts(bench.desk, now)))
    found = evening.worked(bench.view(now).steps, _done(bench), now, zone)
    due = evening.asks_now(found, now, zone, stop)
    return Question(due and not evening.answered(bench.store, now, zone), held, stop)


def answer(bench: Bench, said: str, *, now: datetime, zone: ZoneInfo, who: str = "") -> None:
    """Record the answer; where none is bare, the clocks that still ran are stopped."""
    evening.answer_bare(bench.store, said, now=now, zone=zone, who=who)
    if said != "none":
        return
    for each in parts.bare(parts.parts(bench.desk, now)):
        parts.covered(bench.store, each.name, each.job, now=now, who=who)
