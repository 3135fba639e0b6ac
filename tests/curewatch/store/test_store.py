"""What was accepted stays, once, in one file."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from curewatch.climate.flag import Flag
from curewatch.climate.reading import Reading, make_reading
from curewatch.errors import StoreError
from curewatch.store.migrations.schema import newest
from curewatch.store.store import Store

AT = datetime(2026, 10, 17, 18, 0, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "curewatch.sqlite")


def surface(minute: float, value: float = 14.0, flag: Flag | None = None) -> Reading:
    at = AT + timedelta(minutes=minute)
    return make_reading("panel", "surface_temperature", value, at, "probe", flag)


def test_storing_twice_is_storing_once(store: Store) -> None:
    readings = [surface(i) for i in range(10)]
    assert store.add_readings(readings) == 10
    assert store.add_readings(readings) == 0
    assert store.readings(AT, AT + timedelta(hours=1)) == readings


def test_a_flagged_reading_is_kept_and_shown_but_not_used(store: Store) -> None:
    store.add_readings([surface(0), surface(1, 40.0, flag=Flag("jump", gap=26.0, seconds=60.0))])
    assert [reading.value for reading in store.readings(AT, AT + timedelta(hours=1))] == [14.0]
    assert store.latest()[0].flag == Flag("jump", gap=26.0, seconds=60.0)


def test_buckets_hold_the_mean(store: Store) -> None:
    store.add_readings([surface(0, 10), surface(0.5, 12), surface(1, 20)])
    values = [reading.value for reading in store.readings(AT, AT + timedelta(hours=1), bucket_s=60)]
    assert values == [11.0, 20.0]


@pytest.mark.parametrize("bucket_s", [0.001, 60, 3600])
def test_the_readings_of_one_place_are_those_of_all_that_are_its(
    store: Store, bucket_s: float
) -> None:
    outdoors = [replace(surface(i, 5.0), place="outdoors") for i in range(3)]
    store.add_readings([surface(0), surface(1), *outdoors])
    span = (AT, AT + timedelta(hours=3))
    every = store.readings(*span, bucket_s=bucket_s)
    one = store.readings(*span, bucket_s=bucket_s, place="outdoors")
    assert one == [reading for reading in every if reading.place == "outdoors"]
    assert 0 < len(one) < len(every)


def test_events_come_back_as_told(store: Store) -> None:
    body = {"part": "rib, left «hinten»", "amount_g": 35.0}
    step = store.add_step("finishing-polyester-filler", AT, AT, body)
    store.add_event(step, "witnessed", AT, AT, {"state": "tacky", "sample": "smear"})
    events = store.events([step])[step]
    assert [event.kind for event in events] == ["started", "witnessed"]
    assert events[0].body == body
    assert [row.id for row in store.steps(only_open=True)] == [step]
    store.add_event(step, "finished", AT, AT, {})
    assert store.steps(only_open=True) == []


def test_refusals_are_counted(store: Store) -> None:
    for minute in range(3):
        store.refuse(AT + timedelta(minutes=minute), "curewatch/panel/x", "'abc' is not a number.")
    (refused,) = store.refusals()
    assert (refused.count, refused.last) == (3, AT + timedelta(minutes=2))


def test_the_revision_changes_with_every_write_of_any_process(store: Store) -> None:
    before = store.revision()
    assert store.revision() == before
    store.add_readings([surface(0)])
    own = store.revision()
    assert own != before
    other = Store(store.path)
    other.add_readings([surface(1)])
    assert store.revision() != own


def test_a_database_from_a_newer_version_is_left_alone(store: Store) -> None:
    with sqlite3.connect(store.path) as connection:
        connection.execute(f"PRAGMA user_version = {newest() + 1}")
    with pytest.raises(StoreError, match="written by a newer curewatch"):
        Store(store.path)


def test_a_file_that_is_no_database_is_said_so(tmp_path: Path) -> None:
    path = tmp_path / "curewatch.sqlite"
    path.write_bytes(b"no database at all, but long enough to be looked at" * 20)
    with pytest.raises(StoreError, match="cannot be opened"):
        Store(path)
    assert path.read_bytes().startswith(b"no database")


def test_a_folder_that_cannot_be_made_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StoreError, match="cannot be opened"):
        Store(tmp_path / "file" / "curewatch.sqlite")


def test_the_file_is_the_owners_only(store: Store) -> None:
    assert store.path.stat().st_mode & 0o077 == 0


def test_a_failed_batch_stores_nothing(store: Store) -> None:
    bad = Reading("panel", "surface_temperature", None, AT, "probe")  # type: ignore[arg-type]
    with pytest.raises(StoreError, match="nothing could be stored"):
        store.add_readings([surface(0), bad])
    assert store.latest() == []
    assert store.add_readings([surface(0)]) == 1


WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from curewatch.store.store import Store
store = Store(Path(sys.argv[1]))
at = datetime(2026, 10, 17, 18, 0, tzinfo=UTC)
while True:
    print(store.add_step("epoxy-primer", at, at, {"part": "roof seam"}), flush=True)
"""


def test_every_confirmed_step_survives_kill_9(tmp_path: Path) -> None:
    path, confirmed = tmp_path / "curewatch.sqlite", 0
    Store(path).close()
    for _ in range(8):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True
        )
        assert writer.stdout is not None
        lines = [writer.stdout.readline() for _ in range(5)]
        writer.kill()
        lines += writer.stdout.read().split("\n")
        writer.wait()
        writer.stdout.close()
        confirmed = max(int(line) for line in lines if line.strip())
        kept = {row.id for row in Store(path).steps()}
        assert set(range(1, confirmed + 1)) <= kept
    check = sqlite3.connect(path)
    assert check.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    check.close()


def test_one_step_is_found_by_its_number(store: Store) -> None:
    store.add_step("epoxy-primer", AT, AT, {})
    number = store.add_step("seam-sealer", AT, AT, {})
    step_row = store.step(number)
    assert step_row is not None
    assert (step_row.sheet, step_row.mixed_at, step_row.closed_at) == ("seam-sealer", AT, None)
    assert store.step(number + 1) is None
    assert [row.id for row in store.steps(sheet="seam-sealer", only_open=True)] == [number]


def test_the_places_known_are_those_measured_and_those_of_open_steps(store: Store) -> None:
    assert store.places() == set()
    store.add_readings([make_reading("shelf", "air_temperature", 9, AT, "probe")])
    door = store.add_step("epoxy-primer", AT, AT, {"place": "door"})
    roof = store.add_step("epoxy-primer", AT, AT, {"part": "no place told"})
    assert store.places() == {"shelf", "door", "panel"}
    store.add_event(roof, "amended", AT, AT, {"place": "roof"})
    store.add_event(door, "finished", AT, AT, {})
    assert store.places() == {"shelf", "roof"}
    store.add_event(roof, "amended", AT, AT, {"place": "panel"})
    assert store.places() == {"shelf", "panel"}
    assert store.step_places() == {"door", "panel"}


def test_the_latest_readings_are_looked_up_series_by_series(store: Store) -> None:
    store.add_readings([surface(i) for i in range(9)])
    seen: list[str] = []
    reader = sqlite3.connect(store.path)
    store._connection.set_trace_callback(seen.append)
    assert store.latest() == [surface(8)]
    plan = [row[3] for row in reader.execute(f"EXPLAIN QUERY PLAN {seen[0]}")]
    reader.close()
    assert [line for line in plan if line.startswith("SCAN")] == ["SCAN series"]


def test_the_last_steps_looked_at_are_those_with_a_witness_or_a_test(store: Store) -> None:
    numbers = [store.add_step("epoxy-primer", AT, AT, {}) for _ in range(6)]
    other = store.add_step("seam-sealer", AT, AT, {})
    for step in (*numbers[:3], numbers[4], other):
        store.add_event(step, "witnessed", AT, AT, {"state": "tacky", "sample": "smear"})
    store.add_event(numbers[5], "tested", AT, AT, {"milestone": "sand_ready", "result": "reached"})
    store.add_event(numbers[3], "noted", AT, AT, {"text": "thin"})
    seen = [numbers[5], numbers[4], *numbers[2::-1]]
    assert store.looked_at("epoxy-primer") == seen


def test_a_reading_takes_at_most_forty_bytes_of_the_file(store: Store) -> None:
    kinds = [
        ("panel", "surface_temperature"),
        ("air", "air_temperature"),
        ("air", "relative_humidity"),
    ]
    for first in range(0, 20_000, 500):
        store.add_readings(
            [
                make_reading(
                    place, quantity, 14.03 + i % 97 / 7, AT + timedelta(seconds=2 * i), "probe"
                )
                for i in range(first, first + 500)
                for place, quantity in kinds
            ]
        )
    store.close()
    assert store.path.stat().st_size / 60_000 <= 40
