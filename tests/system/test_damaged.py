"""A body changed behind our back: left out, shown as damaged where it stood, removed with a touch;
every page and command goes on."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from curewatch.bench.bench import Bench
from curewatch.errors import StepError
from curewatch.garage import damaged
from curewatch.logbook import undo
from curewatch.store.store import Store
from tests.conftest import Run
from tests.support import crafted_exports
from tests.support.dash_pages import buttons, touched
from tests.support.earlier_logbook import unpacked
from tests.support.logbooks import NOW, evening
from tests.support.many import cases

BAD = (
    '{"text": 0}',
    '{"part": [], "sheet_id": true}',
    "nonsense",
    "[]",
    '{"name": "\\ud800"}',
    "{}",
)


def spoil(bench: Bench, table: str, which: str, text: str) -> Bench:
    """The logbook opened again after a body in its file was changed by hand."""
    bench.store.close()
    with closing(sqlite3.connect(bench.store.path)) as db, db:
        db.execute(f"UPDATE {table} SET body = ? WHERE {which}", (text,))
    return crafted_exports.reopened(bench)


@pytest.mark.parametrize("turn", range(min(cases(2), len(BAD))))
def test_with_every_body_spoilt_every_page_answers(tmp_path: Path, turn: int) -> None:
    """Each body in another way; by as many turns as there are ways, each in all of them."""
    bench = crafted_exports.rich(tmp_path)
    for at, text in enumerate(BAD):
        in_turn = f"rowid % {len(BAD)} = {(at + turn) % len(BAD)}"
        bench = spoil(bench, "event", f"kind != 'started' AND {in_turn}", text)
        bench = spoil(bench, "ledger", in_turn, text)
    assert crafted_exports.failing(bench) == {}
    bench.store.close()


def test_a_damaged_start_is_said_on_bench_log_and_its_own_page(tmp_path: Path) -> None:
    bench = spoil(
        crafted_exports.rich(tmp_path), "event", "kind = 'started' AND step = 3", '{"part": true}'
    )
    assert crafted_exports.failing(bench) == {}
    assert 3 not in [step.id for step in bench.view(NOW).steps]
    with pytest.raises(StepError, match="step 3 is damaged"):
        bench.step(3)
    browser = crafted_exports.app(bench).test_client()
    for path in ("/", "/logbook", "/step/3", "/step/3/history", "/damaged"):
        answer = browser.get(path)
        assert answer.status_code == 200
        assert "true is where text or nothing belongs" in answer.text, path
    bench.store.close()


def test_a_damaged_note_is_left_out_until_it_is_removed(tmp_path: Path) -> None:
    bench = spoil(evening(tmp_path), "event", "kind = 'noted'", '{"text": 0}')
    assert bench.step(1).notes == ()
    (found,) = damaged.all_damaged(bench.store)
    assert (found.of, found.what) == ("step 1", "text: 0 is where text belongs")
    browser = crafted_exports.app(bench).test_client()
    for path in ("/step/1", "/logbook", "/handover.html?job=rear+corner"):
        assert "damaged and left out" in browser.get(path).text, path
    origin = {"Origin": "http://localhost"}
    texts = {"entry": found.id, "once": "a"}
    assert browser.post("/damaged/remove", data=texts, headers=origin).status_code == 303
    assert damaged.all_damaged(bench.store) == []
    assert "damaged and left out" not in browser.get("/step/1").text
    assert "damaged and left out" in browser.get("/step/1/history").text
    bench.store.close()


def test_a_damaged_can_and_part_are_said_on_their_pages(tmp_path: Path) -> None:
    bench = spoil(
        crafted_exports.rich(tmp_path), "ledger", "subject = 'can' AND kind = 'added'", "{}"
    )
    bench = spoil(
        bench,
        "ledger",
        "subject = 'part' AND kind = 'marked'",
        '{"name": true, "job": "", "as": ""}',
    )
    browser = crafted_exports.app(bench).test_client()
    assert "sheet id: it is missing" in browser.get("/shelf").text
    (removal,) = [did for did in buttons(browser, "/shelf") if did[0] == "remove damaged"]
    touched(browser, *removal)
    assert removal not in buttons(browser, "/shelf")
    assert "name: true is where text belongs" in browser.get("/parts").text
    bench.store.close()


def test_a_can_without_its_number_is_damaged_and_what_was_entered_last_goes_on(
    tmp_path: Path,
) -> None:
    bench = crafted_exports.rich(tmp_path)
    bench.store.close()
    with closing(sqlite3.connect(bench.store.path)) as db, db:
        db.execute("UPDATE ledger SET name = '' WHERE subject = 'can' AND kind = 'opened'")
        db.execute("UPDATE ledger SET name = ? WHERE kind = 'used up'", ("9" * 5000,))
    bench = crafted_exports.reopened(bench)
    assert crafted_exports.failing(bench) == {}
    found = [each for each in damaged.all_damaged(bench.store) if each.row.kind == "opened"]
    assert [each.of for each in found] == ["can"]
    assert "the number of a can" in found[0].what
    bench.store.close()


READINGS = (
    ("value", "'warm'"),
    ("value", "x'ff00'"),
    ("value", "1e999"),
    ("at_ms", str(2**61)),
    ("at_ms", str(-(2**61))),
    ("at_ms", "'yesterday'"),
)


@pytest.mark.parametrize("turn", range(min(cases(2), len(READINGS))))
def test_a_reading_spoilt_by_hand_is_left_out_counted_and_said(
    run: Run, tmp_path: Path, turn: int
) -> None:
    """The last of each series, each in another way."""
    bench = crafted_exports.rich(tmp_path / "data")
    bench.store.close()
    with closing(sqlite3.connect(bench.store.path)) as db, db:
        last = db.execute("SELECT series, max(at_ms) FROM reading GROUP BY series").fetchall()
        for at, key in enumerate(last):
            column, value = READINGS[(at + turn) % len(READINGS)]
            db.execute(f"UPDATE reading SET {column} = {value} WHERE (series, at_ms) = (?, ?)", key)
    bench = crafted_exports.reopened(bench)
    assert crafted_exports.failing(bench) == {}
    count = sum(unsound.count for unsound in bench.store.unsound())
    assert count == len(bench.store.unsound()) > 1
    assert all(isinstance(reading.value, float) for reading in bench.store.latest())
    text = "1 reading is damaged and left out"
    assert text in crafted_exports.app(bench).test_client().get("/damaged").text
    bench.store.set_aside(NOW)
    bench.store.close()
    for words in ("bench", "log", "reading list", "undo --damaged", "data export"):
        code, _, error = run(*words.split())
        assert (code, "unforeseen" in error) == (0, False), (words, error)
    assert text in run("undo", "--damaged")[1]


def test_a_damaged_confirmation_of_the_clock_can_be_undone(tmp_path: Path) -> None:
    bench = spoil(crafted_exports.rich(tmp_path), "ledger", "kind = 'confirmed'", "{}")
    act = undo.past_act(bench.store, bench.store.all_entries("clock")[0].act)
    known_time = bench.store.known_time()
    undo.undo(bench, act, now=NOW)
    again = undo.past_act(bench.store, bench.store.all_entries("clock")[-1].act)
    undo.undo(bench, again, now=NOW)
    assert bench.store.known_time().newest <= max(known_time.newest, NOW)
    assert crafted_exports.failing(bench) == {}
    bench.store.close()


@pytest.mark.parametrize("kind", ["sounded", "silenced"])
def test_what_sounded_by_itself_and_is_damaged_is_removed_and_the_removal_said(
    tmp_path: Path, kind: str
) -> None:
    bench = spoil(crafted_exports.rich(tmp_path), "event", f"kind = '{kind}'", "nonsense")
    for each in damaged.all_damaged(bench.store):
        damaged.remove(bench.store, each.id, now=NOW)
    answer = crafted_exports.app(bench).test_client().get("/undo")
    assert (answer.status_code, f"Removed: {kind}" in answer.text) == (200, True)
    bench.store.close()


def test_an_undo_of_what_is_not_there_is_said(tmp_path: Path) -> None:
    bench = spoil(crafted_exports.rich(tmp_path), "event", "kind = 'forgot'", '{"event": 9999}')
    store = bench.store
    store.add_entry("can", "1", "forgot", NOW, NOW, {"event": 9999})
    assert crafted_exports.failing(bench) == {}
    store.close()


def test_what_is_damaged_is_exported_as_found_and_not_taken_in(tmp_path: Path) -> None:
    bench = spoil(evening(tmp_path / "a"), "event", "kind = 'noted'", '{"text": 0}')
    data = crafted_exports.exported(bench)
    (found,) = data["damaged"]
    assert found["of"] == "step 1"
    assert json.loads(found["body"]) == {"text": 0}
    other = crafted_exports.accepted(tmp_path / "b", data)
    assert other
    assert damaged.all_damaged(other.store) == []
    for each in (bench, other):
        each.store.close()


def test_a_removed_start_can_be_brought_back_like_any_undo(tmp_path: Path) -> None:
    bench = spoil(evening(tmp_path), "event", "kind = 'started' AND step = 2", "{}")
    (found,) = damaged.all_damaged(bench.store)
    assert found.whole_step
    damaged.remove(bench.store, found.id, now=NOW)
    assert damaged.all_damaged(bench.store) == []
    with pytest.raises(StepError, match="no such entry is damaged"):
        damaged.remove(bench.store, found.id, now=NOW)
    bench.store.close()


def test_the_commands_go_on_and_name_what_is_damaged(run: Run, tmp_path: Path) -> None:
    bench = spoil(
        crafted_exports.rich(tmp_path / "data"), "event", "kind = 'started' AND step = 3", "{}"
    )
    bench = spoil(bench, "ledger", "subject = 'part'", "nonsense")
    bench.store.close()
    for words in crafted_exports.COMMANDS:
        code, _, text = run(*words.split())
        assert "Traceback" not in text, words
        assert code == 0, (words, text)
    assert "Step 3, entered" in run("bench")[1]
    assert "Step 3, entered" in run("log")[1]
    code, out, _ = run("undo", "--damaged")
    assert code == 0
    name = out.splitlines()[0].rsplit(" ", 1)[1]
    assert run("undo", "--remove", name)[0] == 0
    assert len(run("undo", "--damaged")[1].splitlines()) == len(out.splitlines()) - 1


def test_nothing_that_an_earlier_version_wrote_is_damaged(tmp_path: Path) -> None:
    store = Store(unpacked(tmp_path))
    assert damaged.all_damaged(store) == []
    store.close()
