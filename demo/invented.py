"""What was mixed, bought and finished in the invented garage, as data."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from curewatch.bench.bench import Details
from curewatch.garage.cans import CanDetails

ZONE = "Europe/Vienna"


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
