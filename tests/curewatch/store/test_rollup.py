"""Each hour's least, mean, most and count are those of its readings, however they came."""

from __future__ import annotations

import random
import sqlite3
from collections import defaultdict
from collections.abc import Sequence
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.climate.flag import REPLACED, Flag
from curewatch.climate.reading import QUANTITIES, Reading
from curewatch.store.measured import key_of
from curewatch.store.migrations import schema
from curewatch.store.rollup import MeasuredSpan
from curewatch.store.store import Store
from curewatch.walltime import to_ms
from tests.support.many import cases

AT = datetime(2026, 10, 17, 18, 0, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "curewatch.sqlite")


def surface(
    minute: float, value: float, flag: Flag | None = None, source: str = "probe"
) -> Reading:
    at = AT + timedelta(minutes=minute)
    return Reading("panel", "surface_temperature", value, at, source, flag)


def by_hand(readings: Sequence[Reading], hours: int = 1) -> list[tuple[object, ...]]:
    """The same from the readings themselves, each taken once."""
    once = {
        (reading.source, reading.place, reading.quantity, reading.at): reading
        for reading in readings[::-1]
    }
    values = defaultdict(list)
    for rolled in once.values():
        if not rolled.flag:
            bucket = int(rolled.at.timestamp()) // (3600 * hours) * 3600 * hours
            values[bucket, rolled.place, QUANTITIES.index(rolled.quantity)].append(rolled.value)
    return [
        (start, place, quantity, min(v), pytest.approx(sum(v) / len(v), abs=2e-9), max(v), len(v))
        for (start, place, quantity), v in sorted(values.items())
    ]


def kept(store: Store, hours: int = 1) -> list[tuple[object, ...]]:
    """What the store holds of every hour."""
    rows = [
        (int(span.start.timestamp()), span.place, QUANTITIES.index(span.quantity), span)
        for span in store.measured_spans(AT - 9 * DAY, AT + 9 * DAY, hours=hours)
    ]
    ordered = sorted(rows, key=lambda row: row[:3])
    return [(*key, h.minimum, h.mean, h.maximum, h.readings) for *key, h in ordered]


def test_an_hour_holds_least_mean_most_and_count(store: Store) -> None:
    store.add_readings([surface(0, 10), surface(20, 14), surface(59.999, 12), surface(60, 30)])
    first, second = store.measured_spans(AT, AT + timedelta(hours=1))
    assert first == MeasuredSpan("panel", "surface_temperature", AT, 10, 12, 14, 3)
    assert (second.start, second.mean, second.readings) == (AT + timedelta(hours=1), 30, 1)


READINGS = st.builds(
    Reading,
    st.sampled_from(("panel", "air")),
    st.sampled_from(QUANTITIES),
    st.floats(-50, 90, allow_nan=False),
    st.integers(0, 40).map(lambda quarter: AT + timedelta(minutes=11 * quarter)),
    st.sampled_from(("a", "b")),
    st.sampled_from((None, None, None, Flag("jump"))),
)


@settings(max_examples=cases(30))
@given(batches=st.lists(st.lists(READINGS, max_size=12), max_size=6), data=st.data())
def test_the_hours_are_exact_after_any_order_of_arrival(
    batches: list[list[Reading]], data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    with closing(Store(tmp_path_factory.mktemp("data") / "curewatch.sqlite")) as store:
        for batch in batches:
            store.add_readings(batch)
        came = [reading for batch in batches for reading in batch]
        assert kept(store) == by_hand(came)
        for hours in (6, 24, 48):
            assert kept(store, hours) == by_hand(came, hours)


def test_the_order_of_arrival_leaves_no_trace(tmp_path: Path) -> None:
    came = [surface(i / 7, random.Random(i).uniform(-20, 40)) for i in range(2000)]
    spans = []
    for seed in range(3):
        random.Random(seed).shuffle(came)
        with closing(Store(tmp_path / f"{seed}.sqlite")) as store:
            for first in range(0, 2000, 90):
                store.add_readings(came[first : first + 100])
            spans.append(store.measured_spans(AT, AT + DAY))
    assert spans[0] == spans[1] == spans[2]
    assert sum(measured_span.readings for measured_span in spans[0]) == 2000


def test_two_sensors_at_one_place_are_held_together(store: Store) -> None:
    store.add_readings([surface(1, 10, source="left"), surface(1, 13, source="right")])
    store.add_readings([surface(2, 10, source="left")])
    assert store.measured_spans(AT, AT) == [
        MeasuredSpan("panel", "surface_temperature", AT, 10, 11, 13, 3)
    ]


def test_one_place_is_held_alone_where_asked(store: Store) -> None:
    store.add_readings([surface(1, 10), Reading("air", "air_temperature", 5, AT, "probe")])
    assert [span.place for span in store.measured_spans(AT, AT, place="air")] == ["air"]


def test_a_day_follows_when_a_reading_of_it_is_used_no_more(store: Store) -> None:
    store.add_readings([surface(1, 10, source="typed"), surface(20, 14, source="typed")])
    store.mark("typed", {key_of(surface(20, 14)): REPLACED})
    assert kept(store, 24) == by_hand([surface(1, 10)], 24)
    store.mark("typed", {key_of(surface(1, 10)): REPLACED})
    assert kept(store, 24) == []


def test_a_failed_batch_leaves_the_hours_as_they_were(store: Store) -> None:
    store.add_readings([surface(1, 10)])
    before = store.measured_spans(AT, AT)
    bad = Reading("panel", "surface_temperature", None, AT, "probe")  # type: ignore[arg-type]
    with pytest.raises(OSError, match="nothing could be stored"):
        store.add_readings([surface(2, 50), bad])
    assert store.measured_spans(AT, AT) == before


@pytest.mark.parametrize(("first", "last"), [(0, 600), (17, 583), (60, 119), (70, 80), (59, 61)])
@pytest.mark.parametrize("hours", [1, 3])
def test_hourly_means_are_the_same_from_roll_ups_as_from_readings(
    store: Store, first: int, last: int, hours: int
) -> None:
    store.add_readings(
        [surface(i * 1.7, 14 + i % 13, None if i % 5 else Flag("stuck")) for i in range(360)]
    )
    start, end = AT + timedelta(minutes=first), AT + timedelta(minutes=last)
    ours = store.readings(start, end, bucket_s=3600 * hours)
    groups: dict[int, list[Reading]] = defaultdict(list)
    for reading in store.readings(start, end):
        groups[int(reading.at.timestamp()) // (3600 * hours)].append(reading)
    assert len(ours) == len(groups)
    for mean, group in zip(ours, groups.values(), strict=True):
        assert mean.value == pytest.approx(sum(r.value for r in group) / len(group), abs=2e-9)
        middle = sum(r.at.timestamp() for r in group) / len(group)
        assert mean.at.timestamp() == pytest.approx(middle, abs=0.001)


def old_file(path: Path, readings: Sequence[Reading]) -> None:
    """A file of the first format, without roll-ups, of one series."""
    with closing(sqlite3.connect(path)) as database:
        database.executescript(str(schema.MIGRATIONS[0]))
        database.execute("INSERT INTO series VALUES (1, 'probe', 'panel', 0)")
        rows = [
            (to_ms(reading.at), reading.value, "jumped" if reading.flag else None)
            for reading in readings
        ]
        database.executemany("INSERT INTO reading VALUES (1, ?, ?, ?)", rows)
        database.execute("PRAGMA user_version = 1")
        database.commit()


def test_a_file_of_the_first_format_is_led_on_and_a_copy_of_it_is_kept(
    tmp_path: Path,
) -> None:
    path = tmp_path / "curewatch.sqlite"
    readings = [surface(i, 10 + i % 7, None if i % 11 else Flag("jump")) for i in range(300)]
    old_file(path, readings)
    with closing(Store(path)) as store:
        assert kept(store) == by_hand(readings)
        store.add_readings([surface(301, 5)])
        assert kept(store) == by_hand([*readings, surface(301, 5)])
        assert kept(store, 24) == by_hand([*readings, surface(301, 5)], 24)
    before = tmp_path / f"curewatch.before-format-{schema.newest()}"
    with closing(sqlite3.connect(before)) as copy:
        assert copy.execute("PRAGMA user_version").fetchone() == (1,)
        assert copy.execute("SELECT count(*) FROM reading").fetchone() == (300,)
    assert before.stat().st_mode & 0o077 == 0


def test_a_change_of_format_that_fails_leaves_the_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "curewatch.sqlite"
    old_file(path, [surface(1, 10)])
    with monkeypatch.context() as broken:
        broken.setattr(schema, "MIGRATIONS", [*schema.MIGRATIONS, "CREATE TABLE hour (twice)"])
        with pytest.raises(OSError, match="cannot be opened"):
            Store(path)
    with closing(sqlite3.connect(path)) as database:
        assert database.execute("PRAGMA user_version").fetchone() == (1,)
        assert (
            database.execute("SELECT name FROM sqlite_master WHERE name = 'hour'").fetchall() == []
        )
    with closing(Store(path)) as store:
        assert kept(store) == by_hand([surface(1, 10)])
