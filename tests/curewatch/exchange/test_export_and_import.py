"""The whole logbook as JSON, and into another curewatch: the same logbook, twice is once."""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing
from copy import deepcopy
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.bench import Bench, Details
from curewatch.commands import context
from curewatch.errors import CurewatchError
from curewatch.exchange import export_json, import_json
from curewatch.exchange.log_schema import SCHEMA
from curewatch.garage import cans
from curewatch.garage.place_air import HISTORY
from curewatch.garage.unnamed_mix import name as named
from curewatch.garage.unnamed_mix import touch
from curewatch.logbook import photographs
from curewatch.logbook.logbook import csv_lines, logbook
from curewatch.store.search import StepQuery
from curewatch.store.store import Store
from tests.conftest import Run
from tests.curewatch.exchange.test_log_schema import faults
from tests.support.logbooks import (
    ADHESIVE,
    JOB,
    NOW,
    PRIMER,
    ago,
    evening,
    garage_air,
    opened,
    undone,
)

NUMBERS = {"step", "event", "entry", "witness", "can", "touch", "made", "act"}


def exported(bench: Bench, sought: StepQuery | None = None) -> dict[str, Any]:
    data: dict[str, Any] = json.loads(
        "".join(export_json.pieces(bench, sought or StepQuery(), NOW))
    )
    return data


def bare(data: Any) -> Any:
    """The same without the numbers of steps, events, entries and cans."""
    if isinstance(data, dict):
        return {key: bare(value) for key, value in data.items() if key not in NUMBERS}
    return [bare(value) for value in data] if isinstance(data, list) else data


def taken_in(bench: Bench, data: dict[str, Any]) -> import_json.Arrived:
    return import_json.take_in(bench.store, import_json.unpack(json.dumps(data), "a.json"))


def counted(bench: Bench) -> dict[str, int]:
    with closing(sqlite3.connect(bench.store.path)) as db:
        names = ("step", "event", "ledger", "reading")
        return {name: db.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in names}


@pytest.fixture
def full(tmp_path: Path) -> Bench:
    """An evening with everything: cans, a sheet of one's own, a witness taken back."""
    bench = evening(tmp_path / "full")
    cans.add(bench.store, PRIMER, cans.CanDetails(batch="P-1"), now=ago(500))
    cans.add(bench.store, ADHESIVE, cans.CanDetails(batch="A-14"), now=ago(499))
    step = bench.start(PRIMER, now=ago(20), details=Details(part="skin", job=JOB))
    seen = bench.witness(step, "stringy", now=ago(10))
    undone(bench, step, seen, ago(9))
    bench.store.save_sheet("mine", bench.step(1).sheet.text, ago(8))
    return bench


def test_export_import_export_is_equal_but_for_numbers(full: Bench, tmp_path: Path) -> None:
    first = exported(full)
    other = opened(tmp_path / "other")
    taken_in(other, first)
    second = exported(other)
    for key in first:
        assert bare(second[key]) == bare(first[key]), key
    assert "".join(csv_lines(logbook(other, NOW))) == "".join(csv_lines(logbook(full, NOW)))
    assert list(faults(second, SCHEMA)) == []


def test_times_and_conditions_come_out_the_same_beside_another_logbook(
    full: Bench, tmp_path: Path
) -> None:
    """Imported where steps and cans are already: numbers are led to the new ones."""
    other = opened(tmp_path / "other")
    cans.add(other.store, ADHESIVE, cans.CanDetails(batch="OTHER"), now=ago(900))
    for minutes in (50, 40):
        other.start(ADHESIVE, now=ago(minutes), details=Details(part="bonnet", job="other"))
    first = exported(full, StepQuery(job=JOB))
    arrived = taken_in(other, first)
    assert arrived.taken.numbers == {1: 3, 2: 4, 4: 5}
    second = exported(other, StepQuery(job=JOB))
    assert bare(second["steps"]) == bare(first["steps"])
    assert [can.batch for can in cans.cans(other.store)] == ["OTHER", "P-1", "A-14"]
    event = other.store.events([5])[5][0]
    assert cans.find_can(other.store, event.body["can"]).batch == "P-1"
    assert other.step(5).witnesses == ()


def test_twice_is_once_and_what_came_later_is_added(full: Bench, tmp_path: Path) -> None:
    other = opened(tmp_path / "other")
    data = exported(full)
    taken_in(other, data)
    before = counted(other)
    again = taken_in(other, data)
    assert counted(other) == before
    assert (again.taken.steps, again.taken.events, again.taken.entries) == (0, 0, 0)
    assert (again.readings, again.photographs) == (0, 0)
    full.note(1, "found by the painter", now=NOW)
    later = taken_in(other, exported(full))
    assert (later.taken.steps, later.taken.events) == (0, 1)
    assert other.step(1).notes[-1] == "found by the painter"


def test_a_logbook_taken_back_into_itself_changes_nothing(full: Bench) -> None:
    before, csv = counted(full), "".join(csv_lines(logbook(full, NOW)))
    taken_in(full, exported(full))
    now = counted(full)
    assert {key: now[key] for key in now if key != "reading"} == {
        key: before[key] for key in before if key != "reading"
    }
    assert "".join(csv_lines(logbook(full, NOW))) == csv


def test_photographs_travel_and_arrive_bit_for_bit(full: Bench, tmp_path: Path) -> None:
    other = opened(tmp_path / "other")
    taken_in(other, exported(full))
    name = photographs.shown(full.step(1))[0].body["name"]
    for small in (False, True):
        assert photographs.read(other.store.path, name, small=small)
    assert photographs.read(other.store.path, name) == photographs.read(full.store.path, name)


def test_one_s_own_sheet_is_left_alone(full: Bench, tmp_path: Path) -> None:
    other = opened(tmp_path / "other")
    text = full.step(1).sheet.text.replace("50 min", "55 min")
    other.store.save_sheet("mine", text, ago(5))
    assert taken_in(other, exported(full)).taken.sheets_kept == ["mine"]
    assert other.store.sheets()["mine"] == text


def test_a_removed_product_is_not_brought_back_by_an_older_file(
    full: Bench, tmp_path: Path
) -> None:
    before = exported(full)
    full.store.remove_sheet("mine", ago(5))
    assert taken_in(full, before).taken.sheets_kept == ["mine"]
    assert "mine" not in full.store.sheets()
    other = opened(tmp_path / "other")
    after = exported(full)
    assert list(faults(after, SCHEMA)) == []
    assert taken_in(other, after).taken.sheets == 0
    assert "mine" not in other.store.sheets()
    assert bare(exported(other)["ledger"]) == bare(after["ledger"])


def test_a_touch_named_later_keeps_its_step(tmp_path: Path) -> None:
    bench, other = evening(tmp_path / "a"), opened(tmp_path / "b")
    other.start(ADHESIVE, now=ago(3))
    named(bench.store, touch(bench.store, now=ago(31)), 3, now=ago(29))
    taken_in(other, exported(bench))
    entry = next(entry for entry in other.store.entries("mixed") if entry.kind == "named")
    assert other.step(entry.body["step"]).part == bench.step(3).part
    assert entry.body["touch"] in [e.id for e in other.store.entries("mixed")]


def wrong(data: dict[str, Any], path: str, value: Any) -> dict[str, Any]:
    broken = deepcopy(data)
    *above, last = path.split("/")
    at: Any = broken
    for text in above:
        at = at[int(text) if text.isdecimal() else text]
    at[int(last) if last.isdecimal() else last] = value
    return broken


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        ("curewatch", 3, "its format is 3"),
        (
            "steps",
            {},
            "a.json, steps: a group of named values is where a list belongs; correct it there",
        ),
        ("steps/0/events", [], "must begin with its start"),
        ("steps/0/events/0/kind", "noted", "must begin with its start"),
        ("steps/0/events/0/at", "yesterday", 'at: "yesterday" is where a date and time'),
        ("steps/0/events/0/told", "2026-11-14T10:00:00", "with its time zone"),
        ("steps/0/events/0/body/sheet_text", "name = 3", "cannot be read"),
        ("steps/0/events/1/body", [], "events/1/body: a list is where a group of named values"),
        ("steps/0/events/1/body", {}, "it is missing"),
        ("ledger/0/name", None, "ledger/0/name: nothing is where text"),
        ("readings/0/values/0", "warm", "readings/0/values/0: .warm. is where a number"),
        ("readings/0/values/0", 900.0, "outside"),
        ("readings/0/ms_later", [1], "as many values"),
        ("readings/0/quantity", "noise", "one of surface_temperature"),
        ("readings/0/from", "9999-12-31T23:59:59+00:00", "between 1970 and 2199"),
        ("photographs/0/jpeg", "!!", "not base64"),
        ("photographs/0/name", "../../x.jpg", "not the one it is named after"),
        ("photographs/0/jpeg", "aGVsbG8=", "not the one it is named after"),
        ("sheets/0/text", "x", "x"),
    ],
)
def test_what_is_broken_is_a_sentence_and_nothing_is_told(
    full: Bench, tmp_path: Path, path: str, value: Any, says: str
) -> None:
    other = opened(tmp_path / "other")
    with pytest.raises(CurewatchError, match=says):
        taken_in(other, wrong(exported(full), path, value))
    assert set(counted(other).values()) == {0}
    assert not photographs.folder_of(other.store.path).exists()


@pytest.mark.parametrize("text", ["", "[]", "{}", "nonsense", '{"curewatch": NaN}', "[" * 100_000])
def test_what_is_no_logbook_is_said(text: str) -> None:
    with pytest.raises(CurewatchError, match=r"not JSON|not a curewatch logbook"):
        import_json.unpack(text, "a.json")


@given(st.recursive(st.none() | st.integers() | st.text(max_size=5), st.lists, max_leaves=6))
def test_any_other_json_is_refused_with_a_sentence(value: Any) -> None:
    data = {"curewatch": 1, "made": "2026-11-14T17:00:00Z", "ledger": [], "readings": []}
    with pytest.raises(CurewatchError):
        import_json.unpack(
            json.dumps({**data, "sheets": [], "photographs": [], "steps": [value]}), "a"
        )


def test_a_kill_halfway_is_mended_by_doing_it_again(
    full: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other, data = opened(tmp_path / "other"), exported(full)
    with monkeypatch.context() as broken:
        broken.setattr("curewatch.store.search_index.refresh", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            taken_in(other, data)
    assert counted(other)["step"] == 0
    taken_in(other, data)
    assert bare(exported(other)) == bare(exported(full))


def test_hours_are_means_and_fine_where_it_matters(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    bench.store.add_readings(garage_air(16 * 24 * 60))
    bench.start(ADHESIVE, now=ago(120))
    readings = exported(bench)["readings"]
    fine = [reading for reading in readings if reading["every"] == "reading"]
    hours = [reading for reading in readings if reading["every"] == "hour"]
    assert {len(row["values"]) for row in fine} == {(2 + 4) * 12 + 1}
    assert {len(hour["values"]) for hour in hours} == {HISTORY // timedelta(hours=1) - 6}
    assert len(json.dumps(readings)) < 60_000


def test_what_was_read_in_fahrenheit_travels_to_the_last_digit(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    bench.store.add_readings([replace(reading, value=40 / 3) for reading in garage_air(60)])
    bench.start(ADHESIVE, now=ago(20))
    parcel = import_json.unpack(json.dumps(exported(bench)), "a.json")
    assert {reading.value for reading in parcel.readings} == {40 / 3}


def test_from_the_command_to_another_folder(run: Run, tmp_path: Path) -> None:
    run("reading", "add", "--surface", "14 C")
    run("mix", ADHESIVE, "--part", "门 <b>", "--job", "../x")
    file = tmp_path / "all.json"
    file.write_text(run("log", "--json")[1], encoding="utf-8")
    other = str(tmp_path / "other")
    code, out, _ = run("data", "import", str(file), "--data", other)
    assert (code, "New: 1 step" in out) == (0, True)
    assert "门 <b>" in run("log", "--find", "门", "--data", other)[1]
    code, _, err = run("data", "import", str(tmp_path / "nothing"), "--data", other)
    assert (code, "cannot be read" in err) == (2, True)


def test_what_takes_a_while_says_so_to_a_person_and_not_to_a_script(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("mix", ADHESIVE, "--part", "roof", "--job", "camper")
    works = {
        ("data", "backup", str(tmp_path)): "Copying and checking the logbook …",
        ("report", "camper", "--html", str(tmp_path / "camper.html")): "Making ",
    }
    for words, says in works.items():
        assert says not in run(*words)[2]
        with monkeypatch.context() as patched:
            patched.setattr(context, "at_terminal", lambda: True)
            code, out, err = run(*words)
        assert (code, says in err, says in out) == (0, True, False), err


def test_an_import_says_how_far_it_is(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = opened(tmp_path / "a")
    bench.store.add_readings(garage_air(12_000))
    bench.start(ADHESIVE, now=NOW)
    parcel = tmp_path / "export.json"
    parcel.write_text(json.dumps(exported(bench)), encoding="utf-8")
    to = ("--data", str(tmp_path / "b"))
    assert "readings" not in run("data", "import", str(parcel), *to)[2]
    monkeypatch.setattr(context, "at_terminal", lambda: True)
    monkeypatch.setattr(import_json, "BATCH", 200)
    code, out, err = run("data", "import", str(parcel), "--data", str(tmp_path / "c"))
    progress = re.findall(r"\r([0-9,]+) of ([0-9,]+) readings", err)
    assert (code, "New: 1 step" in out) == (0, True)
    assert [done for done, _ in progress][:2] == ["200", "400"]
    assert progress[-1][0] == progress[-1][1]
    assert err.count("\n") == 3


def test_a_week_of_hours_before_and_after_a_summer_time_change(tmp_path: Path) -> None:
    """The outlook of a step stands on the hours before it, whichever clock they were entered by."""
    bench, other = opened(tmp_path / "a"), opened(tmp_path / "b")
    bench.store.add_readings(garage_air(21 * 24 * 60, every=20))
    bench.start(ADHESIVE, now=NOW - timedelta(days=20))
    bench.finish(1, now=NOW - timedelta(days=19, hours=12))
    taken_in(other, exported(bench))
    assert bare(exported(other)["steps"]) == bare(exported(bench)["steps"])


def test_the_same_store_can_be_opened_again(full: Bench, tmp_path: Path) -> None:
    other = opened(tmp_path / "other")
    taken_in(other, exported(full))
    other.store.close()
    with closing(Store(other.store.path)) as store:
        assert len(store.find(StepQuery(text="patch"))) == 2
