"""A rich logbook, every single-value change of its JSON, and what is asked of it afterwards."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from datetime import timedelta
from pathlib import Path
from typing import Any

from flask import Flask

from curewatch.bench import marks
from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import HeatSpell, make_reading
from curewatch.errors import CurewatchError
from curewatch.exchange import export_json, import_json
from curewatch.exchange.presses import Presses
from curewatch.garage import cans, evening, parts, unnamed_mix
from curewatch.garage.shelf import remove_sheet
from curewatch.gate import gather, rehearsal, starting
from curewatch.logbook import photographs, undo
from curewatch.protection import airing, cartridges
from curewatch.protection.ventilation import Room
from curewatch.quality import calibration, typed
from curewatch.quality.intake import Intake
from curewatch.settings.settings import Settings
from curewatch.store.search import StepQuery
from curewatch.store.store import Store
from curewatch.warmth import owned
from curewatch.ways import entered
from curewatch.ways.entered import PartWish
from curewatch.ways.way import generic_text
from curewatch.week.kept import keep
from curewatch.week.taken import let_go, take_over
from curewatch.wording.words import ReaderFormat
from dashboard.app import make_app
from tests.support import logbooks
from tests.support.logbooks import ADHESIVE, BERLIN, FILLER, JOB, NOW, PRIMER, ago, picture
from tests.support.planned import week_shown

HUGE = 10**400
VALUES: dict[str, Any] = {
    "true": True,
    "-1": -1,
    "0": 0,
    "a list": [],
    "an object": {},
    "null": None,
    "no text": "",
    "half a character": "\ud800",
    "10^400": HUGE,
    "1e400": float("inf"),
    "NaN": float("nan"),
    "a long text": "x" * 200_000,
    "a control character": "\x00\x1b[2J",
    "year 1": "0001-01-01T00:00:00+00:00",
}
COMMANDS = (
    "bench", "bench --json", "log", "log --json", "log --format csv", "step show 1",
    "step show 1 --history", "log --find patch", "part list", "can list", "mask list",
    "sensor list", "product list", "undo --list", "undo --damaged", "morning", "reading list",
    "data export",
)  # fmt: skip


def rich(folder: Path) -> Bench:
    """An evening in which one thing of every kind was recorded, a step open, closed and undone."""
    return logbooks.copied(folder, _rich)


def _rich(folder: Path) -> Bench:
    bench = logbooks.evening(folder)
    store = bench.store
    _things(bench)
    cans.add(store, PRIMER, cans.CanDetails(batch="P-1", stored="air"), now=ago(60))
    cans.opened(store, 1, ago(59).date(), now=ago(59))
    cans.amend(store, 1, cans.CanDetails(hardener_batch="H"), now=ago(58), why="misread")
    cans.used_up(store, 1, now=ago(57))
    store.save_sheet("mine", bench.step(1).sheet.text, ago(57))
    store.save_sheet("gone", bench.step(1).sheet.text, ago(57))
    remove_sheet(store, "gone", ago(56))
    filled = bench.start(FILLER, now=ago(20), details=Details(part="skin", job=JOB))
    starting.record_override(bench, filled, ["too cold"], "a trial", now=ago(19))
    spell = HeatSpell(ago(10), ago(5), 20.0)
    marks.heat(bench, 3, spell, now=ago(4), say=ReaderFormat(BERLIN), why="it was so")
    bench.witness(3, "stringy", now=ago(5))
    marks.turned(bench, 3, 5.0, now=ago(4))
    bench.acknowledge(3, "gloves", now=ago(4))
    bench.in_use(3, now=ago(4))
    bench.fan(3, on=True, now=ago(4))
    bench.emptied(3, now=ago(3))
    marks.record_alarm(bench, 3, "due.3", "due", "patch: test now", now=ago(3))
    store.add_event(3, "silenced", ago(2), ago(2), {"by": "me"})
    touch = unnamed_mix.touch(store, ago(2))
    unnamed_mix.name(store, touch, filled, ago(1))
    bench.abandon(filled, "sagged", now=ago(1))
    undo.undo(bench, undo.last_one(store), now=NOW)
    return bench


def _things(bench: Bench) -> None:
    store = bench.store
    parts.mark(store, "lower patch", JOB, "body", now=ago(70), who="me")
    parts.bared(store, "rib", JOB, now=ago(69), grit="P80", cleaned_with="wipe", place="air")
    parts.still_bare(store, "rib", JOB, now=ago(68))
    airing.record_room(store, Room(60.0, 300.0), now=ago(67))
    gather.set_bare_limit(bench, 240, now=ago(67))
    cartridges.open_new(store, "mask", "vapour", now=ago(66), maker_h=8)
    cartridges.worn(store, "mask", 1.5, now=ago(65))
    owned.own(store, "work lamp", 500.0, "panel", now=ago(64))
    owned.probed(store, "work lamp", 14.0, now=ago(64))
    owned.ran(store, "work lamp", ago(64), ago(63), now=ago(62))
    owned.set_energy_price(store, 0.32, now=ago(62))
    entered.set_hours(store, "Mon-Fri 18:00-22:30, Sat 9-18", "20:00", now=ago(62))
    entered.set_clamps(store, 12, now=ago(62))
    keep(store, week_shown())
    take_over(store, week_shown(), now=ago(62))
    let_go(store, now=ago(62))
    photographs.add_label(store, ADHESIVE, picture(), now=ago(61))
    photographs.remove_label(store, ADHESIVE, now=ago(61))
    entered.begin(store, "rib", "corner", "fit and sand, clean to bare metal", now=ago(62))
    entered.set_otherwise(store, NOW.date(), "9-13", now=ago(62))
    text = generic_text("bond-a-patch")
    entered.set_way(store, "rib", "corner", "bond-a-patch", text, now=ago(61))
    entered.set_wish(store, "rib", "corner", PartWish("primed", None), now=ago(61))
    rehearsal.begin(store, ADHESIVE, now=ago(64), part="seam")
    rehearsal.stop(store, ADHESIVE, now=ago(60))
    evening.set_stop(store, ago(-120), now=ago(60), zone=BERLIN, who="me")
    evening.answer_bare(store, "none", now=ago(59), zone=BERLIN)
    for value in (12.0, 13.0):
        reading = make_reading("panel", "surface_temperature", value, ago(60 - value), "typed")
        typed.enter(store, Intake(store), [reading], reading.at)
    store.add_entry(
        "sensor", "probe", "moved", ago(50), ago(50),
        {"quantity": "air_temperature", "from": "air", "to": "panel", "both": False},
    )  # fmt: skip
    store.add_entry(
        "clock", "", "confirmed", ago(50), ago(50), {"newest": ago(45).isoformat()},
    )  # fmt: skip
    calibration.add_rename(store, "old", "probe", ago(49))
    flat = calibration.StuckSpell("probe", "air", "air_temperature", ago(90), ago(48))
    calibration.add_stuck_spell(store, flat)


def exported(bench: Bench) -> dict[str, Any]:
    """The whole logbook as its JSON says it."""
    data: dict[str, Any] = json.loads("".join(export_json.pieces(bench, StepQuery(), NOW)))
    return data


def paths(data: Any, at: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Where every value lies that an import reads; of long lists of numbers the first."""
    if at:
        yield at
    if isinstance(data, dict):
        for key, value in data.items():
            if len(at) != 2 or at[0] != "steps" or key in ("step", "events"):
                yield from paths(value, (*at, key))
    if isinstance(data, list):
        plain = bool(data) and not isinstance(data[0], dict | list)
        for index, value in enumerate(data[:1] if plain else data):
            yield from paths(value, (*at, index))


def changed(data: dict[str, Any], path: tuple[str | int, ...], value: Any) -> dict[str, Any]:
    """The same with one value changed."""
    found = deepcopy(data)
    at: Any = found
    for each in path[:-1]:
        at = at[each]
    at[path[-1]] = value
    return found


def accepted(folder: Path, data: dict[str, Any]) -> Bench | None:
    """The logbook that takes these data in; None where it refuses them with a sentence."""
    try:
        parcel = import_json.unpack(json.dumps(data), "a.json")
    except CurewatchError:
        return None
    bench = logbooks.opened(folder)
    try:
        import_json.take_in(bench.store, parcel)
    except CurewatchError:
        bench.store.close()
        return None
    return bench


def pages(bench: Bench) -> list[str]:
    """Every page of a logbook."""
    steps = [f"/step/{step_row.id}{end}" for step_row in bench.store.steps() for end in STEP_PAGES]
    return [*PAGES, *steps]


STEP_PAGES = ("", "/history")
PAGES = (
    "/", "/state.json", "/logbook",
    "/logbook?find=patch", "/logbook.csv", "/parts", "/parts?part=rib&job=rear+corner", "/morning",
    "/shelf", f"/shelf/{PRIMER}", "/mix", f"/mix/{ADHESIVE}", "/air", "/air/masks", "/air/out",
    "/undo", "/damaged", "/bench.ics", "/handover.html?job=rear+corner", f"/log/product/{ADHESIVE}",
    "/log/compare?steps=1.3", f"/mix/{ADHESIVE}/rehearse", "/choices",
)  # fmt: skip


def app(bench: Bench) -> Flask:
    """The pages of a logbook."""
    later = NOW + timedelta(minutes=1)
    return make_app(
        bench, bench.store, lambda: later, Settings(zone="Europe/Berlin"), presses=Presses()
    )


def failing(bench: Bench) -> dict[str, str]:
    """The pages that answer 400 or 5xx, each with what went wrong."""
    shown = app(bench)
    wrong: dict[str, str] = {}
    shown.logger.error = (  # type: ignore[method-assign]
        lambda *said, exc_info=None, **_: wrong.__setitem__("", repr(exc_info))
    )
    browser = shown.test_client()
    for path in pages(bench):
        try:
            code = browser.get(path).status_code
        except Exception as error:
            wrong[path] = repr(error)
            continue
        if code == 400 or code >= 500:
            wrong[path] = wrong.get("", str(code))
        wrong.pop("", None)
    return wrong


def reopened(bench: Bench) -> Bench:
    """The same logbook, opened anew."""
    path = bench.store.path
    bench.store.close()
    store = Store(path)
    return Bench(store)
