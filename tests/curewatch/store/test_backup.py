"""Copies of the logbook: whole while it is written, seven days of them, and the way back."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import pytest
from freezegun import freeze_time

from curewatch.climate.reading import Reading
from curewatch.errors import StoreError
from curewatch.files.backup import KEPT, back_up, copies, keep_daily, last_good, restore
from curewatch.logbook.housekeeping import SOURCE, each_day, look
from curewatch.store.store import Store
from tests.conftest import Run
from tests.curewatch.store.test_disk import (
    CUREWATCH,
    batch,
    bound_by_modes,
    damage,
    no_file_over,
    read_only,
    typed,
    whole,
)
from tests.support.brokers import free_port, until
from tests.system.test_up import wait_for_page

AT = datetime(2026, 10, 17, 18, 0, tzinfo=UTC)
MONTH, DAY = timedelta(days=30), timedelta(days=1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with closing(Store(tmp_path / "curewatch.sqlite")) as opened:
        yield opened


def readings_in(path: Path) -> list[Reading]:
    """The readings of a closed logbook."""
    with closing(Store(path)) as store:
        return store.readings(AT, AT + MONTH)


def test_a_copy_holds_what_was_stored_and_is_the_owners_only(store: Store, tmp_path: Path) -> None:
    store.add_readings(batch(0))
    store.add_step("epoxy-primer", AT, AT, {"part": "roof seam"})
    copy = tmp_path / "elsewhere" / "copy.sqlite"
    back_up(store.path, copy)
    assert [file.name for file in copy.parent.iterdir()] == ["copy.sqlite"]
    assert copy.stat().st_mode & 0o077 == 0
    assert whole(copy)
    assert readings_in(copy) == batch(0)


def test_a_copy_made_while_batches_are_stored_holds_whole_batches_only(
    store: Store, tmp_path: Path
) -> None:
    ending, stored = threading.Event(), [0]

    def write() -> None:
        while not ending.is_set():
            stored[0] += store.add_readings(batch(stored[0]))

    writer = threading.Thread(target=write)
    writer.start()
    before, copies = [], []
    for number in range(6):
        time.sleep(0.05)
        before.append(stored[0])
        back_up(store.path, tmp_path / f"{number}.sqlite")
    ending.set()
    writer.join()
    for number in range(6):
        assert whole(tmp_path / f"{number}.sqlite")
        copies.append(readings_in(tmp_path / f"{number}.sqlite"))
    assert copies == [batch(0, len(readings)) for readings in copies]
    assert all(len(readings) % 100 == 0 for readings in copies)
    assert all(len(readings) >= known for readings, known in zip(copies, before, strict=True))
    assert len(copies[-1]) > len(copies[0])


def test_a_disk_that_may_only_be_read_can_still_be_copied_from(tmp_path: Path) -> None:
    card, copy = tmp_path / "card", tmp_path / "copy.sqlite"
    card.mkdir()
    with closing(Store(tmp_path / "curewatch.sqlite")) as store:
        store.add_readings(batch(0, 300))
        for ending in ("", "-wal"):
            shutil.copyfile(f"{store.path}{ending}", f"{card / 'curewatch.sqlite'}{ending}")
    with read_only(card):
        completed = typed(card, "data", "backup", str(copy), as_one=bound_by_modes)
    assert completed.returncode == 0, completed.stderr
    assert readings_in(copy) == batch(0, 300)
    assert not list(tmp_path.glob("copy.sqlite.part*"))


def test_a_logbook_that_is_not_there_is_not_copied(tmp_path: Path) -> None:
    completed = typed(tmp_path / "none", "data", "backup", str(tmp_path / "copy.sqlite"))
    assert completed.returncode == 2
    assert list(tmp_path.iterdir()) == []


def test_a_copy_overwrites_no_file(store: Store, tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(StoreError, match="there is a file of that name already"):
        back_up(store.path, tmp_path / "mine.txt")
    assert (tmp_path / "mine.txt").read_text() == "mine"


def test_a_copy_that_the_disk_has_no_room_for_leaves_nothing_behind(
    store: Store, tmp_path: Path
) -> None:
    store.add_readings(batch(0, 20_000))
    with no_file_over(200_000), pytest.raises(StoreError, match="no copy could be made: the disk"):
        back_up(store.path, tmp_path / "copies" / "copy.sqlite")
    assert list((tmp_path / "copies").iterdir()) == []
    assert len(store.readings(AT, AT + MONTH)) == 20_000


def test_the_last_seven_daily_copies_are_kept(store: Store) -> None:
    for day in range(10):
        store.add_readings(batch(100 * day))
        assert keep_daily(store.path, date(2026, 10, 25) + day * DAY) is not None
        assert keep_daily(store.path, date(2026, 10, 25) + day * DAY) is None
    kept = copies(store.path)
    assert len(kept) == KEPT == 7
    assert kept[0].name == "curewatch-2026-10-28.sqlite"
    assert kept[-1].name == "curewatch-2026-11-03.sqlite"
    assert readings_in(kept[0]) == batch(0, 400)


def test_a_damaged_logbook_pushes_no_good_copy_out(tmp_path: Path) -> None:
    path = tmp_path / "curewatch.sqlite"
    with closing(Store(path)) as store:
        store.add_readings(batch(0, 30_000))
        for day in range(KEPT):
            keep_daily(path, AT.date() + day * DAY)
    kept = copies(path)
    damage(path, 0.3, 200_000)
    with closing(Store(path)) as store:
        look(store, AT + 20 * DAY)
        (refusal,) = store.refusals()
        assert (refusal.source, refusal.last) == (SOURCE, AT + 20 * DAY)
        assert refusal.sentence.startswith(f"{path}: no copy was made: the logbook is damaged")
        assert "curewatch data restore" in refusal.sentence
    assert copies(path) == kept
    assert last_good(path) == kept[-1]


def test_a_daily_copy_leaves_the_logbook_its_room(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Usage(NamedTuple):
        free: int

    monkeypatch.setattr(shutil, "disk_usage", lambda _: Usage(15_000_000))
    with pytest.raises(StoreError, match="no daily copy was made: 15 MB are free"):
        keep_daily(store.path, AT.date())
    assert copies(store.path) == []


def test_while_curewatch_runs_a_new_day_makes_a_new_copy(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("curewatch.logbook.housekeeping.PAUSE_S", 0.01)
    now = [AT]
    with each_day(store, lambda: now[0]):
        until(lambda: len(copies(store.path)) == 1)
        now[0] += DAY
        until(lambda: len(copies(store.path)) == 2)
    assert [copy.stem for copy in copies(store.path)] == [
        "curewatch-2026-10-17",
        "curewatch-2026-10-18",
    ]


def test_a_damaged_logbook_is_kept_and_the_last_good_copy_takes_its_place(tmp_path: Path) -> None:
    path = tmp_path / "curewatch.sqlite"
    with closing(Store(path)) as store:
        store.add_readings(batch(0, 30_000))
    keep_daily(path, AT.date())
    keep_daily(path, AT.date() + DAY)
    newest = copies(path)[-1]
    damage(newest, 0.5, 20_000)
    damage(path, 0, 4096)
    broken = path.read_bytes()
    completed = typed(tmp_path, "bench")
    assert completed.returncode == 2
    assert "curewatch data restore brings back the last good copy" in completed.stderr
    back = typed(tmp_path, "data", "restore")
    assert back.returncode == 0, back.stderr
    assert "curewatch-2026-10-17.sqlite" in back.stdout
    assert "curewatch.aside.sqlite" in back.stdout
    assert (tmp_path / "curewatch.aside.sqlite").read_bytes() == broken
    assert readings_in(path) == batch(0, 30_000)
    assert path.stat().st_mode & 0o077 == 0
    assert newest.exists()


def test_what_stood_there_keeps_its_unfinished_pages_beside_it(tmp_path: Path) -> None:
    path, copy = tmp_path / "curewatch.sqlite", tmp_path / "copy.sqlite"
    with closing(Store(path)) as store:
        store.add_readings(batch(0))
        back_up(path, copy)
        store.add_readings(batch(100))
        for ending in ("", "-wal"):
            shutil.copyfile(f"{path}{ending}", f"{tmp_path / 'killed.sqlite'}{ending}")
    killed = tmp_path / "killed.sqlite"
    aside = restore(killed, copy)
    assert aside is not None
    assert readings_in(killed) == batch(0)
    assert readings_in(aside) == batch(0, 200)


def test_restoring_twice_keeps_both_that_stood_there(tmp_path: Path) -> None:
    path, copy = tmp_path / "curewatch.sqlite", tmp_path / "copy.sqlite"
    Store(path).close()
    back_up(path, copy)
    paths = [restore(path, copy) for _ in range(2)]
    assert [path.name for path in paths if path] == [
        "curewatch.aside.sqlite",
        "curewatch.aside-2.sqlite",
    ]


def test_with_no_good_copy_the_damaged_file_stays_and_that_is_said(tmp_path: Path) -> None:
    typed(tmp_path, "reading", "add", "--surface", "14 C")
    damage(tmp_path / "curewatch.sqlite", 0, 100)
    before = (tmp_path / "curewatch.sqlite").read_bytes()
    completed = typed(tmp_path, "data", "restore")
    assert completed.returncode == 2
    assert "there is no good copy" in completed.stderr
    assert (tmp_path / "curewatch.sqlite").read_bytes() == before


@pytest.mark.parametrize("kind", ["missing", "text", "other", "damaged"])
def test_only_a_whole_logbook_is_put_in_place(tmp_path: Path, kind: str) -> None:
    path, copy = tmp_path / "curewatch.sqlite", tmp_path / "copy.sqlite"
    with closing(Store(path)) as store:
        store.add_readings(batch(0, 5000))
        if kind == "damaged":
            back_up(path, copy)
            damage(copy, 0.5, 20_000)
    if kind == "text":
        copy.write_text("not a logbook" * 100)
    if kind == "other":
        with closing(sqlite3.connect(copy)) as other:
            other.execute("CREATE TABLE something (else_ TEXT)")
    completed = typed(tmp_path, "data", "restore", str(copy))
    assert completed.returncode == 2
    assert completed.stderr.count("\n") == 1
    assert completed.stderr.startswith(f"curewatch: {copy}: ")
    assert readings_in(path) == batch(0, 5000)
    assert copy.exists() == (kind != "missing")


@pytest.mark.parametrize("kind", ["missing", "empty"])
@pytest.mark.parametrize("words", [("bench",), ("log",), ("mix", "epoxy-primer"), ("up",)])
def test_a_lost_logbook_beside_copies_with_steps_is_never_taken_for_a_new_one(
    run: Run, tmp_path: Path, kind: str, words: tuple[str, ...]
) -> None:
    path = tmp_path / "data" / "curewatch.sqlite"
    run("mix", "epoxy-primer", "--part", "roof seam")
    keep_daily(path, AT.date())
    path.unlink()
    if kind == "empty":
        path.touch()
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    state = {"missing": "is missing", "empty": "is empty (0 bytes)"}[kind]
    assert f"the logbook {state}, and curewatch-2026-10-17.sqlite beside it has 1 step" in err
    assert not path.exists() or path.stat().st_size == 0
    assert run("data", "restore")[0] == 0
    assert "roof seam" in run("bench")[1]


def test_a_folder_without_steps_in_its_copies_may_begin_a_new_logbook(tmp_path: Path) -> None:
    path = tmp_path / "curewatch.sqlite"
    Store(path).close()
    keep_daily(path, AT.date())
    path.unlink()
    Store(path).close()
    assert path.stat().st_size > 0


def test_an_empty_logbook_pushes_out_no_copy_that_holds_steps(tmp_path: Path) -> None:
    path = tmp_path / "curewatch.sqlite"
    typed(tmp_path, "mix", "epoxy-primer")
    keep_daily(path, AT.date())
    path.unlink()
    Store(tmp_path / "new.sqlite").close()
    (tmp_path / "new.sqlite").rename(path)
    for day in range(1, KEPT + 3):
        with pytest.raises(StoreError, match=r"has no steps, but curewatch-2026-10-17"):
            keep_daily(path, AT.date() + day * DAY)
    assert [copy.name for copy in copies(path)] == ["curewatch-2026-10-17.sqlite"]


KILLED = """
import os, pathlib, signal, sys
from curewatch.files import backup
left = int(sys.argv[3])
def counted(really):
    def call(*args, **options):
        global left
        left -= 1
        if left < 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return really(*args, **options)
    return call
for name in ("fsync", "replace", "link", "unlink", "rename"):
    setattr(os, name, counted(getattr(os, name)))
backup.restore(*map(pathlib.Path, sys.argv[1:3]))
"""


def test_a_restore_killed_at_any_moment_leaves_the_old_logbook_or_the_copy(tmp_path: Path) -> None:
    path, copy, counts = tmp_path / "curewatch.sqlite", tmp_path / "copy.sqlite", []
    with closing(Store(path)) as store:
        store.add_readings(batch(0))
        back_up(path, copy)
        store.add_readings(batch(100))
        held_open = {ending: Path(f"{path}{ending}").read_bytes() for ending in ("", "-wal")}
    for moment in range(30):
        for file in tmp_path.glob("curewatch*"):
            file.unlink()
        for ending, data in held_open.items():
            Path(f"{path}{ending}").write_bytes(data)
        command = [sys.executable, "-c", KILLED, str(path), str(copy), str(moment)]
        ended = subprocess.run(command, timeout=60, check=False).returncode
        assert path.stat().st_size > 0
        counts.append(len(readings_in(path)))
        if ended == 0:
            break
    assert ended == 0
    assert len(counts) > 4
    assert counts == sorted(counts, reverse=True)
    assert set(counts) == {200, 100}


def test_what_is_written_into_a_deleted_logbook_is_refused(store: Store) -> None:
    store.add_readings(batch(0))
    store.path.unlink()
    with pytest.raises(StoreError, match="was deleted, moved or replaced while in use; stop cure"):
        store.add_readings(batch(100))
    store.path.touch()
    assert not store.in_place()


def test_a_folder_takes_a_copy_named_after_the_day_and_one_that_is_not_there_none(
    run: Run, tmp_path: Path
) -> None:
    run("mix", "epoxy-primer")
    with freeze_time("2026-10-17T18:00:00Z"):
        assert run("data", "backup", str(tmp_path))[0] == 0
        assert run("data", "backup", str(tmp_path))[0] == 0
    names = sorted(file.name for file in tmp_path.glob("*.sqlite"))
    assert names == ["curewatch-2026-10-17-2.sqlite", "curewatch-2026-10-17.sqlite"]
    code, _, err = run("data", "backup", str(tmp_path / "usb-stik" / "log.sqlite"))
    assert (code, "there is no such folder" in err) == (2, True)
    assert not (tmp_path / "usb-stik").exists()


def test_the_settings_go_with_a_copy_and_come_back_only_when_asked(
    run: Run, tmp_path: Path
) -> None:
    settings, copy = tmp_path / "data" / "curewatch.toml", tmp_path / "log.sqlite"
    run("mix", "epoxy-primer")
    assert "Your settings" not in run("data", "backup", str(tmp_path / "none.sqlite"))[1]
    settings.write_text('# mine\nzone = "Europe/Vienna"\n')
    assert "log-curewatch.toml" in run("data", "backup", str(copy))[1]
    assert (tmp_path / "log-curewatch.toml").stat().st_mode & 0o077 == 0
    settings.write_text('zone = "Europe/Dublin"\n')
    run("data", "restore", str(copy))
    assert "Dublin" in settings.read_text()
    code, out, _ = run("data", "restore", str(copy), "--settings")
    assert (code, "curewatch.aside.toml" in out) == (0, True)
    assert settings.read_text() == '# mine\nzone = "Europe/Vienna"\n'
    code, _, err = run("data", "restore", str(tmp_path / "none.sqlite"), "--settings")
    assert (code, "there are no settings beside this copy" in err) == (2, True)


def test_the_command_copies_and_says_so(tmp_path: Path) -> None:
    data, copy = tmp_path / "data", tmp_path / "copy.sqlite"
    typed(data, "mix", "epoxy-primer", "--part", "roof seam")
    completed = typed(data, "data", "backup", str(copy))
    assert (completed.returncode, completed.stderr) == (0, "")
    assert f"{copy} is a whole copy of the logbook" in completed.stdout
    again = typed(data, "data", "backup", str(copy))
    assert again.returncode == 2
    assert "choose another name" in again.stderr
    typed(data, "done", "1", "--yes")
    assert typed(data, "data", "restore", str(copy)).returncode == 0
    assert "roof seam" in typed(data, "bench").stdout


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Callable[..., list[Path]]]:
    """`curewatch up` with these options until its page answers; the copies there then are."""
    started: list[subprocess.Popen[str]] = []

    def serve(*options: str) -> list[Path]:
        ports = str(free_port()), str(free_port())
        words = ["up", "--data", str(tmp_path), "--port", ports[0], "--mqtt-port", ports[1]]
        process = subprocess.Popen(
            [*CUREWATCH, *words, *options],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        started.append(process)
        wait_for_page(int(ports[0]), process)
        process.terminate()
        process.communicate(timeout=60)
        return copies(tmp_path / "curewatch.sqlite")

    yield serve
    for process in started:
        process.kill()
        process.communicate()


def test_curewatch_up_keeps_a_copy_of_the_day(
    served: Callable[..., list[Path]], tmp_path: Path
) -> None:
    typed(tmp_path, "mix", "epoxy-primer", "--part", "roof seam")
    (copy,) = served()
    with closing(Store(copy)) as kept:
        assert [row.sheet for row in kept.steps()] == ["epoxy-primer"]


def test_curewatch_up_keeps_no_copies_where_it_is_told_not_to(
    served: Callable[..., list[Path]], tmp_path: Path
) -> None:
    assert served("--no-copies") == []
    (tmp_path / "curewatch.toml").write_text("copies = false")
    assert served() == []
