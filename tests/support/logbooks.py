"""Logbooks made by hand: an evening with everything told, and what the tests ask of it."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

from PIL import Image

from curewatch.bench import marks
from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import Reading, make_reading
from curewatch.logbook import photographs
from curewatch.logbook.paper import FieldFormatter
from curewatch.logbook.undo import act_of_event, undo
from curewatch.quality.calibration import add_check
from curewatch.store.store import Store
from curewatch.wording.words import ReaderFormat

NOW = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")
PAPER = FieldFormatter(BERLIN, ReaderFormat(BERLIN))
ADHESIVE, PRIMER, FILLER = "epoxy-panel-adhesive", "epoxy-primer", "finishing-polyester-filler"
JOB = "rear corner"


def ago(minutes: float) -> datetime:
    """An instant some minutes before now. [min]"""
    return NOW - timedelta(minutes=minutes)


def garage_air(minutes: int, every: int = 5) -> list[Reading]:
    """Readings up to now: panel 14 C that swings by 1 C, air 15 C, 60 %. [min]"""
    readings = []
    for back in range(0, minutes, every):
        panel = 14.0 + (back % 120 - 60) / 60
        for place, quantity, value in (
            ("panel", "surface_temperature", panel),
            ("air", "air_temperature", 15.0),
            ("air", "relative_humidity", 60.0),
        ):
            readings.append(make_reading(place, quantity, value, ago(back), "probe"))
    return readings


def opened(folder: Path) -> Bench:
    """An empty logbook."""
    store = Store(folder / "curewatch.sqlite")
    return Bench(store)


def picture(width: int = 320, height: int = 200, kind: str = "JPEG", **how: object) -> io.BytesIO:
    """A small photograph: left red, right blue, so that turning it is seen."""
    image = Image.new("RGB", (width, height), "red")
    image.paste("blue", (width // 2, 0, width, height))
    out = io.BytesIO()
    image.save(out, kind, **how)
    out.seek(0)
    return out


def undone(bench: Bench, step: int, event: int, now: datetime, why: str = "") -> None:
    """Undo the act that recorded an event of a step."""
    undo(bench, act_of_event(bench.store, step, event), now=now, why=why)


def copied(folder: Path, made: Callable[[Path], Bench]) -> Bench:
    """The logbook that is made so; made once, since making it takes long."""
    for name, data in _files(made).items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return opened(folder)


@cache
def _files(made: Callable[[Path], Bench]) -> dict[str, bytes]:
    with tempfile.TemporaryDirectory() as text:
        made(Path(text)).store.close()
        paths = [path for path in Path(text).rglob("*") if path.is_file()]
        return {str(path.relative_to(text)): path.read_bytes() for path in paths}


def evening(folder: Path) -> Bench:
    """Three steps of one job with everything entered of the first; the last is still hardening."""
    return copied(folder, _evening)


def _evening(folder: Path) -> Bench:
    bench = opened(folder)
    bench.store.add_readings(garage_air(3000))
    add_check(
        bench.store, "probe", "surface_temperature", reference=14.0, read=14.2, now=ago(2000),
        who="me",
    )  # fmt: skip
    bonded = Details(
        part="lower patch", job=JOB, batch="A-14", hardener_batch="H-2", expiry="2027-03",
        amount_g=60.0, ratio="2:1 by volume", who="Ångström", grit="P24", cleaner="wax remover",
        cleaned_at=ago(610), induction_min=2.0, deviations="none",
    )  # fmt: skip
    bench.start(ADHESIVE, now=ago(590), mixed_at=ago(600), details=bonded, acknowledged=["gloves"])
    marks.mark(bench, 1, "clamps-on", now=ago(580))
    bench.witness(1, "tacky", now=ago(400))
    bench.test(1, "not-yet", now=ago(250), milestone="clamp_time")
    bench.test(1, "reached", now=ago(100), milestone="clamp_time")
    marks.mark(bench, 1, "clamps-off", now=ago(95))
    bench.amend(1, Details(batch="A-41"), now=ago(90), why="misread the can", by="a neighbour")
    bench.note(1, "clamps every 40 mm", now=ago(90))
    photographs.add(bench, 1, picture(), now=ago(85), words="before")
    bench.amend(1, Details(signed="me"), now=ago(82))
    bench.finish(1, now=ago(80))
    primed = Details(part="lower patch", job=JOB, amount_g=80.0)
    bench.start(PRIMER, now=ago(75), details=primed)
    marks.mark(bench, 2, "coat", now=ago(70), film_wet_um=120.0)
    marks.mark(bench, 2, "coat", now=ago(40), film_wet_um=130.0)
    bench.start(ADHESIVE, now=ago(30), details=Details(part="seam", job="roof"))
    return bench
