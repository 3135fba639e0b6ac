"""Typed readings: a later one corrects, any can be taken back, and everything follows."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path
from sqlite3 import connect
from tempfile import TemporaryDirectory
from typing import Any, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.bench.bench import Bench, Details
from curewatch.bench.reader import BenchReader
from curewatch.climate.flag import REPLACED
from curewatch.climate.reading import Quantity, Reading
from curewatch.exchange import export_json, import_json
from curewatch.logbook import undo
from curewatch.quality import typed
from curewatch.quality.intake import Intake
from curewatch.store import measured as marking
from curewatch.store import revisions, rollup
from curewatch.store.migrations import bursts, schema
from curewatch.store.search import StepQuery
from curewatch.store.store import Store
from sensors.manual import typed_readings
from tests.conftest import Run
from tests.support.dash_pages import sent, touched
from tests.support.many import cases
from tests.support.pages import Garage

AT = datetime(2026, 11, 5, 19, 30, tzinfo=UTC)
HOUR, SECOND = timedelta(hours=1), timedelta(seconds=1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    store = Store(tmp_path / "curewatch.sqlite")
    yield store
    store.close()


def surface(value: float, minutes: float = 0.0, place: str = "panel") -> Reading:
    return Reading(place, "surface_temperature", value, AT + timedelta(minutes=minutes))


def enter(store: Store, reading: Reading, *, also: bool = False) -> typed.Entered:
    return typed.enter(store, Intake(store), [reading], reading.at, both_right=also)


def values(store: Store, bucket_s: float = 60.0) -> list[float]:
    readings = store.readings(AT - 24 * HOUR, AT + 24 * HOUR, bucket_s=bucket_s)
    return [round(reading.value, 6) for reading in readings]


def everywhere(store: Store) -> list[float]:
    """What stands by minute, by hour, in the roll-ups, the tiles and the latest."""
    measured_spans = store.measured_spans(AT - 24 * HOUR, AT + 24 * HOUR)
    now = AT + HOUR
    reader = BenchReader(store)
    return [
        *values(store),
        *values(store, 3600.0),
        *(
            value
            for measured_span in measured_spans
            for value in (measured_span.minimum, measured_span.maximum)
        ),
        *(reading.value for reading in store.latest()),
        *(tile.value or 0.0 for tile in reader.view(now).air),
    ]


def test_the_later_value_of_a_burst_stands_everywhere(store: Store) -> None:
    enter(store, surface(41.0))
    assert enter(store, surface(8.0, 5 / 60)).replaced == (surface(41.0),)
    assert set(everywhere(store)) == {8.0}
    assert [(reading.value, reading.flag) for reading in typed.history(store, AT + HOUR)] == [
        (8.0, None),
        (41.0, REPLACED),
    ]


@pytest.mark.parametrize(("minutes", "stand"), [(9.9, [8.0]), (10.1, [41.0, 8.0]), (-3.0, [8.0])])
def test_a_typed_reading_replaces_one_up_to_ten_minutes_away(
    store: Store, minutes: float, stand: list[float]
) -> None:
    enter(store, surface(41.0))
    enter(store, surface(8.0, minutes))
    assert values(store) == stand


def test_both_stand_where_both_are_right_and_other_places_and_sensors_are_left(
    store: Store,
) -> None:
    store.add_readings([Reading("panel", "surface_temperature", 12.0, AT, "probe")])
    enter(store, surface(12.0))
    enter(store, surface(15.0, 5), also=True)
    enter(store, surface(30.0, 6, "lamp"))
    assert sorted(values(store)) == [12.0, 12.0, 15.0, 30.0]


def test_a_sensor_that_reports_every_second_is_still_averaged(store: Store) -> None:
    noisy = [
        Reading("panel", "surface_temperature", 14.0 + n % 2, AT + n * SECOND, "probe")
        for n in range(60)
    ]
    Intake(store).take(noisy)
    assert values(store) == [14.5]


def test_a_value_typed_again_for_the_same_instant_corrects_it_and_the_same_is_kept_once(
    store: Store,
) -> None:
    enter(store, surface(41.0))
    assert enter(store, surface(41.0)).new == 0
    assert enter(store, surface(8.0)).new == 1
    assert values(store) == [8.0]


def test_a_reading_taken_back_counts_nowhere_and_can_be_typed_again(store: Store) -> None:
    enter(store, surface(10.0, -120))
    enter(store, surface(41.0))
    typed.take_back(store, typed.last_typed(store, AT + HOUR), AT + 2 * HOUR)
    assert set(everywhere(store)) == {10.0}
    enter(store, surface(41.0))
    assert values(store) == [10.0, 41.0]


def test_the_only_reading_taken_back_leaves_nothing_in_the_roll_ups(store: Store) -> None:
    enter(store, surface(41.0))
    typed.take_back(store, [surface(41.0)], AT + HOUR)
    assert everywhere(store) == []
    assert store.places() == set()


def test_where_the_correction_was_the_slip_the_first_value_stands_again(store: Store) -> None:
    for minutes, value in ((0, 14.0), (4, 41.0)):
        enter(store, surface(value, minutes))
    typed.take_back(store, [surface(41.0, 4)], AT + HOUR)
    assert values(store) == [14.0]
    typed.use_again(store, [surface(41.0, 4)], AT + HOUR)
    assert values(store) == [14.0, 41.0]


def test_what_a_replaced_reading_had_replaced_stays_replaced(store: Store) -> None:
    for minutes, value in ((0, 14.0), (4, 41.0), (6, 14.2)):
        enter(store, surface(value, minutes))
    typed.take_back(store, [surface(41.0, 4)], AT + HOUR)
    assert values(store) == [14.2]
    typed.take_back(store, [surface(14.2, 6)], AT + HOUR)
    assert values(store) == [14.0]


def test_a_running_bench_follows_at_once(store: Store) -> None:
    bench = Bench(store)
    enter(store, surface(12.0, -60))
    enter(store, surface(41.0, -30))
    number = bench.start("epoxy-panel-adhesive", now=AT - HOUR / 2, details=Details(amount_g=60.0))
    warm = bench.step_view(number, AT).milestones[0].likely
    typed.take_back(store, [surface(41.0, -30)], AT)
    cold = bench.step_view(number, AT).milestones[0].likely
    fresh = Bench(store).step_view(number, AT).milestones[0].likely
    assert warm
    assert cold
    assert cold > warm
    assert cold == fresh


def test_half_an_act_is_never_stored(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    enter(store, surface(41.0))

    def fails(*_: object) -> None:
        raise RuntimeError("the power went")

    monkeypatch.setattr(rollup, "work_out", fails)
    with pytest.raises(RuntimeError):
        enter(store, surface(8.0, 1))
    monkeypatch.undo()
    assert values(store) == [41.0]
    assert len(store.entries("reading")) == 1


def test_another_curewatch_that_had_the_slip_drops_it_too(store: Store, tmp_path: Path) -> None:
    bench = Bench(store)
    enter(store, surface(12.0, -60))
    enter(store, surface(41.0, -30))
    bench.start("epoxy-panel-adhesive", now=AT - HOUR / 2)
    with closing(Store(tmp_path / "other.sqlite")) as other:
        for _ in range(2):
            text = "".join(export_json.pieces(bench, StepQuery(), AT))
            json.loads(text)
            import_json.take_in(other, import_json.unpack(text, "file"))
            assert values(other) == values(store)
            if len(values(store)) == 2:
                typed.take_back(store, [surface(41.0, -30)], AT)
        assert values(other) == [12.0]


def test_bursts_of_an_older_file_are_settled_when_it_is_opened(tmp_path: Path) -> None:
    path = tmp_path / "curewatch.sqlite"
    with pytest.MonkeyPatch.context() as before:
        kept = schema.MIGRATIONS[: schema.MIGRATIONS.index(bursts.settle)]
        before.setattr(schema, "MIGRATIONS", kept)
        with closing(Store(path)) as old:
            old._connection.execute(revisions.TABLE)
            old.add_readings([surface(41.0), surface(8.0, 5 / 60), surface(9.0, 5)])
            old.add_readings([Reading("air", "air_temperature", 9.0, AT, "probe")])
            assert values(old)[0] == 24.5
    with closing(Store(path)) as store:
        assert sorted(values(store)) == [8.0, 9.0, 9.0]
        assert store.measured_spans(AT, AT)[1].maximum == 9.0
        typed.take_back(store, [surface(8.0, 5 / 60)], AT + HOUR)
        assert sorted(values(store)) == [9.0, 9.0, 41.0]
    with closing(connect(path)) as database:
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)


ACTS = st.lists(
    st.tuples(
        st.sampled_from(("enter", "also", "back", "again", "undo", "undo")),
        st.integers(0, 40),
        st.floats(5, 30).map(lambda value: round(value, 1)),
        st.sampled_from(("surface_temperature", "relative_humidity")),
    ),
    max_size=14,
)


@given(ACTS)
@settings(max_examples=cases(40))
def test_after_any_acts_rows_roll_ups_and_ledger_agree(
    acts: list[tuple[str, int, float, Quantity]],
) -> None:
    with TemporaryDirectory() as folder, closing(Store(Path(folder) / "log.sqlite")) as store:
        for kind, minutes, value, quantity in acts:
            at, now = AT + timedelta(minutes=minutes), AT + HOUR
            readings = typed.history(store, now)
            if kind in ("enter", "also"):
                reading = Reading("panel", quantity, value, at)
                typed.enter(store, Intake(store), [reading], now, both_right=kind == "also")
            elif kind == "undo":
                for act in list(islice(undo.last_acts(store), 1 + minutes % 3))[-1:]:
                    if not act.undone:
                        undo.undo(Bench(store), act, now=now)
            elif readings:
                change = typed.take_back if kind == "back" else typed.use_again
                change(store, [readings[minutes % len(readings)]], now)
        marked = {
            marking.key_of(entry): entry.flag
            for entry in typed.history(store, AT + HOUR)
            if entry.flag
        }
        flags = {key: flag for key, (flag, _) in typed.marks(store.all_entries("reading")).items()}
        assert marked == flags
        standing = [entry for entry in typed.history(store, AT + HOUR) if not entry.flag]
        assert sum(span.readings for span in store.measured_spans(AT, AT + HOUR)) == len(standing)
        with store._write() as connection:
            rows = connection.execute("SELECT * FROM hour ORDER BY hour, series").fetchall()
            connection.execute("DELETE FROM hour")
            again = [(n, h * rollup.HOUR_MS, 0.0, None) for h, n, *_ in rows]
            rollup.work_out(connection, again)
            assert rows == connection.execute("SELECT * FROM hour ORDER BY hour, series").fetchall()


def undo_last(store: Store) -> None:
    undo.undo(Bench(store), next(undo.last_acts(store)), now=AT + HOUR)


def test_typing_is_undone_and_brought_back_like_any_act(store: Store) -> None:
    enter(store, surface(14.0))
    enter(store, surface(41.0, 4))
    undo_last(store)
    assert values(store) == [14.0]
    undo_last(store)
    assert values(store) == [41.0]
    typed.take_back(store, [surface(41.0, 4)], AT + HOUR)
    assert values(store) == [14.0]
    undo_last(store)
    assert values(store) == [41.0]


def test_what_is_undone_says_what_it_was(run: Run) -> None:
    run("reading", "add", "--humidity", "68 %")
    assert "Undone: Reading entered: relative humidity 68 %." in run("undo")[1]
    assert "68 %" not in run("sensor", "list")[1]
    assert "Brought back: Reading entered" in run("undo", "2")[1]
    assert "68 %" in run("sensor", "list")[1]


def named(store: Store, *told: tuple[str, float, str, float]) -> None:
    store.add_readings(
        [
            Reading(place, cast(Quantity, quantity), value, AT + timedelta(minutes=minutes), "x")
            for place, minutes, quantity, value in told
        ]
    )


@pytest.mark.parametrize(
    ("before", "text", "meant"),
    [
        ((-6, 14.2), "58 C", 14.444),  # 44 K in six minutes, and 58 F fits
        ((-6, 14.2), "14 F", 14.0),  # half of what a sensor may go away, and 14 C fits
        ((-0.1, 14.2), "30 C", None),  # 16 K in six seconds; 30 F does not fit better
        ((-60, 8.0), "45 C", 7.222),
        ((-60, 8.0), "30 C", "fits"),  # a lamp may do that in an hour
        ((-60, 40.0), "14.2 C", "fits"),
        (None, "58 C", 14.444),
        (None, "14.2 C", "fits"),
        (None, "58 F", "fits"),
        (None, "330 K", None),
    ],
)
def test_a_value_further_away_than_a_sensor_may_go_is_asked_about(
    store: Store, before: tuple[float, float] | None, text: str, meant: float | str | None
) -> None:
    if before:
        named(store, ("panel", before[0], "surface_temperature", before[1]))
    texts: dict[Quantity, str] = {"surface_temperature": text}
    slips = typed.suspects(store, typed_readings.typed("panel", AT, texts), texts)
    values = [slip.meant_c and round(slip.meant_c, 3) for slip in slips]
    assert values == ([] if meant == "fits" else [meant])


def test_what_a_value_corrects_is_not_held_against_it(store: Store) -> None:
    enter(store, surface(14.0, -60))
    enter(store, surface(58.0))
    texts: dict[Quantity, str] = {"surface_temperature": "14 C"}
    readings = typed_readings.typed("panel", AT + 5 * SECOND, texts)
    assert typed.suspects(store, readings, texts) == []
    assert len(typed.suspects(store, readings, texts, both_right=True)) == 1


def test_humidity_jumps_are_asked_about_too(store: Store) -> None:
    named(store, ("air", -1, "relative_humidity", 20.0))
    texts: dict[Quantity, str] = {"relative_humidity": "86 %"}
    (slip,) = typed.suspects(store, typed_readings.typed("air", AT, texts), texts)
    assert (slip.meant, slip.meant_c) == ("", None)


def test_a_slip_on_the_command_line_is_corrected_refused_and_taken_back(run: Run) -> None:
    assert run("reading", "add", "--surface", "14 C", "--ago", "2 h")[0] == 0
    code, out, text = run("reading", "add", "--surface", "58 C")
    assert (code, out) == (2, "")
    assert "if you meant °F: 14.4 °C, enter '58 F'; if it is right, add --yes" in text
    assert run("reading", "add", "--surface", "58 C", "--yes")[0] == 0
    code, out, _ = run("reading", "add", "--surface", "15 C")
    assert (code, "It replaces panel surface 58.0 °C" in out) == (0, True)
    assert "15.0 °C" in run("sensor", "list")[1]
    code, out, _ = run("reading", "remove", "--surface", "15 C")
    assert "Taken back: panel surface 15.0 °C" in out
    assert "Used again: panel surface 58.0 °C" in out
    assert "Taken back: panel surface 58.0 °C" in run("reading", "remove")[1]
    assert "14.0 °C" in run("sensor", "list")[1]
    listed = json.loads(run("reading", "list", "--json")[1])["readings"]
    assert [(entry["value"], entry["flag"]) for entry in listed] == [
        (15.0, {"code": "taken_back"}),
        (58.0, {"code": "taken_back"}),
        (14.0, None),
    ]
    assert "panel surface 58.0 °C" in run("reading", "list")[1]
    assert "was typed for panel" in run("reading", "remove", "--surface", "58 C")[2]


def test_a_folder_named_before_the_sub_command_is_the_one_it_answers_from(
    run: Run, tmp_path: Path
) -> None:
    other = str(tmp_path / "other")
    run("reading", "add", "--surface", "8 C", "--data", other)
    for words in (("--data", other, "list"), ("list", "--data", other)):
        assert "panel surface 8.0" in run("reading", *words)[1]
    assert "You have typed no reading yet." in run("reading", "list")[1]


def test_nothing_typed_is_nothing_to_take_back(run: Run) -> None:
    assert "no typed reading stands" in run("reading", "remove")[2]
    assert run("reading", "list")[1] == "You have typed no reading yet.\n"


def typed_on_page(garage: Garage, **boxes: str) -> list[tuple[str, str]]:
    """Type a reading on the sensors page; the answers of its question, each with its key."""
    _, more = sent(garage.app.test_client(), "typed reading", boxes)
    text = json.dumps(more.get("asked", {}).get("children"), ensure_ascii=False)
    props = [button["props"] for button in buttons(json.loads(text))]
    return [(prop["children"], prop["id"]["key"]) for prop in props]


def buttons(node: Any) -> list[Any]:
    """The buttons in a tree of components."""
    if isinstance(node, list):
        return [button for child in node for button in buttons(child)]
    if not isinstance(node, dict):
        return []
    if node.get("type") == "Button":
        return [node]
    return buttons(node.get("props", {}).get("children"))


def seen(garage: Garage) -> list[float]:
    readings = typed.history(garage.store, garage.clock())
    return [round(reading.value, 1) for reading in readings if not reading.flag]


def test_the_page_asks_and_takes_the_other_unit(garage: Garage) -> None:
    (meant, key), *_ = typed_on_page(garage, place="panel", surface="58", humidity="68", ago="3")
    assert meant == "It was °F: 14.4 °C"
    assert seen(garage) == []
    touched(garage.app.test_client(), "typed for sure", key)
    assert sorted(seen(garage)) == [14.4, 68.0]
    assert typed.history(garage.store, garage.clock())[0].at == garage.clock() - timedelta(
        minutes=3
    )


def test_the_page_keeps_what_is_right_and_takes_it_back(garage: Garage) -> None:
    browser = garage.app.test_client()
    answers = dict(typed_on_page(garage, place="new lamp", surface="58"))
    touched(browser, "typed for sure", answers["It is right: 58.0 °C"])
    assert seen(garage) == [58.0]
    assert ">Take back</button>" in browser.get("/air/sensors").text
    key = json.dumps(["lamp", "surface_temperature", round(garage.clock().timestamp() * 1000)])
    back = touched(browser, "typed taken back", key)["did"]["data"]
    assert back["said"] == "Taken back: lamp surface 58.0 °C (19:42)."
    assert seen(garage) == []
    assert ">Use again</button>" in browser.get("/air/sensors").text
    again = touched(browser, "typed again", key)["did"]["data"]
    assert "Used again: lamp surface" in again["said"]
    assert seen(garage) == [58.0]


def test_a_reading_is_typed_in_one_line_as_on_the_page(run: Run) -> None:
    assert run("reading", "add", "14.2")[0] == 0
    assert "panel surface 14.2 °C" in run("reading", "list")[1]
    code, out, _ = run("reading", "add", "12", "air", "13", "60 %")
    assert code == 0
    assert "It replaces panel surface 14.2 °C" in out
    listed = run("reading", "list")[1]
    for words in ("panel surface 12.0 °C", "air air temperature 13.0 °C", "air humidity 60 %"):
        assert words in listed


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("cold",), "isn't a reading"),
        (("14", "--air", "15 C"), "'14' stands beside an option; give one or the other"),
    ],
)
def test_a_line_that_is_no_reading_is_refused_with_what_to_do(
    run: Run, words: tuple[str, ...], says: str
) -> None:
    code, _, text = run("reading", "add", *words)
    assert code == 2
    assert says in text


@pytest.mark.parametrize("key", ["", "x", "[]", '["lamp","x","soon"]', '{"place":1}', "[1,2,3,4]"])
@pytest.mark.parametrize("act", ["typed taken back", "typed again", "typed for sure"])
def test_a_touch_on_a_reading_that_is_not_there_is_refused(
    garage: Garage, act: str, key: str
) -> None:
    words = touched(garage.app.test_client(), act, key)["did"]["data"]["said"]
    assert "Something went wrong" not in words
    assert seen(garage) == []
