"""A logbook with something of everything, as an earlier version wrote it, and what it answered.

`python -m tests.support.earlier_logbook` writes both anew into tests/data, `... answers` the
answers alone,
from the file that lies there. The file was written by version 0.1.0 in November 2026 and stays as
it is: the present version has to open it and answer the same. The answers are written anew where
a change of the model moves a time on purpose.
"""

from __future__ import annotations

import gzip
import io
import json
import re
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from math import sin
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from PIL import Image

from curewatch.bench import marks
from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import HeatSpell, Reading, make_reading
from curewatch.exchange import bench_json, export_json
from curewatch.formats import ReaderFormat
from curewatch.garage import cans, parts, storage
from curewatch.gate import rehearsal
from curewatch.logbook import photographs
from curewatch.logbook.logbook import logbook
from curewatch.logbook.undo import act_of_event, last_one, undo
from curewatch.protection import airing, cartridges
from curewatch.protection.ventilation import Room
from curewatch.quality import typed
from curewatch.quality.calibration import add_check
from curewatch.quality.intake import Intake
from curewatch.store.store import Store

DATA = Path(__file__).parents[1] / "data"
FILE, ANSWERS = DATA / "earlier_logbook.sqlite.gz", DATA / "earlier_logbook.json.gz"
NOW = datetime(2026, 11, 14, 20, 0, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")
INSTANTS = (NOW, NOW + timedelta(hours=2), NOW + timedelta(days=2))
JOB, SOURCES = "rear corner", ("probe", "room sensor", "typed")
SENTENCE = "..."
CODE = re.compile(r"[\w.:+/-]*")


def ago(minutes: float) -> datetime:
    """An instant some minutes before the end. [min]"""
    return NOW - timedelta(minutes=minutes)


def heard() -> Iterator[list[Reading]]:
    """Two days of a probe on the panel and a sensor of the air: a spike, a stuck humidity."""
    for back in range(2880, -1, -15):
        panel = 38.0 if back == 1005 else 13.0 + 2.5 * sin(back / 230)
        humid = 61.0 if 300 <= back <= 1200 else 58.0 + 4 * sin(back / 310)
        yield [
            make_reading("panel", "surface_temperature", panel, ago(back), "probe"),
            make_reading("air", "air_temperature", panel + 0.8, ago(back), "room sensor"),
            make_reading("air", "relative_humidity", humid, ago(back), "room sensor"),
        ]


def _air(store: Store) -> None:
    intake = Intake(store)
    for readings in heard():
        intake.take(readings)
    add_check(
        store, "probe", "surface_temperature", reference=14.0, read=14.3, now=ago(2), who="me"
    )
    for back, value in ((700.0, 14.4), (650.0, 41.0), (640.0, 14.1)):
        reading = make_reading("hood", "surface_temperature", value, ago(back), "typed")
        typed.enter(store, intake, [reading], ago(back), both_right=True)
    typed.take_back(store, [typed.at_instant(store, "hood", "surface_temperature", ago(650))], NOW)
    store.refuse(ago(500), "mqtt curewatch/panel/surface_temperature", "'abc' is no number.")


def _shelf(store: Store) -> None:
    details = cans.CanDetails(
        batch="A-14", hardener_batch="H-2", bought=date(2026, 3, 2), stored="panel"
    )
    cans.add(store, "epoxy-panel-adhesive", details, now=ago(2800), who="me")
    cans.opened(store, 1, date(2026, 10, 1), now=ago(2790))
    cans.add(store, "finishing-polyester-filler", cans.CanDetails(), now=ago(2780))
    cans.used_up(store, 2, now=ago(60))
    cartridges.open_new(store, "mask", cartridges.KINDS[0], now=ago(2600))
    cartridges.worn(store, "mask", 1.5, now=ago(900))
    airing.record_room(store, Room(volume_m3=48.0, flow_m3_h=300.0), now=ago(2500))
    rehearsal.begin(store, "epoxy-panel-adhesive", now=ago(1600), part="lower patch")
    rehearsal.stop(store, "epoxy-panel-adhesive", now=ago(1588))
    parts.bared(store, "lower patch", JOB, now=ago(2000), grit="P80", cleaned_with="wax remover")
    parts.mark(store, "frame rail", JOB, "structural", now=ago(1990))


def _picture() -> io.BytesIO:
    image, out = Image.new("RGB", (64, 48), "red"), io.BytesIO()
    image.save(out, "JPEG")
    out.seek(0)
    return out


def _bonded(bench: Bench) -> None:
    details = Details(
        part="lower patch", job=JOB, batch="A-14", hardener_batch="H-2", expiry="2027-03",
        amount_g=60.0, ratio="2:1 by volume", who="Ångström", grit="P80", cleaner="wax remover",
        cleaned_at=ago(1570), induction_min=2.0,
    )  # fmt: skip
    bench.start("epoxy-panel-adhesive", now=ago(1540), mixed_at=ago(1550), details=details)
    marks.mark(bench, 1, "clamps-on", now=ago(1530))
    bench.witness(1, "tacky", now=ago(1300))
    bench.test(1, "not-yet", now=ago(1100), milestone="clamp_time")
    bench.test(1, "reached", now=ago(800), milestone="clamp_time")
    marks.mark(bench, 1, "clamps-off", now=ago(795))
    bench.amend(1, Details(batch="A-41", amount_g=75.0), now=ago(790), why="misread", by="me")
    bench.note(1, "clamps every 40 mm", now=ago(785))
    photographs.add(bench, 1, _picture(), now=ago(780), words="before sanding")
    undo(bench, act_of_event(bench.store, 1, bench.store.events([1])[1][-1].id), now=ago(779))
    photographs.add(bench, 1, _picture(), now=ago(778), words="after sanding")
    bench.finish(1, now=ago(770))


def _others(bench: Bench) -> None:
    filled = Details(part="lower patch", job=JOB, amount_g=80.0, hardener_pct=2.0)
    bench.start("finishing-polyester-filler", now=ago(760), details=filled)
    bench.abandon(2, "too little hardener", now=ago(740))
    bench.start("finishing-polyester-filler", now=ago(730), details=filled)
    bench.acknowledge(3, bench.step_view(3, ago(729)).reminders[0].key, now=ago(729))
    bench.test(3, "gone-off", now=ago(700), milestone="working_time")
    bench.start("solvent-primer-1k", now=ago(240), details=Details(part="lower patch", job=JOB))
    marks.mark(bench, 4, "coat", now=ago(235), film_wet_um=120.0)
    marks.mark(bench, 4, "coat", now=ago(180), film_wet_um=130.0)
    warm = HeatSpell(ago(170), ago(110), 32.0)
    marks.heat(bench, 4, warm, now=ago(100), say=ReaderFormat(BERLIN), why="the lamp was left on")
    bench.start("epoxy-panel-adhesive", now=ago(90), details=Details(part="frame rail", job=JOB))
    bench.start("seam-sealer", now=ago(45), details=Details(part="seam", job="roof"))
    bench.fan(6, True, now=ago(44))
    bench.note(6, "said by mistake", now=ago(20))
    undo(bench, last_one(bench.store), now=ago(19), why="wrong step")
    bench.start("waterborne-primer", now=ago(10), details=Details(part="door skin", job="roof"))


def codes(value: Any) -> Any:
    """Plain data without its sentences: the numbers, codes and instants that are to stay."""
    if isinstance(value, dict):
        return {key: codes(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [codes(inner) for inner in value if codes(inner) != SENTENCE]
    return value if not isinstance(value, str) or CODE.fullmatch(value) else SENTENCE


def _as_told(bench: Bench) -> list[Any]:
    """What was entered of each step, every word of it."""
    numbers = [row.id for row in bench.store.steps()]
    events = bench.store.events(numbers)
    return [[event.kind, event.body] for number in numbers for event in events[number]]


def _at(bench: Bench, now: datetime) -> dict[str, Any]:
    cans_kept = storage.stored_cans(bench.reader, now, BERLIN)
    bare = parts.parts(bench.reader, now)
    return {
        "bench": bench_json.bench(bench.view(now)),
        "log": [export_json.step(step_record, ()) for step_record in logbook(bench, now)],
        "cans": [[can.can.id, can.days, can.in_use] for can in cans_kept],
        "parts": [[part.name, part.job, part.done, part.bare_hours] for part in bare],
    }


def answers(file: Path) -> dict[str, Any]:
    """What the bench, the log and the shelf of a logbook's file say at each of the instants."""
    with closing(Store(file)) as store:
        bench = Bench(store)
        data = {now.isoformat(): codes(_at(bench, now)) for now in INSTANTS}
        readings = [e for of in SOURCES for e in store.of_source(of, ago(3000), NOW)]
        flags = [[e.source, e.quantity, e.at.isoformat(), e.flag.code] for e in readings if e.flag]
        told = _as_told(bench)
        ledger = [[e.subject, e.kind] for e in store.entries("part")]
        whole: dict[str, Any] = json.loads(
            json.dumps({"at": data, "flags": flags, "told": told, "ledger": ledger}, default=str)
        )
        return whole


def write(folder: Path) -> Path:
    """The logbook, written into a folder by the present version."""
    file = folder / "curewatch.sqlite"
    with closing(Store(file)) as store:
        bench = Bench(store)
        _air(store)
        _shelf(store)
        _bonded(bench)
        _others(bench)
    with closing(sqlite3.connect(file)) as db:
        db.execute("PRAGMA journal_mode = DELETE")
        db.execute("VACUUM")
    return file


def unpacked(folder: Path) -> Path:
    """The earlier version's file, to be opened in a folder."""
    file = folder / "curewatch.sqlite"
    file.write_bytes(gzip.decompress(FILE.read_bytes()))
    return file


def main(words: list[str]) -> None:
    """Write file and answers, or the answers alone."""
    with tempfile.TemporaryDirectory() as folder:
        if "answers" not in words:
            file = write(Path(folder))
            FILE.write_bytes(gzip.compress(file.read_bytes(), mtime=0))
            file.unlink()
        text = json.dumps(answers(unpacked(Path(folder))), indent=1, ensure_ascii=False)
    ANSWERS.write_bytes(gzip.compress(text.encode(), mtime=0))


if __name__ == "__main__":
    main(sys.argv[1:])
