"""The invented logbook: a fortnight's readings, finished steps, and three steps hardening."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from curewatch.bench.bench import Bench, Details
from curewatch.bench.reminders import cautions
from curewatch.climate.reading import Reading
from curewatch.cure.kinetics import speed_arrhenius
from curewatch.garage import cans, parts
from curewatch.garage.cans import CanDetails
from curewatch.garage.shelf import find_sheet
from curewatch.products.chemistries import CHEMISTRIES, SILENT_MINIMUM_C
from curewatch.products.sheet import Sheet
from curewatch.quality.calibration import add_check
from curewatch.quality.intake import Intake
from curewatch.quality.salt_check import UNCERTAINTY_PCT, humidity_over_salt
from curewatch.store.store import Store
from demo.drawn import illustrate
from demo.weather import PANEL, hours_at, readings_at, topic

ZONE = "Europe/Vienna"
SHOWN = datetime(2026, 10, 17, 18, 42, 20, tzinfo=ZoneInfo(ZONE)).astimezone(UTC)
HISTORY, EVERY = timedelta(days=15), timedelta(minutes=10)
CHECKED_BEFORE = timedelta(days=6)
FINE, FINE_EVERY = timedelta(hours=6), timedelta(minutes=1)


@dataclass(frozen=True)
class Mixed:
    """A step of the invented logbook.

    day, time: when it was mixed, by the garage's clock in October 2026. slow: this batch's true
    slowness [-]. looked: when the owner looked at the dab, after_min [min]. tests: after_min
    [min], milestone, result. told_after_min: when the rest was told, gloves off [min].
    finished_min: when it was taken off the bench [min]; None: still hardening.
    """

    sheet: str
    day: int
    time: str
    details: Details
    slow: float = 1.0
    looked: tuple[float, ...] = ()
    tests: tuple[tuple[float, str, str], ...] = ()
    told_after_min: float = 0.0
    finished_min: float | None = None
    abandoned: str = ""
    note: str = ""

    @property
    def at(self) -> datetime:
        """When it was mixed."""
        hour, minute, second = (int(part) for part in self.time.split(":"))
        return datetime(2026, 10, self.day, hour, minute, second, tzinfo=ZoneInfo(ZONE))

    def after(self, after_min: float) -> datetime:
        """The instant that many minutes after mixing [min]."""
        return self.at.astimezone(UTC) + timedelta(minutes=after_min)


CORNER, ROOF = "lower rear corner", "roof"
PAST = (
    Mixed(
        "epoxy-panel-adhesive",
        3,
        "10:38:12",
        Details(part="inner frame", job=CORNER, amount_g=52.0, batch="A-14"),
        1.2,
        (88.0, 116.0, 131.0),
        ((431.0, "clamp_time", "not-yet"), (506.0, "clamp_time", "reached")),
        finished_min=1522.0,
        note="squeeze-out on the back face, left for sanding",
    ),
    Mixed(
        "quick-methacrylate-adhesive",
        4,
        "15:06:40",
        Details(part="bracket behind the lamp", job=CORNER, amount_g=18.0),
        abandoned="set in the nozzle before the bracket was on; cut off and cleaned up",
        finished_min=14.0,
    ),
    Mixed(
        "solvent-primer-1k",
        6,
        "19:21:05",
        Details(part="inner frame, bare spots", job=CORNER),
        tests=((96.0, "recoat_opens", "reached"),),
        finished_min=131.0,
    ),
    Mixed(
        "epoxy-panel-adhesive",
        9,
        "18:09:33",
        Details(part="backing strip", job=CORNER, amount_g=46.0, batch="A-14"),
        1.18,
        (58.0, 84.0, 97.0, 262.0),
        ((905.0, "clamp_time", "reached"),),
        told_after_min=22.0,
        finished_min=1071.0,
    ),
    Mixed(
        "fibre-polyester-filler",
        10,
        "15:24:18",
        Details(part="left rear rib, first coat", job=CORNER, amount_g=38.0, hardener_pct=2.0),
        0.95,
        (5.0, 31.0),
        ((66.0, "sand_ready", "reached"),),
        finished_min=118.0,
    ),
    Mixed(
        "seam-sealer",
        10,
        "16:31:50",
        Details(part="front half of the seam", job=ROOF, film_um=3000.0),
        tests=((173.0, "recoat_opens", "reached"),),
        finished_min=1390.0,
    ),
    Mixed(
        "epoxy-panel-adhesive",
        14,
        "19:12:27",
        Details(part="wheel arch strip", job=CORNER, amount_g=33.0, batch="B-02"),
        1.17,
        (52.0, 86.0, 95.0),
        ((745.0, "clamp_time", "reached"),),
        told_after_min=11.0,
        finished_min=1330.0,
    ),
    Mixed(
        "fibre-polyester-filler",
        15,
        "18:47:09",
        Details(part="left rear rib, second coat", job=CORNER, amount_g=29.0, hardener_pct=2.0),
        1.02,
        (7.0, 34.0),
        ((39.0, "sand_ready", "not-yet"), (61.0, "sand_ready", "reached")),
        finished_min=94.0,
        note="clogged the paper at first; the rib sits in the draught of the door",
    ),
)
HARDENING = (
    Mixed(
        "epoxy-primer",
        17,
        "16:14:30",
        Details(part="roof seam", job=ROOF, amount_g=85.0, film_um=50.0),
        looked=(94.0,),
        tests=((58.0, "working_time", "gone-off"),),
        told_after_min=26.0,
    ),
    Mixed(
        "epoxy-panel-adhesive",
        17,
        "17:50:05",
        Details(part="lower corner patch", job=CORNER, amount_g=60.0, batch="B-02"),
        1.1,
        looked=(24.0,),
        told_after_min=17.0,
    ),
    Mixed(
        "fibre-polyester-filler",
        17,
        "18:20:48",
        Details(part="left rear rib", job=CORNER, amount_g=35.0, hardener_pct=2.0),
        looked=(12.0,),
        tests=((13.0, "working_time", "gone-off"),),
    ),
)


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


def _start(bench: Bench, mixed: Mixed) -> int:
    sheet = find_sheet(bench.store, mixed.sheet)
    keys = [each.key for each in cautions(sheet)]
    told = mixed.told_after_min
    at_once = Details() if told else mixed.details
    number = bench.start(mixed.sheet, now=mixed.at, details=at_once, acknowledged=keys)
    if told:
        bench.amend(number, mixed.details, now=mixed.after(told), why="gloves off")
    return number


def _looks(bench: Bench, number: int, mixed: Mixed) -> None:
    sheet = find_sheet(bench.store, mixed.sheet)
    for after_min in mixed.looked:
        state = dab(sheet, true_age_min(sheet, mixed.at, after_min), mixed.slow)
        bench.witness(number, state, now=mixed.after(after_min))


def record(bench: Bench, mixed: Mixed) -> int:
    """Enter a step with all that was seen of it; returns its number."""
    number = _start(bench, mixed)
    _looks(bench, number, mixed)
    for after_min, milestone, result in mixed.tests:
        bench.test(number, result, now=mixed.after(after_min), milestone=milestone)
    if mixed.note:
        bench.note(number, mixed.note, now=mixed.after((mixed.finished_min or 2.0) - 1))
    if mixed.finished_min is not None:
        end = mixed.after(mixed.finished_min)
        if mixed.abandoned:
            bench.abandon(number, mixed.abandoned, now=end)
        else:
            bench.finish(number, now=end)
    return number


DONE = ("inner frame", "backing strip", "left rear rib, first coat", "left rear rib, second coat")
CANS = (
    (
        "epoxy-panel-adhesive",
        CanDetails("B-02", bought=date(2026, 9, 28), opened=date(2026, 10, 14)),
    ),
    (
        "epoxy-primer",
        CanDetails("P-7", "H-2", date(2026, 4, 18), date(2026, 9, 12), date(2026, 10, 31), "air"),
    ),
    (
        "fibre-polyester-filler",
        CanDetails("F-3", opened=date(2026, 10, 10), stored="kitchen cupboard"),
    ),
    ("epoxy-panel-adhesive", CanDetails("A-14", bought=date(2026, 6, 2), opened=date(2026, 9, 5))),
)


def shelve(store: Store, shown: datetime) -> None:
    """Cans bought for the job, one of them used up."""
    at = shown - timedelta(days=4)
    for sheet, told in CANS:
        can = cans.add(store, sheet, told, now=at)
    cans.used_up(store, can.id, now=at)


def leave_bare(store: Store, shown: datetime) -> None:
    """One part cleaned to metal this evening, one that is none of ours, some done with."""
    since = shown - timedelta(minutes=74)
    cleaned = {"grit": "80", "cleaned_with": "panel wipe, two cloths"}
    parts.bared(store, "rear edge of the arch", CORNER, now=shown, since=since, **cleaned)
    parts.mark(store, "coupling bracket", CORNER, "structural", now=since)
    for name in DONE:
        parts.done(store, name, CORNER, now=since)


def seed(store: Store, shown: datetime = SHOWN) -> None:
    """Fill an empty store with the invented past up to `shown`."""
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
    for mixed in (*PAST, *HARDENING):
        record(bench, mixed)
    illustrate(bench)
    shelve(store, shown)
    leave_bare(store, shown)
