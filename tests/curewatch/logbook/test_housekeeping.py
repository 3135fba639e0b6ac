"""What killed uploads and copies left is deleted when curewatch starts; what is named stays."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from curewatch.bench.bench import Bench
from curewatch.logbook import photographs
from curewatch.logbook.housekeeping import sweep
from tests.support.brokers import free_port
from tests.support.logbooks import ADHESIVE, NOW, ago, opened, picture, undone
from tests.system.test_up import typed, up, wait_for_page  # noqa: F401

ORPHAN, PART = f"{'ab' * 16}.jpg", "tmpabc.part"


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    garage = opened(tmp_path)
    garage.start(ADHESIVE, now=ago(10))
    photographs.folder_of(garage.store.path).mkdir(mode=0o700)
    return garage


def left(folder: Path, name: str, age: timedelta, now: datetime = NOW) -> Path:
    """A file that was written some time ago."""
    path = folder / name
    path.parent.mkdir(exist_ok=True)
    if not path.exists():
        path.write_bytes(b"half")
    os.utime(path, (when := (now - age).timestamp(), when))
    return path


def test_old_parts_and_pictures_that_nothing_names_go(bench: Bench) -> None:
    data = bench.store.path.parent
    day, hours = timedelta(days=2), timedelta(hours=2)
    old = [
        left(data, f"photographs/{PART}", hours),
        left(data, "copies/curewatch-2026-11-01.sqlite.part", hours),
        left(data, "copies/curewatch-2026-11-01.sqlite.part-journal", hours),
        left(data, "curewatch.toml.ab_c1234.part", hours),
        left(data, f"photographs/{ORPHAN}", day),
        left(data, f"photographs/{ORPHAN[:-4]}.small.jpg", day),
    ]
    stay = [
        left(data, "photographs/tmpnew.part", timedelta(minutes=5)),
        left(data, f"photographs/{'cd' * 16}.jpg", hours),
        left(data, "photographs/mine.jpg", day),
        left(data, "somebody-else.part", day),
        left(data, "copies/curewatch-2026-11-01.sqlite", day),
    ]
    assert sweep(bench.store, NOW) == 6
    assert not any(path.exists() for path in old)
    assert all(path.exists() for path in stay)


def test_what_an_event_names_stays_also_of_an_undone_one(bench: Bench) -> None:
    kept = photographs.add(bench, 1, picture(), now=NOW)
    gone = photographs.add(bench, 1, picture(200, 100), now=NOW)
    undone(bench, 1, gone.id, NOW, "a face on it")
    folder = photographs.folder_of(bench.store.path)
    for path in folder.iterdir():
        left(folder, path.name, timedelta(days=900))
    assert sweep(bench.store, NOW) == 0
    for event in (kept, gone):
        assert photographs.read(bench.store.path, event.body["name"])
        assert photographs.read(bench.store.path, event.body["name"], small=True)


def test_a_picture_sent_again_is_as_one_just_written(bench: Bench) -> None:
    """Its file may lie there from an upload that was killed before its event."""
    taken = photographs.take(picture(), bench.store.path)
    folder = photographs.folder_of(bench.store.path)
    for path in folder.iterdir():
        left(folder, path.name, timedelta(days=900), datetime.now(UTC))
    photographs.take(picture(), bench.store.path)
    assert sweep(bench.store, datetime.now(UTC)) == 0
    assert photographs.read(bench.store.path, taken.name)


def test_it_is_done_when_curewatch_starts(
    up: Callable[..., subprocess.Popen[str]],  # noqa: F811
    tmp_path: Path,
) -> None:
    typed(tmp_path, "mix", ADHESIVE)
    orphan = left(tmp_path, f"photographs/{ORPHAN}", timedelta(days=2), datetime.now(UTC))
    page = free_port()
    wait_for_page(page, up(page, free_port()), 60)
    assert not orphan.exists()
