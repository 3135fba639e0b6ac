"""The invented logbook: a fortnight's readings, finished steps, and three steps hardening."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from curewatch.bench.bench import Bench, Details
from curewatch.bench.reminders import cautions
from curewatch.climate.reading import Reading
from curewatch.cure.kinetics import speed_arrhenius
from curewatch.garage import cans, parts
from curewatch.garage.shelf import find_sheet
from curewatch.products.chemistries import CHEMISTRIES, SILENT_MINIMUM_C
from curewatch.products.sheet import Sheet
from curewatch.quality.calibration import add_check
from curewatch.quality.intake import Intake
from curewatch.quality.salt_check import UNCERTAINTY_PCT, humidity_over_salt
from curewatch.store.store import Store
from demo.drawn import DRAWN, illustrate
from demo.invented import CANS, CORNER, DONE, HARDENING, PAST, ZONE, Mixed
from demo.weather import PANEL, hours_at, readings_at, topic

SHOWN = datetime(2026, 10, 17, 18, 42, 20, tzinfo=ZoneInfo(ZONE)).astimezone(UTC)
HISTORY, EVERY = timedelta(days=15), timedelta(minutes=10)
CHECKED_BEFORE = timedelta(days=6)
FINE, FINE_EVERY = timedelta(hours=6), timedelta(minutes=1)
Act = tuple[datetime, Callable[[], object]]
"""When something was entered, and the entering of it."""


def history(until: datetime) -> Iterator[Reading]:
    """A fortnight of the garage's readings up to an instant, the last hours minute by minute."""
    at = until - HISTORY
    while at <= until:
        yield from readings_at(at)
        at += EVERY if at < until - FINE else FINE_EVERY


def true_age_min(sheet: Sheet, start: datetime, after_min: float) -> float:
    """The invented truth: equivalent age after so many minutes on the panel. [min]"""
    reference, ea_kj = sheet.reference.temperature_c, CHEMISTRIES[sheet.chemistry].ea_kj
    least_c = sheet.limits.temperature_c[0] if sheet.limits.temperature_c else SILENT_MINIMUM_C
    first = hours_at(start)
    panel = (PANEL.at(first + minute / 60) for minute in range(round(after_min)))
    curing = (surface_c for surface_c in panel if surface_c >= least_c)
    return sum(float(speed_arrhenius(surface_c, reference, ea_kj)) for surface_c in curing)


def dab(sheet: Sheet, age_min: float, slow: float) -> str:
    """What a dab of that equivalent age [min] does, by the label's times and `slow` [-]."""
    times, age = sheet.reference.minutes, age_min / slow
    workable = times["working_time"]
    sands = times.get("sand_ready", times["full_cure"])
    holds = times.get("clamp_time", workable + 0.6 * (sands - workable))
    if age < workable:
        return "workable"
    if age < workable + 0.3 * (holds - workable):
        return "stringy"
    if age < holds:
        return "tacky"
    if age < sands:
        return "fingernail"
    return "hard" if age < 1.3 * sands else "sands"


def _started(bench: Bench, number: int, mixed: Mixed) -> Iterator[Act]:
    sheet = find_sheet(bench.store, mixed.sheet)
    keys = [caution.key for caution in cautions(sheet)]
    later = mixed.told_after_min
    at_once = Details() if later else mixed.details
    yield (
        mixed.at,
        partial(bench.start, mixed.sheet, now=mixed.at, details=at_once, acknowledged=keys),
    )
    if later:
        at = mixed.after(later)
        yield at, partial(bench.amend, number, mixed.details, now=at, why="gloves off")


def _observed(bench: Bench, number: int, mixed: Mixed) -> Iterator[Act]:
    sheet = find_sheet(bench.store, mixed.sheet)
    for after_min in mixed.looked:
        at = mixed.after(after_min)
        state = dab(sheet, true_age_min(sheet, mixed.at, after_min), mixed.slow)
        yield at, partial(bench.witness, number, state, now=at)
    for after_min, milestone, result in mixed.tests:
        at = mixed.after(after_min)
        yield at, partial(bench.test, number, result, now=at, milestone=milestone)


def _ended(bench: Bench, number: int, mixed: Mixed) -> Iterator[Act]:
    if mixed.finished_min is None:
        return
    end = mixed.after(mixed.finished_min)
    if mixed.note:
        at = end - timedelta(minutes=1)
        yield at, partial(bench.note, number, mixed.note, now=at)
    if mixed.details.part in DRAWN:
        at = end - timedelta(minutes=6)
        yield at, partial(illustrate, bench, number, mixed.details.part, at)
    if mixed.abandoned:
        yield end, partial(bench.abandon, number, mixed.abandoned, now=end)
    else:
        yield end, partial(bench.finish, number, now=end)


def _shelved(store: Store, shown: datetime) -> Iterator[Act]:
    """Cans bought for the job, one of them used up."""
    at = shown - timedelta(days=4)
    for sheet, details in CANS:
        yield at, partial(cans.add, store, sheet, details, now=at)
    yield at, partial(cans.used_up, store, len(CANS), now=at)


def _left_bare(store: Store, shown: datetime) -> Iterator[Act]:
    """One part cleaned to metal this evening, one that is none of ours, some done with."""
    since = shown - timedelta(minutes=74)
    for name in DONE:
        yield since, partial(parts.done, store, name, CORNER, now=since)
    yield since, partial(parts.mark, store, "coupling bracket", CORNER, "structural", now=since)
    bared = partial(parts.bared, store, "rear edge of the arch", CORNER, since=since)
    cleaned = {"grit": "80", "cleaned_with": "panel wipe, two cloths"}
    yield shown, partial(bared, now=shown, **cleaned)


def seed(store: Store, shown: datetime = SHOWN) -> None:
    """Fill an empty store with the invented past up to `shown`, each act when it was entered."""
    hygrometer = topic("air", "relative_humidity")
    add_check(
        store,
        hygrometer,
        "relative_humidity",
        reference=humidity_over_salt(19.0),
        read=75.1,
        now=shown - CHECKED_BEFORE,
        uncertainty=UNCERTAINTY_PCT,
        how="salt",
    )
    Intake(store).take(list(history(shown)))
    bench = Bench(store)
    acts = [*_shelved(store, shown), *_left_bare(store, shown)]
    for number, mixed in enumerate((*PAST, *HARDENING), 1):
        for acts_of in (_started, _observed, _ended):
            acts += acts_of(bench, number, mixed)
    for _, enter in sorted(acts, key=lambda act: act[0]):
        enter()
