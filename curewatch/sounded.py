"""What a device really sounded, kept with the step it was about: once for each alarm."""

from __future__ import annotations

from datetime import datetime

from curewatch.bench import Bench

MOST_HEARD = 60


def heard(bench: Bench, number: int, key: str, kind: str, words: str, *, now: datetime) -> bool:
    """Record that an alarm sounded, with its words; False where it is known, or too many are."""
    known = bench.step(number).of("sounded")
    if len(known) >= MOST_HEARD or any(each.body["key"] == key for each in known):
        return False
    body = {"key": key, "kind": kind, "words": words}
    bench.store.add_event(number, "sounded", now, now, body)
    return True
