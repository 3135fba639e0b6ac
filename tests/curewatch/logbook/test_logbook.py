"""The logbook: found by any word, its history, two steps compared, predicted beside found."""

from __future__ import annotations

import csv
import io
import json
import re
import sqlite3
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench import marks
from curewatch.bench.bench import Bench, Details
from curewatch.climate.reading import Source, make_reading
from curewatch.commands.curing.logbook import NOTHING
from curewatch.errors import StepError
from curewatch.exchange import bench_json
from curewatch.handover.handover import document
from curewatch.handover.html import to_html
from curewatch.logbook import compare, history, logbook, moments, predictions
from curewatch.logbook.predictions import Prediction
from curewatch.store import search_index
from curewatch.store.search import StepQuery, match
from curewatch.store.search_index import folded
from curewatch.store.store import Store
from curewatch.wording.terminal import Terminal
from curewatch.wording.words import ReaderFormat
from tests.bench import log as thousands
from tests.conftest import Run
from tests.support.logbooks import (
    ADHESIVE,
    BERLIN,
    FILLER,
    JOB,
    NOW,
    PAPER,
    PRIMER,
    ago,
    evening,
    garage_air,
    opened,
    undone,
)
from tests.support.many import cases
from tests.support.older_logbooks import rewind
from tests.support.pages import open_garage


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return evening(tmp_path)


# finding


@pytest.mark.parametrize(
    ("words", "numbers"),
    [
        ("lower", [2, 1]),
        ("LOW pat", [2, 1]),
        ("a-41", [1]),
        ("A-14", []),
        ("ang", [1]),
        ("ÅNGSTRÖM", [1]),
        ("clamps 40", [1]),
        ("misread can", [1]),
        ("neighb", [1]),
        ("before", [1]),
        ("panel adhesive", [3, 1]),
        ("rear corner epoxy", [2, 1]),
        ("p24 wax", [1]),
        ("roof", [3]),
        ("nothing", []),
        ('" OR 1', []),
        ("lower NOT patch", []),
        ("-", []),
        ("*", []),
        ("", [3, 2, 1]),
    ],
)
def test_steps_are_found_by_the_beginnings_of_words(
    bench: Bench, words: str, numbers: list[int]
) -> None:
    assert bench.store.find(StepQuery(text=words)) == numbers
    assert bench.store.count(StepQuery(text=words)) == len(numbers)


@pytest.mark.parametrize(
    ("name", "query"),
    [
        ("Größe des Türschwellers", "grosse turschw"),
        ("étain", "ETAI"),
        ("крыло заднее", "КРЫ"),
        ("左後門板", "門"),
        ("ドアパネル", "パネ"),
        ("뒷문", "뒷"),
        ("باب السيارة", "السي"),
        ("דלת אחורית", "אחור"),
        ("किताब दरवाज़ा", "दरव"),
        ("ประตูหลัง", "หลัง"),
        ("İstanbul yolu", "istanbul"),
        ("Ñandú P80", "nandu p80"),
        ("🚗 skin", "skin"),
    ],
)
def test_every_script_is_found(tmp_path: Path, name: str, query: str) -> None:
    bench = opened(tmp_path)
    bench.start(PRIMER, now=ago(9), details=Details(part=name))
    bench.start(PRIMER, now=ago(8), details=Details(part="other"))
    bench.note(2, name, now=ago(7))
    assert bench.store.find(StepQuery(text=query)) == [2, 1]


@given(st.text(max_size=40))
def test_any_question_is_answered(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    with closing(Store(tmp_path_factory.mktemp("any") / "x.sqlite")) as store:
        assert store.find(StepQuery(text=text)) == []


@given(st.text(min_size=1, max_size=12).filter(lambda text: bool(match(text))))
def test_what_was_written_is_found(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    bench = opened(tmp_path_factory.mktemp("written"))
    with closing(bench.store):
        bench.start(PRIMER, now=NOW, details=Details(part=text))
        kept = bench.step(1).part
        assert bench.store.find(StepQuery(text=kept)) == ([1] if match(kept) or not kept else [])


@pytest.mark.parametrize(
    ("sought", "numbers"),
    [
        (StepQuery(job=JOB), [2, 1]),
        (StepQuery(job=""), []),
        (StepQuery(part="seam"), [3]),
        (StepQuery(sheet=PRIMER), [2]),
        (StepQuery(state="finished"), [1]),
        (StepQuery(state="hardening", job=JOB), [2]),
        (StepQuery(since=ago(80)), [3, 2]),
        (StepQuery(until=ago(80)), [1]),
        (StepQuery(text="epoxy", since=ago(80), job="roof"), [3]),
    ],
)
def test_filters_narrow(bench: Bench, sought: StepQuery, numbers: list[int]) -> None:
    assert bench.store.find(sought) == numbers


def test_a_correction_moves_a_step_to_its_new_words(bench: Bench) -> None:
    bench.amend(3, Details(part="gutter", job=JOB), now=NOW, mixed_at=ago(100))
    assert bench.store.find(StepQuery(part="seam")) == []
    assert bench.store.find(StepQuery(text="gutter", job=JOB, until=ago(90))) == [3]


def test_what_was_taken_back_is_found_no_more(bench: Bench) -> None:
    undone(bench, 1, bench.step(1).of("photographed")[0].id, NOW)
    assert bench.store.find(StepQuery(text="before")) == []


def test_a_file_from_before_is_searched_as_well(tmp_path: Path) -> None:
    """The index is made and filled when a file of the format before is opened."""
    bench = evening(tmp_path)
    path = bench.store.path
    bench.store.close()
    with closing(sqlite3.connect(path)) as db:
        db.execute("DROP TABLE found")
        db.execute("DROP TABLE listed")
        rewind(db, search_index.build)
        db.commit()
    with closing(Store(path)) as store:
        assert store.find(StepQuery(text="clamps")) == [1]
        assert store.find(StepQuery(job=JOB)) == [2, 1]


def test_the_index_goes_with_the_event_or_not_at_all(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as broken:
        broken.setattr("curewatch.store.search_index._words", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            bench.note(1, "lost", now=NOW)
    assert "lost" not in bench.step(1).notes
    assert bench.store.find(StepQuery(text="lost")) == []


@given(st.text(max_size=30))
def test_folding_twice_is_folding_once(text: str) -> None:
    assert folded(folded(text)).split() == folded(text).split()


# thousands of steps, of which ./tests/bench/run log takes ten

STEPS = cases(2_000)


@pytest.mark.alone
def test_thousands_of_steps_do_not_slow_the_page(tmp_path: Path) -> None:
    (tmp_path / "few").mkdir()
    (tmp_path / "many").mkdir()
    short, store = (
        thousands.filled(tmp_path / "few", 40),
        thousands.filled(tmp_path / "many", STEPS),
    )
    few = thousands.pages_of(short, 40).test_client()
    reader = thousands.pages_of(store, STEPS).test_client()

    def least_s(device: FlaskClient, address: str) -> float:
        taken = []
        for _ in range(4):
            start = time.process_time()
            assert device.get(address).status_code == 200
            taken.append(time.process_time() - start)
        return min(taken)

    as_usual = least_s(few, "/logbook")
    for address in thousands.PAGES.values():
        assert least_s(reader, address) < 2 * as_usual, address
    assert f"{STEPS} steps, page 1 of {STEPS // 40}" in reader.get("/logbook").text
    assert reader.get("/logbook?job=job+7").text.count('class="button pick-step"') == 40
    seen, address = 0, "/logbook?find=sagged"
    while address and seen < 130:
        text = reader.get(address).text
        seen += text.count('class="button pick-step"')
        older = re.search(r'href="([^"]+)">Next page', text)
        address = older[1].replace("&amp;", "&") if older else ""
    assert seen >= 130
    short.close()
    store.close()


# history


def history_lines(bench: Bench, number: int) -> list[str]:
    events = bench.store.events([number])[number]
    return [history.sentence(line, PAPER) for line in history.history(events, PAPER)]


def test_all_ever_told_stands_in_order_old_beside_new(bench: Bench) -> None:
    lines = history_lines(bench, 1)
    assert lines[0].startswith("2026-11-14 08:10 (2026-11-14 08:00): mixed Two-part epoxy panel")
    assert "batch A-14" in lines[0]
    assert "2026-11-14 16:30, by a neighbour: batch: A-14 → A-41, because misread the can" in lines
    assert "2026-11-14 16:38: signed off by: me" in lines
    assert "2026-11-14 16:20: tested: ready, clamps can come off" in lines
    assert bench.step(1).batch == "A-41"


def test_what_is_entered_again_as_it_was_is_no_correction(bench: Bench) -> None:
    batch = bench.step(1).batch
    bench.amend(1, Details(batch=batch, amount_g=71.0), now=ago(5))
    bench.amend(1, Details(batch=batch), now=ago(4))
    events = bench.store.events([1])[1]
    *_, changed, same = history.history(events, PAPER)
    assert "batch" not in changed.words
    assert (same.words, same.correction) == ("entered again, nothing changed", False)


def test_a_moved_mix_and_a_witness_taken_back_are_corrections(bench: Bench) -> None:
    seen = bench.witness(3, "tacky", now=ago(20))
    undone(bench, 3, seen, ago(19))
    bench.amend(3, Details(amount_g=70.0), now=ago(10), mixed_at=ago(33))
    events = bench.store.events([3])[3]
    lines = [line for line in history.history(events, PAPER) if line.correction]
    assert [line.words for line in lines] == [
        "undone: dab: tacky",
        "moment of mixing: 2026-11-14 17:30 → 2026-11-14 17:27",
    ] or [line.words for line in lines][1].endswith(
        "moment of mixing: 2026-11-14 17:30 → 2026-11-14 17:27"
    )


def test_a_clock_put_back_between_two_events_keeps_the_order_told(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    bench.store.add_readings(garage_air(600))
    bench.start(PRIMER, now=NOW, details=Details(part="skin", batch="A"))
    bench.amend(1, Details(batch="B"), now=ago(-5))
    bench.amend(1, Details(batch="C"), now=ago(55))
    bench.finish(1, now=ago(50))
    assert (bench.step(1).batch, bench.step(1).state) == ("C", "finished")
    lines = history_lines(bench, 1)
    assert "batch: B → C" in lines[2]
    assert "the clock had been put back 1 h before this" in lines[2]
    assert "put back" not in lines[1]
    entry = logbook.entry(bench, bench.step(1), NOW)
    assert entry.step.closed_at == ago(50)
    assert "".join(logbook.csv_lines([entry])).startswith("step,")
    assert bench.reader.view(NOW).steps == ()


@pytest.fixture
def three(run: Run) -> Run:
    """Three steps of two jobs, the second with a note."""
    for part, job in (("left seam", "roof"), ("right seam", "roof"), ("lower seam", "door")):
        run("mix", "epoxy-primer", "--job", job, "--part", part)
    run("step", "note", "2", "thin at the edge")
    return run


def test_one_step_alone_in_every_format(three: Run) -> None:
    log_data = json.loads(three("step", "show", "2", "--json")[1])
    assert [step["step"] for step in log_data["steps"]] == [2]
    rows = list(csv.DictReader(io.StringIO(three("step", "show", "2", "--format", "csv")[1])))
    assert {row["step"] for row in rows} == {"2"}
    lines = json.loads(three("step", "show", "2", "--history", "--json")[1])
    assert [line["words"] for line in lines][-1] == "note: thin at the edge"
    written = three("step", "show", "2", "--history", "--format", "csv")[1]
    rows = list(csv.DictReader(io.StringIO(written)))
    assert [row["words"] for row in rows] == [line["words"] for line in lines]
    for words in (("--json",), ("--format", "csv"), ("--history",), ()):
        code, out, err = three("step", "show", "9", *words)
        assert (code, out, "there is no step 9" in err) == (2, "", True)


@pytest.mark.parametrize("words", ["log", "step show 2", "step show 2 --history"])
@pytest.mark.parametrize("other", ["csv", "text"])
def test_two_formats_at_once_are_refused(three: Run, words: str, other: str) -> None:
    for typed in (f"{words} --json --format {other}", f"--json {words} --format {other}"):
        code, out, err = three(*typed.split())
        assert (code, out, f"--json and --format {other}" in err) == (2, "", True)
    assert json.loads(three(*words.split(), "--json", "--format", "json")[1])


def test_only_the_last_so_many_in_every_format(three: Run) -> None:
    assert "[roof]" not in three("log", "--most", "1")[1]
    log_data = json.loads(three("log", "--most", "2", "--json")[1])
    assert sorted(step["step"] for step in log_data["steps"]) == [2, 3]
    rows = list(csv.DictReader(io.StringIO(three("log", "--most", "1", "--format", "csv")[1])))
    assert {row["step"] for row in rows} == {"3"}


@pytest.mark.parametrize("words", [("--job", "floor"), ("--find", "tar"), ("--from", "2031-01-01")])
def test_a_filter_that_finds_nothing_says_so(three: Run, words: tuple[str, ...]) -> None:
    assert three("log", *words)[1].splitlines()[-1] == NOTHING
    for form in (("--format", "csv"), ("--json",)):
        code, _, err = three("log", *words, *form)
        assert (code, err) == (0, f"{NOTHING}\n")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("log", "--history"), "No such option '--history'"),
        (("report", "roof"), "no file is named; add --html FILE or --pdf FILE"),
        (("report", "roof", "--html", "x.html", "--most", "1"), "No such option '--most'"),
    ],
)
def test_options_that_a_command_does_not_know_or_lacks_are_said(
    three: Run, words: tuple[str, ...], sentence: str
) -> None:
    code, out, err = three(*words)
    assert (code, out, sentence in err) == (2, "", True)


def test_the_history_on_the_page_and_from_the_command(run: Run, tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.mix(PRIMER, 5, batch="A")
    garage.bench.amend(
        1, Details(batch="<i>B"), now=garage.clock(), why="mis<u>read", by="me & you"
    )
    text = garage.app.test_client().get("/step/1/history").text
    assert "batch: A → &lt;i&gt;B" in text
    assert "Reason: mis&lt;u&gt;read" in text
    assert garage.app.test_client().get("/step/7/history").status_code == 404
    garage.store.close()
    run("mix", ADHESIVE, "--batch", "A")
    run("step", "edit", "1", "--batch", "B", "--why", "misread", "--by", "me")
    code, out, _ = run("step", "show", "1", "--history")
    assert (code, "by me: batch: A → B, because misread" in out) == (0, True)


@freeze_time("2026-10-25 00:50:00")
def test_an_evening_across_the_summer_time_change_is_told_by_the_wall(tmp_path: Path) -> None:
    bench, before = opened(tmp_path), datetime.now(UTC)
    bench.start(PRIMER, now=before)
    bench.note(1, "later", now=before + timedelta(minutes=40))
    lines = history_lines(bench, 1)
    assert lines[0].startswith("2026-10-25 02:50")
    assert lines[1].startswith("2026-10-25 02:30")
    assert "put back" not in lines[1]


# what is entered of a step


def test_every_field_of_the_inspection_may_be_told_and_none_must(bench: Bench) -> None:
    names = {name for name, _ in PAPER.facts(bench.step(1))}
    assert {
        "product", "ratio by the label", "by", "batch", "hardener batch", "expiry", "amount",
        "ratio as mixed", "grit", "cleaner", "cleaned", "induction", "deviations",
        "signed off by", "sensor at",
    } <= names  # fmt: skip
    assert dict(PAPER.facts(bench.step(1)))["cleaned"] == "2026-11-14 07:50"
    assert "batch" not in dict(PAPER.facts(bench.step(3)))


def test_the_film_put_on_is_not_the_labels(bench: Bench) -> None:
    film = Details(film_um=120.0)
    facts = dict(PAPER.facts(bench.step(bench.start("epoxy-primer", now=NOW, details=film))))
    assert (facts["film by the label"], facts["film put on"]) == ("50 µm", "120 µm")
    bead = Details(film_um=6000.0)
    facts = dict(PAPER.facts(bench.step(bench.start("seam-sealer", now=NOW, details=bead))))
    assert (facts["film by the label"], facts["film put on"]) == ("3 mm", "6 mm")


def test_conditions_at_the_start_each_coat_clamps_and_every_four_hours(bench: Bench) -> None:
    entry = logbook.entry(bench, bench.step(1), NOW)
    assert [moment.name for moment in entry.moments] == [
        "start", "clamps on", "after 4 h", "after 8 h", "clamps off",
    ]  # fmt: skip
    start = entry.moments[0].values
    assert start["surface_temperature"] == pytest.approx(13.0)
    # by hand: Magnus dew point of 15 C and 60 % is 7.3 C
    assert round(start["dew_point"], 1) == 7.3
    assert round(start["dew_point_spread"], 1) == 5.7
    coats = logbook.entry(bench, bench.step(2), NOW).moments
    assert [moment.name for moment in coats] == ["start", "coat 1", "coat 2"]


def test_what_was_not_measured_near_an_instant_is_absent(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    bench.store.add_readings([reading for reading in garage_air(600) if reading.at < ago(300)])
    bench.start(PRIMER, now=ago(310))
    shown = logbook.entry(bench, bench.step(1), NOW).moments
    assert set(shown[0].values) == set(moments.VALUES)
    assert shown[1].values == {}


def test_the_sensor_and_its_last_check_stand_beside_the_step(bench: Bench) -> None:
    sensors = {
        sensor_used.quantity: sensor_used
        for sensor_used in logbook.entry(bench, bench.step(1), NOW).sensors
    }
    assert sensors["surface_temperature"].checked == ago(2000)
    assert sensors["surface_temperature"].checked_by == "me"
    assert sensors["air_temperature"].checked is None


def test_marks_are_checked(bench: Bench) -> None:
    for what, at, film, says in (
        ("coat", ago(700), None, "before the mixing"),
        ("varnish", NOW, None, "nothing to mark"),
        ("coat", ago(-90), None, "in the future"),
        ("coat", NOW, -1.0, "cannot be"),
    ):
        with pytest.raises(StepError, match=says):
            marks.mark(bench, 1, what, now=NOW, at=at, film_wet_um=film)
    with pytest.raises(StepError, match="no event 999"):
        undone(bench, 1, 999, NOW)


# two steps, and a product


def test_steps_stand_side_by_side(bench: Bench) -> None:
    comparison = compare.compare(bench, (1, 3), NOW, PAPER)
    rows = {row.what: row for _, compared_rows in comparison.groups for row in compared_rows}
    assert rows["batch"].values == ("A-41", "not entered")
    assert rows["batch"].differs
    assert not rows["sensor at"].differs
    assert "not yet at" not in rows["clamps off, actual"].values[0]
    assert rows["clamps off, actual"].values[1] == "not tested"


def test_steps_of_several_products_stand_side_by_side(bench: Bench) -> None:
    comparison = compare.compare(bench, (1, 2, 3), NOW, PAPER)
    assert [step.id for step in comparison.steps] == [1, 2, 3]
    rows = {row.what: row for _, compared_rows in comparison.groups for row in compared_rows}
    assert [len(row.values) for row in rows.values()] == [3] * len(rows)
    first, second, third = rows["product"].values
    assert first == third != second
    assert rows["recoat opens, predicted"].values[0] == "-"
    assert "label" not in rows


def test_what_was_predicted_knows_nothing_of_what_came_after(tmp_path: Path) -> None:
    """The same mix, predicted before and after it was looked at and others were learned from."""
    bench = opened(tmp_path)
    bench.store.add_readings(garage_air(3000))
    bench.start(FILLER, now=ago(1000))
    before = predictions.predicted(bench, bench.step(1))
    bench.test(1, "reached", now=ago(700), milestone="sand_ready")
    bench.start(FILLER, now=ago(600))
    bench.witness(2, "hard", now=ago(590))
    after = predictions.predicted(bench, bench.step(1))
    times = [
        (prediction.milestone, prediction.early_min, prediction.likely_min, prediction.late_min)
        for prediction in before
    ]
    assert [(t.milestone, t.early_min, t.likely_min, t.late_min) for t in after] == times
    shown = {prediction.milestone: prediction for prediction in after}["sand_ready"]
    assert shown.seen_min == 300.0
    assert shown.verdict == "tested after late"
    second = {e.milestone: e for e in predictions.predicted(bench, bench.step(2))}["sand_ready"]
    assert second.likely_min != shown.likely_min


@pytest.mark.parametrize(
    ("seen", "not_yet", "verdict"),
    [
        (None, None, "not tested"),
        (None, 50.0, "not yet when last tested"),
        (50.0, None, "sooner than early"),
        (100.0, 70.0, "between early and late"),
        (200.0, 70.0, "tested after late"),
        (200.0, 160.0, "later than late"),
    ],
)
def test_how_it_fell_out(seen: float | None, not_yet: float | None, verdict: str) -> None:
    assert Prediction("sand_ready", 90.0, 60.0, 100.0, 150.0, seen, not_yet).verdict == verdict


def test_what_was_predicted_knows_no_test_that_an_earlier_step_passed_later(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    bench.store.add_readings(garage_air(3000))
    bench.start(ADHESIVE, now=ago(1200))
    bench.start(ADHESIVE, now=ago(1100))
    before = predictions.predicted(bench, bench.step(2))
    bench.test(1, "reached", now=ago(700), milestone="clamp_time")
    assert predictions.predicted(bench, bench.step(2)) == before
    bench.start(ADHESIVE, now=ago(600))
    third = predictions.predicted(bench, bench.step(3))
    assert [prediction.likely_min for prediction in third] != [
        prediction.likely_min for prediction in before
    ]


def test_a_step_shows_its_sheet_as_it_was_then(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.mix(PRIMER, 5)
    browser = garage.app.test_client()
    assert "it was changed since" not in browser.get("/step/1").text
    text = garage.bench.step(1).sheet.text
    garage.store.save_sheet(PRIMER, text.replace("(generic)", "(mine)"), garage.clock())
    page = browser.get("/step/1").text
    assert "label as it was then; it was changed since" in page
    assert "(generic)" in page
    garage.store.close()


def test_one_csv_is_written_at_a_time_and_one_that_was_left_lets_the_next_begin(
    tmp_path: Path,
) -> None:
    garage = open_garage(tmp_path)
    for number in range(3):
        garage.mix(PRIMER, 5 + number)
    first = garage.app.test_client().get("/logbook.csv", buffered=False)
    head = next(iter(first.response))
    assert isinstance(head, bytes)
    assert head.startswith(b"step,")
    second = garage.app.test_client().get("/logbook.csv")
    assert second.status_code == 503
    assert "being written already" in second.text
    first.close()
    third = garage.app.test_client().get("/logbook.csv", buffered=True)
    assert (third.status_code, third.text.count("\r\n") > 3) == (200, True)
    third.close()
    assert garage.app.test_client().get("/logbook.csv?from=nonsense").status_code in (400, 404)
    assert garage.app.test_client().get("/logbook.csv").status_code == 200
    garage.store.close()


def test_what_was_typed_just_before_the_mix_is_the_air_at_its_start(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    for minutes, value in ((300.0, 20.0), (104.0, 15.0)):
        typed = make_reading("panel", "surface_temperature", value, ago(minutes), "typed")
        bench.store.add_readings([typed])
    bench.start(ADHESIVE, now=ago(100))
    record = logbook.entry(bench, bench.step(1), NOW)
    assert record.moments[0].name == "start"
    assert dict(record.moments[0].values) == {"surface_temperature": 15.0}
    assert [sensor_used.source for sensor_used in record.sensors] == ["typed"]
    spans = record.stretches[-1].spans
    assert set(spans) == {"surface_temperature"}
    found_c = spans["surface_temperature"]
    assert (found_c.minimum, found_c.mean, found_c.maximum) == (15.0, 15.0, 15.0)
    assert found_c.source == Source("surface_temperature", "panel", typed=True)
    assert found_c.away_min == pytest.approx(104, abs=1)


# names that try something


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "../../etc/passwd", "\"'&<b>", "門 Тормоз", "=1+1", "a;b"]
)
def test_a_name_with_markup_or_a_path_is_only_a_name(tmp_path: Path, name: str) -> None:
    garage = open_garage(tmp_path)
    garage.mix(PRIMER, 5, part=name, job=name, batch=name, who=name)
    garage.bench.note(1, name, now=garage.clock())
    browser = garage.app.test_client()
    texts = {"job": name}
    for path in ("/logbook", "/handover.html", "/handover.pdf", "/logbook.csv"):
        answer = browser.get(path, query_string=texts)
        assert answer.status_code == 200
        assert "html" not in str(answer.mimetype) or b"<script>alert" not in answer.data
        disposition = answer.headers.get("Content-Disposition", "")
        assert re.fullmatch(
            r'((attachment|inline); filename="[a-z-]+\.(html|pdf|csv)")?', disposition
        )
    assert "1 step" in browser.get("/logbook", query_string={"find": name}).text
    assert sorted(file.name for file in tmp_path.iterdir() if file.is_dir()) == []
    garage.store.close()


@pytest.mark.parametrize(
    "address",
    [
        "/logbook?from=x",
        "/logbook?from=0000-00-00",
        "/logbook?to=9999-12-31",
        "/logbook?from=0001-01-01",
        "/logbook?page=x",
        "/logbook?page=0",
        "/logbook?page=999999999999999",
        "/logbook?sort=-eaten",
        "/logbook?pick=1.x.1.7.99999999999999999999",
        "/logbook?state=eaten",
        "/logbook?product=nothing",
        "/logbook?find=" + "x" * 5000,
    ],
)
def test_no_address_of_the_log_breaks(tmp_path: Path, address: str) -> None:
    garage = open_garage(tmp_path)
    garage.mix(PRIMER, 5)
    answer = garage.app.test_client().get(address)
    assert answer.status_code in (200, 400, 404)
    assert "Something went wrong" not in answer.text
    garage.store.close()


def test_the_command_filters_and_finds(run: Run) -> None:
    run("mix", ADHESIVE, "--part", "skin", "--job", "roof")
    run("mix", PRIMER, "--part", "gutter")
    for words, there, gone in (
        (("--find", "gut"), "gutter", "skin"),
        (("--job", "roof"), "skin", "gutter"),
        (("--part", "gutter"), "gutter", "skin"),
        (("--state", "hardening"), "skin", "No step yet"),
        (("--product", PRIMER), "Predicted when mixed", "skin"),
        (
            ("--from", "2020-01-01", "--until", "2099-12-31", "--most", "1"),
            "The last 1 of 2",
            "skin",
        ),
    ):
        code, out, _ = run("log", *words)
        assert (code, there in out, gone in out) == (0, True, False), words
    assert run("log", "--from", "yesterday")[0] == 2
    run("mix", PRIMER, "--part", "gutter, again")
    code, out, _ = run("step", "compare", "2", "3")
    assert (code, "* part: gutter | gutter, again" in out) == (0, True)


def test_a_reader_s_zone_decides_the_day(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    late = datetime(2026, 11, 14, 0, 30, tzinfo=ZoneInfo("Europe/Berlin")).astimezone(UTC)
    bench.start(PRIMER, now=late)
    day = datetime(2026, 11, 14, tzinfo=BERLIN)
    assert bench.store.find(StepQuery(since=day, until=day + timedelta(days=1))) == [1]
    assert bench.store.find(StepQuery(until=day)) == []


# what the model took, for someone without a sensor


@pytest.fixture
def typed_only(tmp_path: Path) -> Bench:
    """Panel, air and humidity typed half an hour before the mix, nothing since."""
    bench = opened(tmp_path)
    for place, quantity, value in (
        ("panel", "surface_temperature", 15.0),
        ("air", "air_temperature", 16.0),
        ("air", "relative_humidity", 60.0),
    ):
        bench.store.add_readings([make_reading(place, quantity, value, ago(230), "typed")])
    bench.start(ADHESIVE, now=ago(200), details=Details(part="patch", job=JOB))
    return bench


def test_the_log_of_someone_without_a_sensor_holds_what_its_times_came_from(
    typed_only: Bench,
) -> None:
    record = logbook.entry(typed_only, typed_only.step(1), NOW)
    spans = record.stretches[-1].spans
    assert [(name, round(span.mean, 1)) for name, span in spans.items()] == [
        ("surface_temperature", 15.0),
        ("air_temperature", 16.0),
        ("relative_humidity", 60.0),
        # dew point of 16 C and 60 %: 8.24 C (psychrolib 2.5.0)
        ("dew_point_spread", pytest.approx(15.0 - 8.24, abs=0.06)),
    ]
    surface = spans["surface_temperature"]
    assert surface.source == Source("surface_temperature", "panel", typed=True)
    assert (round(surface.away_min), surface.gap) == (230, True)
    assert {sensor_used.source for sensor_used in record.sensors} == {"typed"}


def test_terminal_csv_json_and_paper_name_source_and_age(typed_only: Bench) -> None:
    record = logbook.entry(typed_only, typed_only.step(1), NOW)
    text = Terminal(ReaderFormat(BERLIN)).log([record], NOW)
    assert "15.0 °C throughout (typed, not read for up to 3 h 50)" in text
    head, *rows = csv.reader(logbook.csv_lines([record]))
    last = dict(zip(head, rows[-1], strict=True))
    assert last["surface_temperature_mean"] == "15.0"
    assert last["surface_temperature_source"] == "typed panel/surface_temperature"
    assert last["surface_temperature_age_min"] == "230"
    span = bench_json.stretch(record.stretches[-1])["surface_temperature"]
    assert span["source"] == {
        "quantity": "surface_temperature",
        "place": "panel",
        "kind": "typed",
    }
    assert (span["age_min"], span["gap"]) == (230.0, True)
    paper = to_html(document(typed_only, JOB, NOW, BERLIN, PAPER.say))
    assert "typed, not read for up to 3 h 50" in paper
    assert "not measured" not in paper.split("from mixing until")[1].split("</table>")[0]


def test_what_no_reading_stands_for_stays_a_gap(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    bench.start(ADHESIVE, now=ago(100))
    record = logbook.entry(bench, bench.step(1), NOW)
    assert not any(step_stretch.spans for step_stretch in record.stretches)
    assert "nothing measured" in Terminal(ReaderFormat(BERLIN)).log([record], NOW)
