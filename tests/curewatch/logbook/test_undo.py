"""Every act can be undone, leaves no trace but in the history, and can be brought back."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from curewatch.bench import finishing, marks
from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import HeatSpell, make_reading
from curewatch.errors import StepError, StillOpenError
from curewatch.events.events import acting
from curewatch.exchange import export_json, import_json
from curewatch.garage import cans, evening, parts
from curewatch.garage.shelf import add_sheet, remove_sheet
from curewatch.garage.steps import sightings
from curewatch.gate import rehearsal
from curewatch.gate.gather import ask
from curewatch.gate.underneath import underneath
from curewatch.handover.handover import document
from curewatch.handover.html import to_html
from curewatch.logbook import photographs, undo
from curewatch.logbook.history import history
from curewatch.logbook.logbook import logbook
from curewatch.plan import sentences
from curewatch.plan.next_action import Cards
from curewatch.protection import airing, cartridges
from curewatch.protection.purge import recently_closed
from curewatch.protection.ventilation import Room
from curewatch.quality import typed
from curewatch.quality.calibration import add_check
from curewatch.quality.intake import Intake
from curewatch.store.migrations import schema
from curewatch.store.search import StepQuery
from curewatch.store.store import Store
from curewatch.wording.act_words import act_words
from tests.support.logbooks import ADHESIVE, BERLIN, JOB, NOW, PAPER, PRIMER, ago, opened, picture
from tests.support.older_logbooks import rewind


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return opened(tmp_path)


def mixed(bench: Bench, **data: Any) -> int:
    details = Details(part="skin", job=JOB, **data)
    return bench.start(ADHESIVE, now=ago(100), details=details)


def undo_last(bench: Bench) -> str:
    """Undo what was recorded last; what that says it did."""
    undo.undo(bench, undo.last_one(bench.store), now=NOW)
    return act_words(bench.store, next(undo.last_acts(bench.store)), PAPER)


def again(bench: Bench) -> str:
    """Bring back what the last undo undid."""
    undo.undo(bench, next(undo.last_acts(bench.store)), now=NOW)
    return act_words(bench.store, next(undo.last_acts(bench.store)), PAPER)


def test_a_mix_that_never_happened_leaves_no_trace_but_in_the_history(bench: Bench) -> None:
    can = cans.add(bench.store, ADHESIVE, cans.CanDetails(batch="A"), now=ago(500))
    number = mixed(bench)
    bench.witness(number, "hard", now=ago(50))
    assert cans.find_can(bench.store, can.id).last_used is not None
    start = undo.act_of_event(bench.store, number, bench.store.events([number])[number][0].id)
    undo.undo(bench, start, now=NOW, why="the wrong button")
    assert bench.view(NOW).steps == ()
    assert parts.parts(bench.reader, NOW) == []
    assert logbook(bench, NOW) == []
    assert bench.store.find(StepQuery(text="skin")) == []
    assert bench.store.recent_names("job") == []
    assert cans.find_can(bench.store, can.id).last_used is None
    assert bench.reader.observed_steps(bench.step(number).sheet) == []
    assert recently_closed(bench, NOW) == []
    last = history(bench.store.events([number])[number], PAPER)[-1]
    assert last.words.startswith("undone: mixed Two-part epoxy panel adhesive; ")
    assert last.why == "the wrong button"
    with pytest.raises(StepError, match="never mixed"):
        bench.witness(number, "hard", now=NOW)
    assert again(bench).startswith("Brought back: Started: Two-part epoxy panel adhesive, skin")
    assert [step.id for step in bench.view(NOW).steps] == [number]
    assert bench.step(number).witnesses


@pytest.mark.parametrize("end", ["finish", "abandon"])
def test_a_step_off_the_bench_comes_back_onto_it(bench: Bench, end: str) -> None:
    number = mixed(bench)
    if end == "finish":
        bench.finish(number, now=ago(5))
    else:
        bench.abandon(number, "ran off", now=ago(5))
    assert bench.view(NOW).steps == ()
    undo_last(bench)
    assert [step.id for step in bench.view(NOW).steps] == [number]
    step = bench.step(number)
    assert (step.state, step.closed_at, step.notes) == ("hardening", None, ())
    bench.test(number, "later", now=NOW, milestone="clamp_time")


def test_each_thing_told_of_a_step_can_be_undone_and_brought_back(
    bench: Bench, tmp_path: Path
) -> None:
    number = mixed(bench)
    deeds = [
        lambda: bench.witness(number, "tacky", now=ago(9)),
        lambda: bench.emptied(number, now=ago(9)),
        lambda: bench.in_use(number, now=ago(9)),
        lambda: bench.acknowledge(number, "gloves", now=ago(9)),
        lambda: bench.fan(number, True, now=ago(9)),
        lambda: bench.note(number, "a note", now=ago(9)),
        lambda: bench.amend(number, Details(amount_g=70.0, part="rib"), now=ago(9)),
        lambda: bench.amend(number, Details(), now=ago(9), mixed_at=ago(130)),
        lambda: marks.mark(bench, number, "coat", now=ago(9)),
        lambda: marks.mark(bench, number, "clamps-on", now=ago(9)),
        lambda: photographs.add(bench, number, picture(), now=ago(9)),
        lambda: marks.heat(
            bench, number, HeatSpell(ago(60), ago(30), 30.0), now=ago(9), say=PAPER.say
        ),
    ]
    for deed in deeds:
        before = bench.step(number)
        deed()  # type: ignore[no-untyped-call]
        after = bench.step(number)
        undo_last(bench)
        assert alike(bench.step(number), before)
        again(bench)
        assert alike(bench.step(number), after)
        undo_last(bench)


def alike(one: Any, other: Any) -> bool:
    """Whether two states of a step tell the same, whatever their last event was."""
    states = [vars(each) | {"last_event": 0} for each in (one, other)]
    return bool(states[0] == states[1])


def test_coats_are_counted_by_what_stands(bench: Bench) -> None:
    number = mixed(bench)
    marks.mark(bench, number, "coat", now=ago(9))
    undo_last(bench)
    marks.mark(bench, number, "coat", now=ago(8))
    marks.mark(bench, number, "coat", now=ago(7))
    assert [event.body["coat"] for event in bench.step(number).of("coated")] == [1, 2]


def test_each_thing_told_of_other_things_can_be_undone(bench: Bench) -> None:
    store = bench.store
    can = cans.add(store, ADHESIVE, cans.CanDetails(batch="A"), now=ago(90))
    cans.used_up(store, can.id, now=ago(80))
    assert undo_last(bench) == "Undone: Can 1: used up"
    assert not cans.find_can(store, can.id).used_up
    cans.amend(store, can.id, cans.CanDetails(batch="B"), now=ago(70))
    undo_last(bench)
    assert cans.find_can(store, can.id).batch == "A"
    parts.bared(store, "skin", JOB, now=ago(60))
    parts.done(store, "skin", JOB, now=ago(50))
    assert undo_last(bench) == "Undone: skin: finished"
    assert parts.part(bench.reader, "skin", JOB, NOW).bare_since == ago(60)
    cartridges.open_new(store, "mask", "vapour", now=ago(40))
    cartridges.worn(store, "mask", 2.0, now=ago(30))
    undo_last(bench)
    assert cartridges.find(store, "mask").told_h == 0
    airing.record_room(store, Room(60.0, 300.0), now=ago(20))
    undo_last(bench)
    assert airing.last_room(store) is None
    evening.set_stop(store, NOW + timedelta(hours=2), now=NOW, zone=BERLIN)
    undo_last(bench)
    assert evening.stop_of(store, NOW, BERLIN) is None
    rehearsal.record(store, ADHESIVE, 20.0, now=NOW)
    undo_last(bench)
    assert rehearsal.last(store, ADHESIVE, "", NOW) is None


def test_what_later_acts_rest_on_is_not_undone(bench: Bench) -> None:
    can = cans.add(bench.store, ADHESIVE, cans.CanDetails(batch="A"), now=ago(500))
    added = undo.last_one(bench.store)
    mixed(bench)
    with pytest.raises(StepError, match=f"a mix was taken from can {can.id}"):
        undo.undo(bench, added, now=NOW)
    undo_last(bench)
    undo.undo(bench, added, now=NOW)
    assert cans.cans(bench.store) == []
    assert cans.add(bench.store, PRIMER, cans.CanDetails(), now=NOW).id == 2


def test_one_undoing_is_enough(bench: Bench) -> None:
    mixed(bench)
    act = undo.last_one(bench.store)
    undo.undo(bench, act, now=NOW)
    with pytest.raises(StepError, match="undone already"):
        undo.undo(bench, undo.past_act(bench.store, act.number), now=NOW)
    with pytest.raises(StepError, match="nothing to undo"):
        undo.last_one(bench.store)
    with pytest.raises(StepError, match="no act has the number 99"):
        undo.past_act(bench.store, 99)


def test_what_was_recorded_together_is_undone_together(bench: Bench) -> None:
    with acting():
        number = mixed(bench)
        bench.note(number, "against a stop", now=ago(99))
    assert undo_last(bench) == "Undone: Started: Two-part epoxy panel adhesive, skin"
    assert bench.view(NOW).steps == ()


def test_undoing_travels(bench: Bench, tmp_path: Path) -> None:
    """A mix sent on and undone afterwards is undone there too, by the next file."""
    mixed(bench)
    cans.add(bench.store, PRIMER, cans.CanDetails(batch="P"), now=ago(60))
    other = opened(tmp_path / "other")

    def send() -> None:
        text = "".join(export_json.pieces(bench, StepQuery(), NOW))
        import_json.take_in(other.store, import_json.unpack(text, "a.json"))

    send()
    assert [step.id for step in other.view(NOW).steps] == [1]
    undo_last(bench)
    undo_last(bench)
    send()
    assert other.view(NOW).steps == ()
    assert cans.cans(other.store) == []
    again(bench)
    send()
    assert [step.id for step in other.view(NOW).steps] == [1]


def test_a_part_of_the_log_holds_no_undoing_of_what_it_leaves_out(bench: Bench) -> None:
    parts.mark(bench.store, "rib", "other", "structural", now=ago(60))
    undo_last(bench)
    mixed(bench)
    text = "".join(export_json.pieces(bench, StepQuery(job=JOB), NOW))
    assert json.loads(text)["ledger"] == []


def test_what_was_typed_is_undone_like_anything_else(bench: Bench) -> None:
    def tell(value: float, minutes: float) -> None:
        reading = make_reading("rear", "surface_temperature", value, ago(minutes), "typed")
        with acting():
            typed.enter(bench.store, Intake(bench.store), [reading], ago(minutes))

    def stands() -> list[float]:
        readings = bench.store.readings(ago(30), NOW)
        return [reading.value for reading in readings if reading.place == "rear"]

    tell(41.0, 12)
    tell(8.0, 10)
    assert stands() == [8.0]
    assert undo_last(bench) == "Undone: Reading entered: surface temperature 8.0 °C"
    assert stands() == [41.0]
    again(bench)
    assert stands() == [8.0]
    undo_last(bench)
    undo_last(bench)
    assert stands() == []


def test_an_undone_end_counts_nowhere(bench: Bench) -> None:
    """Parts and cans follow what stands, as the step itself does."""
    number = mixed(bench, batch="A")
    bench.amend(number, Details(part="rib", batch="B"), now=ago(50))
    undo_last(bench)
    bench.abandon(number, "ran off", now=ago(40))
    undo_last(bench)
    (work,) = bench.store.step_summaries()
    assert (work.part, work.abandoned) == ("skin", False)
    assert list(bench.store.batches_used()) == [(ADHESIVE, "A", 0)]


def test_a_calendar_is_told_that_an_undone_mix_is_off(bench: Bench) -> None:
    number = mixed(bench)
    undo_last(bench)
    assert [step.id for step in bench.closed_since(ago(1))] == [number]


# an abandoned batch and the one under it


def test_an_abandoned_batch_says_nothing_against_the_one_under_it(bench: Bench) -> None:
    good = mixed(bench)
    bench.finish(good, now=ago(50))
    failed = bench.start(ADHESIVE, now=ago(40), details=Details(part="skin", job=JOB))
    bench.abandon(failed, "went off in the cup", now=ago(30))
    card = Cards(bench).one("skin", JOB, NOW, None)
    assert card is not None
    assert card.action.what != "redo"
    assert "step 2 over it failed: take off what is left of that batch only" in (
        sentences.last_words(card, NOW, PAPER.say)
    )
    paper = to_html(document(bench, JOB, NOW, BERLIN, PAPER.say))
    assert "down to sound metal" not in paper
    assert "step 2 over it failed: take off what is left of that batch only" in paper
    proposal = ask(bench, PRIMER, NOW, Details(part="skin", job=JOB))
    check = underneath(proposal, PAPER.say)
    assert check is not None
    assert "step 1" in check.words
    assert "step 2) failed since" in check.words
    assert "down to sound metal" not in check.change


def test_where_only_abandoned_batches_are_they_are_taken_off(bench: Bench) -> None:
    failed = mixed(bench)
    bench.abandon(failed, "ran off", now=ago(30))
    card = Cards(bench).one("skin", JOB, NOW, None)
    assert card is not None
    assert card.action.what == "redo"
    assert "down to sound metal" in to_html(document(bench, JOB, NOW, BERLIN, PAPER.say))


# the product of a running step


def test_the_product_of_a_running_step_is_corrected_and_its_times_follow(bench: Bench) -> None:
    cans.add(bench.store, ADHESIVE, cans.CanDetails(batch="A-14"), now=ago(500))
    cans.add(bench.store, PRIMER, cans.CanDetails(batch="P-1"), now=ago(500))
    number = mixed(bench)
    right = bench.start(PRIMER, now=ago(100), details=Details(part="skin", job=JOB))
    before, should = bench.step_view(number, NOW), bench.step_view(right, NOW)
    bench.amend(number, Details(), sheet_id=PRIMER, now=NOW, why="the wrong button")
    view = bench.step_view(number, NOW)
    assert view.sheet == should.sheet
    assert view.milestones == should.milestones != before.milestones
    assert view.batch == "P-1"
    used = bench.store.batches_used()
    assert (ADHESIVE, "A-14", 1) not in used
    assert (PRIMER, "P-1", 2) in used
    assert bench.store.find(StepQuery(sheet=ADHESIVE)) == []
    assert number in bench.store.find(StepQuery(text="primer"))
    (line,) = [line for line in history(bench.store.events([number])[number], PAPER)][1:]
    assert line.words == (
        "product: Two-part epoxy panel adhesive → Two-part epoxy primer; batch: A-14 → P-1"
    )
    undo_last(bench)
    assert bench.step_view(number, NOW).milestones == before.milestones
    assert bench.step(number).batch == "A-14"


def test_hardener_that_the_right_product_does_not_take_is_dropped(bench: Bench) -> None:
    filler = "fibre-polyester-filler"
    number = bench.start(filler, now=ago(20), details=Details(hardener_pct=2.0, batch="own"))
    bench.amend(number, Details(), sheet_id=ADHESIVE, now=NOW)
    step = bench.step(number)
    assert (step.hardener_pct, step.batch) == (None, "own")
    with pytest.raises(StepError, match="already"):
        bench.amend(number, Details(), sheet_id=ADHESIVE, now=NOW)


def test_a_test_of_what_the_right_product_has_not_teaches_nothing(bench: Bench) -> None:
    number = mixed(bench)
    bench.test(number, "not-yet", now=ago(50), milestone="clamp_time")
    bench.amend(number, Details(), sheet_id=PRIMER, now=NOW)
    assert "clamp_time" not in bench.step(number).sheet.reference.minutes
    bench.step_view(number, NOW)
    assert sightings(bench.step(number)) == ()


# taking a step off the bench


def test_finishing_asks_once_while_something_must_be_waited_for(bench: Bench) -> None:
    number = mixed(bench)
    say = PAPER.say
    with pytest.raises(StillOpenError, match="the clamps are not off yet"):
        finishing.finish(bench, number, now=ago(95), say=say)
    marks.mark(bench, number, "clamps-off", now=NOW)
    with pytest.raises(StillOpenError, match="not found ready to sand"):
        finishing.finish(bench, number, now=NOW, say=say)
    bench.test(number, "reached", now=NOW, milestone="full_cure", sure=True)
    finishing.finish(bench, number, now=NOW, say=say)
    assert bench.step(number).state == "finished"
    other = mixed(bench)
    finishing.finish(bench, other, now=NOW, say=say, sure=True)
    assert bench.step(other).state == "finished"


# products


def test_a_product_s_change_is_undone_and_its_adding_too(bench: Bench) -> None:
    text = bench.step(mixed(bench)).sheet.text
    add_sheet(bench.store, "mine", text.replace("50 min", "40 min"), ago(50))
    add_sheet(bench.store, "mine", text, ago(40))
    add_sheet(bench.store, "mine", text, ago(30))
    assert undo_last(bench).startswith("Undone: Product changed: ")
    assert "40 min" in bench.store.sheets()["mine"]
    assert undo_last(bench).startswith("Undone: Product added: ")
    assert "mine" not in bench.store.sheets()
    again(bench)
    number = bench.start("mine", now=ago(10))
    added = undo.past_act(bench.store, bench.store.entries("sheet", "mine")[0].act)
    with pytest.raises(StepError, match="a mix was made of this product"):
        undo.undo(bench, added, now=NOW)
    undo.undo(bench, undo.last_one(bench.store), now=NOW)
    assert bench.step(number).state == "undone"
    undo.undo(bench, added, now=NOW)
    assert "mine" not in bench.store.sheets()


def test_a_product_that_was_removed_and_added_again_may_lose_its_first_adding(bench: Bench) -> None:
    text = bench.step(mixed(bench)).sheet.text
    add_sheet(bench.store, "mine", text, ago(50))
    bench.start("mine", now=ago(45))
    assert remove_sheet(bench.store, "mine", ago(40)).startswith("Two-part")
    first, removal = (
        undo.past_act(bench.store, entry.act) for entry in bench.store.entries("sheet", "mine")
    )
    undo.undo(bench, first, now=ago(35))
    assert "mine" not in bench.store.sheets()
    undo.undo(bench, undo.last_acts(bench.store).__next__(), now=ago(34))
    add_sheet(bench.store, "mine", text, ago(30))
    assert act_words(bench.store, undo.last_one(bench.store), PAPER).startswith("Product added")
    undo.undo(bench, removal, now=ago(25))
    undo.undo(bench, first, now=ago(24))
    assert bench.store.sheets() == {"mine": text}
    with pytest.raises(StepError, match="a mix was made of this product"):
        undo.undo(bench, undo.last_one(bench.store), now=ago(20))


def test_sheets_of_an_older_file_are_there(bench: Bench) -> None:
    text = bench.step(mixed(bench)).sheet.text
    add_sheet(bench.store, "mine", text, ago(50))
    path = bench.store.path
    bench.store.close()
    with closing(sqlite3.connect(path)) as db:
        rewind(db, schema.MIGRATIONS[4])
        db.commit()
    with closing(Store(path)) as store:
        assert store.sheets() == {"mine": text}
        assert [act.number for act in undo.last_acts(store)] == [2, 1]


def test_a_check_that_readings_were_corrected_by_is_not_undone(bench: Bench) -> None:
    add_check(bench.store, "a/b", "air_temperature", reference=20.0, read=19.0, now=ago(10))
    check = undo.last_one(bench.store)
    reading = make_reading("panel", "air_temperature", 19.0, ago(5), "a/b")
    bench.store.add_readings([reading])
    with pytest.raises(StepError, match="readings were corrected by it since"):
        undo.undo(bench, check, now=NOW)


def test_a_worn_cartridge_is_not_unopened(bench: Bench) -> None:
    cartridges.open_new(bench.store, "mask", "vapour", now=ago(10))
    act = undo.last_one(bench.store)
    cartridges.worn(bench.store, "mask", 1.0, now=ago(5))
    with pytest.raises(StepError, match="hours worn"):
        undo.undo(bench, act, now=NOW)


def test_what_an_older_file_told_of_a_step_at_one_instant_is_one_act(bench: Bench) -> None:
    number = mixed(bench)
    instant = bench.store.events([number])[number][0].recorded_at
    bench.store.add_event(
        number, "overridden", instant, instant, {"stops": ["cold"], "why": "trial"}
    )
    bench.note(number, "later", now=NOW)
    cans.add(bench.store, ADHESIVE, cans.CanDetails(), now=ago(50))
    path = bench.store.path
    bench.store.close()
    with closing(sqlite3.connect(path)) as db:
        rewind(db, schema.MIGRATIONS[4])
        db.commit()
    with closing(Store(path)) as store:
        kinds = [[row.kind for row in act.rows] for act in undo.last_acts(store)]
    assert kinds == [["noted"], ["added"], ["started", "overridden"]]
