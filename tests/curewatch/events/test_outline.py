"""What a step's events say of it is read once: the step, its rows and its can never disagree."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from sqlite3 import connect

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.bench.bench import Bench, Details
from curewatch.garage import cans
from curewatch.garage.cans import CanDetails
from curewatch.garage.step import fold
from curewatch.store import search_index
from curewatch.store.migrations import schema
from curewatch.store.search import StepQuery
from curewatch.store.store import Store
from tests.support.many import cases

NOW = datetime(2026, 10, 24, 9, tzinfo=UTC)
SHEETS = ("epoxy-panel-adhesive", "seam-sealer")


def ago(minutes: float) -> datetime:
    return NOW - timedelta(minutes=minutes)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    store = Store(tmp_path / "curewatch.sqlite")
    return Bench(store)


def agree(bench: Bench) -> None:
    """Hold every index against the steps' own events."""
    store = bench.store
    numbers = [row.id for row in store.steps()]
    steps = [fold(events) for events in store.events(numbers).values()]
    used: dict[tuple[str, str, int], datetime] = {}
    for step in steps:
        row = store.step(step.id)
        assert row is not None
        assert (row.sheet, row.mixed_at, row.closed_at) == (
            step.sheet.id,
            step.mixed_at,
            step.closed_at,
        )
        steps_found = store.find(
            StepQuery(since=step.mixed_at, until=step.mixed_at + timedelta(milliseconds=1))
        )
        assert step.id in steps_found
        for can in cans.cans(store, step.sheet.id):
            if can.batch and can.batch == step.batch:
                used[step.sheet.id, step.batch, can.id] = max(
                    step.mixed_at, used.get((step.sheet.id, step.batch, can.id), step.mixed_at)
                )
    assert [
        (summary.row.mixed_at, summary.part, summary.job, summary.place)
        for summary in store.step_summaries()
    ] == [(step.mixed_at, step.part, step.job, step.place) for step in steps]
    last = {(can.sheet_id, can.batch, can.id): can.last_used for can in cans.cans(store)}
    assert {key: last[key] for key in used} == used


def test_a_mix_whose_time_was_corrected_moves_its_row_its_batch_and_its_can(bench: Bench) -> None:
    cans.add(bench.store, SHEETS[0], CanDetails(batch="A7"), now=ago(900))
    number = bench.start(SHEETS[0], now=ago(300), details=Details(part="sill", job="j"))
    bench.amend(number, Details(), now=NOW, mixed_at=ago(345))
    row = bench.store.step(number)
    assert row is not None
    assert row.mixed_at == bench.step(number).mixed_at == ago(345)
    assert cans.find_can(bench.store, 1).last_used == ago(345)
    assert set(bench.store.batches_used().values()) == {ago(345)}
    assert bench.store.find(StepQuery(until=ago(340))) == [number]
    agree(bench)


acts = st.lists(
    st.tuples(
        st.sampled_from(("mix", "amend", "time", "close", "abandon")),
        st.integers(1, 3),
        st.sampled_from(("", "A7", "B2")),
        st.integers(0, 9000).map(lambda tenths: tenths / 10),
    ),
    min_size=1,
    max_size=12,
)


@settings(max_examples=cases(20))
@given(acts)
def test_whatever_is_told_the_step_and_its_rows_agree(
    tmp_path_factory: pytest.TempPathFactory, told: list[tuple[str, int, str, float]]
) -> None:
    with closing(Store(tmp_path_factory.mktemp("data") / "curewatch.sqlite")) as store:
        bench = Bench(store)
        for batch in ("A7", "B2"):
            cans.add(store, SHEETS[0], CanDetails(batch=batch), now=ago(9999))
        for what, number, batch, minutes in told:
            row = store.step(number)
            details = Details(batch=batch, part=f"part {batch}")
            if what == "mix":
                bench.start(SHEETS[number % 2], now=NOW, mixed_at=ago(minutes), details=details)
            elif row is None:
                continue
            elif what == "amend":
                bench.amend(number, details, now=NOW)
            elif what == "time":
                bench.amend(number, Details(), now=NOW, mixed_at=ago(minutes))
            elif row.closed_at is None and what == "close":
                bench.finish(number, now=NOW)
            elif row.closed_at is None:
                bench.abandon(number, "ran", now=NOW)
            agree(bench)


def test_rows_that_an_earlier_version_left_behind_are_mended_when_opened(bench: Bench) -> None:
    number = bench.start(SHEETS[0], now=ago(300))
    bench.amend(number, Details(batch="A7"), now=NOW, mixed_at=ago(345))
    path = bench.store.path
    bench.store.close()
    with closing(connect(path)) as db:
        db.execute("UPDATE step SET mixed_ms = 0")
        db.execute("UPDATE listed SET mixed_ms = 0, batch = ''")
        db.execute(f"PRAGMA user_version = {schema.MIGRATIONS.index(search_index.rebuild)}")
        db.commit()
    with closing(Store(path)) as store:
        agree(Bench(store))
        assert store.batches_used() == {(SHEETS[0], "A7", 0): ago(345)}
