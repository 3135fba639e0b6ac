"""A garage with wishes: when somebody is there, parts with their ways, readings of two days."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from importlib import resources
from pathlib import Path

from curewatch.bench.bench import Bench, Details
from curewatch.ways import entered
from curewatch.ways.entered import PartWish
from curewatch.week.kept import keep
from tests.support.logbooks import NOW, garage_air, opened
from tests.support.planned import PART, week

WEEK = "Mon-Fri 18:00-22:30, Sat-Sun 9-18"
WISHES = {
    "bonnet": ("prime-bare-metal", None),
    "wing": ("fill-a-dent", NOW + timedelta(days=5)),
}


def wish(bench: Bench, part: str, way: str, by: datetime | None, end: str = "primed") -> None:
    """Wish a part, by a generic way."""
    text = (resources.files("curewatch.ways") / "generic" / f"{way}.toml").read_text("utf-8")
    entered.set_way(bench.store, part, "car", way, text, now=NOW)
    entered.set_wish(bench.store, part, "car", PartWish(end, by), now=NOW)


def promised(bench: Bench, tenths: int, made: int, held: int) -> None:
    """Plans that promised so many tenths of parts on each of which something was mixed, `held` of
    them in time; all past by now."""
    by = NOW - timedelta(days=2)
    shown_at = NOW - timedelta(days=4)
    for number in range(made):
        part = f"part {number}"
        wish(bench, part, "prime-bare-metal", by)
        planned = replace(PART, part=part, by=by, chance=tenths / 10 + 0.01)
        keep(bench.store, replace(week(part=planned), now=shown_at))
        late = timedelta(days=0 if number < held else 3)
        mixed = shown_at + timedelta(days=1) + late - timedelta(hours=2)
        bench.start("epoxy-primer", now=mixed, details=Details(part=part, job="car"))
        entered.drop_wish(bench.store, part, "car", now=NOW)


def wished(
    folder: Path, wishes: Mapping[str, tuple[str, datetime | None]] = WISHES, week: str = WEEK
) -> Bench:
    """A logbook with two days of readings, hours and wishes."""
    bench = opened(folder)
    bench.store.add_readings(garage_air(2880, 30))
    entered.set_hours(bench.store, week, "20:00", now=NOW)
    for part, (way, by) in wishes.items():
        wish(bench, part, way, by)
    return bench
