"""The whole logbook as JSON, for another curewatch: steps with all their events, the ledger, own
sheets, photographs, and the readings from which the same conditions and milestones come out.

Of the readings travel, for each step: every one from four whole hours before the mix to its end,
which its conditions and times are worked out from, to the last digit so that means round alike; and
of the eight days before its end the mean of each hour to nine digits, which its outlook was worked
out from. Flagged readings stay behind.
"""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import groupby, pairwise
from typing import Any

from curewatch.bench.bench import Bench
from curewatch.climate.reading import Reading
from curewatch.events.events import UNDO
from curewatch.events.fields import RECORD
from curewatch.exchange import bench_json
from curewatch.exchange.event_json import as_json, as_text
from curewatch.garage import damaged
from curewatch.garage.damaged import Damaged
from curewatch.garage.place_air import HISTORY
from curewatch.garage.step import UNDONE, Step, folded
from curewatch.logbook import photographs
from curewatch.logbook.logbook import StepRecord, worked_out
from curewatch.store.search import StepQuery
from curewatch.store.store import Event
from curewatch.walltime import to_ms

FORMAT, DIGITS = 2, 9
BEFORE = timedelta(hours=4)
HOUR = timedelta(hours=1)
_OF_ONE_JOB = ("sensor", "reading", "can", "part")
Span = tuple[datetime, datetime]


def _damaged(damage: Damaged) -> dict[str, Any]:
    """A damaged row as it was found; its body as JSON in ASCII, whatever it holds."""
    row = damage.row
    body = json.dumps(dict(row.body))
    recorded_at = as_text(row.recorded_at)
    return {
        "told": recorded_at,
        "of": damage.of,
        "kind": row.kind,
        "what": damage.what,
        "body": body,
    }


def _value(value: Any) -> Any:
    return as_text(value) if isinstance(value, datetime) else value


def step(entry: StepRecord, events: Sequence[Event]) -> dict[str, Any]:
    """A step as a script reads it, with its conditions and, to be taken in again, its events."""
    record = {field.name: _value(entry.step.value(field)) for field in RECORD}
    return {
        **bench_json.step(entry.view),
        "record": record,
        "conditions": [bench_json.stretch(stretch) for stretch in entry.stretches],
        "moments": [bench_json.moment(moment) for moment in entry.moments],
        "sensors": [bench_json.measured_by(sensor) for sensor in entry.sensors],
        "events": [as_json(event) for event in events if not event.damaged],
    }


def _hour(at: datetime) -> datetime:
    return at.replace(minute=0, second=0, microsecond=0)


def _joined(spans: Iterable[Span]) -> list[Span]:
    joined: list[Span] = []
    for start, end in sorted(spans):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined


def _without(spans: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    """What of the spans lies in none of the others; both joined and in order."""
    left: list[Span] = []
    for start, end in spans:
        for first, last in others:
            if last <= start or first >= end:
                continue
            if first > start:
                left.append((start, first))
            start = max(start, last)
        if start < end:
            left.append((start, end))
    return left


def spans(steps: Sequence[Step], now: datetime) -> tuple[list[Span], list[Span]]:
    """Where every reading travels, and where the means of the hours do."""
    fine, coarse = [], []
    for step in steps:
        end = step.closed_at or now
        start = _hour(min(step.mixed_at, end) - BEFORE)
        fine.append((start, _hour(max(step.mixed_at, end)) + HOUR))
        coarse.append((min(start, _hour(end) - HISTORY), start))
    minutes = _joined(fine)
    return minutes, _without(_joined(coarse), minutes)


def _series(readings: Sequence[Reading], every: str) -> Iterator[dict[str, Any]]:
    def of(reading: Reading) -> tuple[str, str, str]:
        return reading.source, reading.place, reading.quantity

    for key, group in groupby(
        sorted(readings, key=lambda reading: (*of(reading), reading.at)), key=of
    ):
        sent = list(group)
        first = to_ms(sent[0].at)
        times = [first, *(to_ms(reading.at) for reading in sent)]
        yield {
            "source": key[0],
            "place": key[1],
            "quantity": key[2],
            "every": every,
            "from": as_text(sent[0].at),
            "ms_later": [after - before for before, after in pairwise(times)],
            "values": [
                reading.value if every == "reading" else round(reading.value, DIGITS)
                for reading in sent
            ],
        }


def _readings(bench: Bench, steps: Sequence[Step], now: datetime) -> Iterator[dict[str, Any]]:
    fine, coarse = spans(steps, now)
    last = timedelta(milliseconds=1)
    for start, end in fine:
        yield from _series(bench.store.readings(start, end - last), "reading")
    for start, end in coarse:
        yield from _series(bench.store.readings(start, end - last, bucket_s=3600), "hour")


def _ledger(bench: Bench, job: str | None) -> list[dict[str, Any]]:
    entries = [entry for entry in bench.store.all_entries() if not entry.damaged]
    if job is not None:
        entries = [
            entry
            for entry in entries
            if entry.subject in _OF_ONE_JOB and entry.body.get("job", job) == job
        ]
    sent = {entry.id for entry in entries}
    return [
        as_json(entry) for entry in entries if entry.kind != UNDO or entry.body["event"] in sent
    ]


def _pictures(
    bench: Bench, steps: Sequence[Step], labels: Sequence[str]
) -> Iterator[dict[str, str]]:
    names = [str(photo.body["name"]) for step in steps for photo in photographs.shown(step)]
    for name in dict.fromkeys([*names, *labels]):
        data = photographs.read(bench.store.path, name)
        if data is not None:
            yield {"name": name, "jpeg": b64encode(data).decode("ascii")}


def _text(data: Any) -> str:
    return json.dumps(data, ensure_ascii=False, allow_nan=False)


def _listed(name: str, items: Iterable[Any]) -> Iterator[str]:
    yield f',\n"{name}": ['
    for number, item in enumerate(items):
        yield f"{',' if number else ''}\n{_text(item)}"
    yield "]"


def _steps(
    bench: Bench, steps: Sequence[Step], now: datetime, broken: list[Damaged]
) -> Iterator[dict[str, Any]]:
    """The steps; of those that cannot be worked out every event is added to what is broken."""
    failed: list[Damaged] = []
    for entry in worked_out(bench, steps, now, failed):
        yield step(entry, bench.store.events([entry.step.id])[entry.step.id])
    for lost in failed:
        events = bench.store.events([lost.step])[lost.step] if lost.step else []
        broken += [Damaged(event, lost.what, event is events[0]) for event in events]


def pieces(bench: Bench, query: StepQuery, now: datetime, most: int | None = None) -> Iterator[str]:
    """The logbook, or the last `most` steps sought of it, as JSON text piece by piece."""
    whole = query == StepQuery() and most is None
    numbers = bench.store.find(query, most=most)
    if whole:
        numbers = sorted([*numbers, *bench.store.find(StepQuery(state=UNDONE))], reverse=True)
    broken = damaged.of_steps(bench.store, numbers)
    broken += damaged.of_entries(bench.store.all_entries()) if whole else []
    steps = folded(bench.store.events(numbers).values())
    sheets = bench.store.sheets() if whole else {}
    yield f'{{"curewatch": {FORMAT}, "made": {_text(as_text(now))}'
    yield from _listed("steps", _steps(bench, steps, now, broken))
    yield from _listed("ledger", _ledger(bench, None if whole else query.job or ""))
    yield from _listed("sheets", ({"sheet": id, "text": text} for id, text in sheets.items()))
    yield from _listed("readings", _readings(bench, steps, now))
    labels = photographs.labels(bench.store) if whole else []
    yield from _listed("photographs", _pictures(bench, steps, labels))
    yield from _listed("damaged", map(_damaged, broken))
    yield "}\n"
