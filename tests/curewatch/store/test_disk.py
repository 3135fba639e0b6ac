"""The disk full, read-only, held by another program, damaged: what the user reads, what stays."""

from __future__ import annotations

import os
import resource
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from curewatch.climate.reading import Reading
from curewatch.errors import StoreError
from curewatch.store import database
from curewatch.store.store import Store

AT = datetime(2026, 10, 17, 18, 0, tzinfo=UTC)
MONTH = timedelta(days=30)
CUREWATCH = [
    sys.executable,
    "-c",
    "import sys; from curewatch.commands.main import main; sys.exit(main())",
]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with closing(Store(tmp_path / "curewatch.sqlite")) as opened:
        yield opened


def batch(first: int, count: int = 100) -> list[Reading]:
    """`count` readings, a second apart, from the one numbered `first`."""
    return [
        Reading("panel", "surface_temperature", 14.0 + i % 7, AT + timedelta(seconds=i), "probe")
        for i in range(first, first + count)
    ]


def typed(
    data: Path, *words: str, as_one: Callable[[list[str]], list[str]] = list
) -> subprocess.CompletedProcess[str]:
    command = [*as_one(CUREWATCH), *words, "--data", str(data)]
    return subprocess.run(command, capture_output=True, text=True, timeout=60)


def whole(path: Path) -> bool:
    with closing(sqlite3.connect(path)) as connection:
        return bool(connection.execute("PRAGMA integrity_check").fetchone() == ("ok",))


@contextmanager
def no_file_over(size: int) -> Iterator[None]:
    """The system lets no file of this process grow over a size [bytes]."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def until_refused(store: Store) -> tuple[int, StoreError]:
    """Store until it refuses; how many readings were accepted, and what it said."""
    accepted = 0
    while accepted < 100_000:
        try:
            accepted += store.add_readings(batch(accepted))
        except StoreError as error:
            return accepted, error
    raise AssertionError("everything was stored")


def test_where_the_disk_takes_no_more_what_was_accepted_stays_and_the_rest_comes_later(
    store: Store,
) -> None:
    with no_file_over(400_000):
        accepted, store_error = until_refused(store)
        assert accepted >= 1000
        assert "nothing could be stored: the disk" in str(store_error)
        assert "room" in store_error.fix
        with pytest.raises(StoreError, match="nothing could be stored: the disk"):
            store.add_step("epoxy-primer", AT, AT, {})
        assert store.readings(AT, AT + MONTH) == batch(0, accepted)
    assert store.add_readings(batch(accepted)) == 100
    assert sum(span.readings for span in store.measured_spans(AT, AT + MONTH)) == accepted + 100
    assert [row.id for row in store.steps()] == []
    assert store.add_step("epoxy-primer", AT, AT, {}) == 1
    assert whole(store.path)


def test_a_full_disk_is_called_full(store: Store) -> None:
    """SQLite's own word for no room left, brought about by a cap on the file's pages."""
    store._connection.execute("PRAGMA max_page_count = 40")
    accepted, store_error = until_refused(store)
    assert "nothing could be stored: the disk is full" in str(store_error)
    assert store_error.fix.startswith("make room on the disk")
    assert len(store.readings(AT, AT + MONTH)) == accepted
    assert whole(store.path)


def bound_by_modes(command: list[str]) -> list[str]:
    """A command that file modes bind, even where root types it."""
    if os.geteuid() != 0:
        return command
    return ["setpriv", "--bounding-set=-dac_override,-dac_read_search", *command]


def without_room(command: list[str]) -> list[str]:
    """A command that finds no room on the disk: none of its files grows over 16 kB."""
    return ["prlimit", "--fsize=16384", *command]


def test_on_a_full_disk_what_was_saved_can_be_read(tmp_path: Path) -> None:
    typed(tmp_path, "mix", "epoxy-primer", "--part", "floor pan", "--ago", "10 min")
    before = (tmp_path / "curewatch.sqlite").read_bytes()
    for words in (("bench",), ("log",), ("step", "show", "1")):
        completed = typed(tmp_path, *words, as_one=without_room)
        assert (completed.returncode, "floor pan" in completed.stdout) == (0, True), (
            completed.stderr
        )
        assert completed.stderr.startswith("The disk is full:")
    completed = typed(tmp_path, "step", "note", "1", "tacky", as_one=without_room)
    assert completed.returncode == 2
    assert "nothing could be stored: the disk" in completed.stderr
    completed = typed(tmp_path, "up", as_one=without_room)
    assert completed.returncode == 2
    assert "make room on the disk" in completed.stderr
    assert (tmp_path / "curewatch.sqlite").read_bytes() == before
    assert typed(tmp_path, "bench").stderr == ""


def test_on_a_full_disk_what_a_power_cut_left_beside_the_file_is_read_too(tmp_path: Path) -> None:
    """The last things told are still in the -wal file, which nothing has put into the other."""
    source, cut = tmp_path / "source", tmp_path / "cut"
    typed(source, "mix", "epoxy-primer")
    cut.mkdir()
    with closing(Store(source / "curewatch.sqlite")) as store:
        store.add_event(1, "noted", AT, AT, {"text": "told last"})
        for name in ("curewatch.sqlite", "curewatch.sqlite-wal"):
            (cut / name).write_bytes((source / name).read_bytes())
    completed = typed(cut, "step", "show", "1", as_one=without_room)
    assert "told last" in completed.stdout


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    for file in folder.iterdir():
        file.chmod(0o400)
    folder.chmod(0o500)
    try:
        yield
    finally:
        folder.chmod(0o700)


@pytest.mark.parametrize(
    "words", [("reading", "add", "--surface", "12 C"), ("mix", "epoxy-primer"), ("bench",), ("up",)]
)
def test_a_disk_that_may_only_be_read_is_said_so_in_one_sentence(
    tmp_path: Path, words: tuple[str, ...]
) -> None:
    typed(tmp_path, "reading", "add", "--surface", "14 C")
    before = (tmp_path / "curewatch.sqlite").read_bytes()
    with read_only(tmp_path):
        completed = typed(tmp_path, *words, as_one=bound_by_modes)
    assert completed.returncode == 2
    assert completed.stderr.count("\n") == 1
    assert "writable for you" in completed.stderr
    assert (tmp_path / "curewatch.sqlite").read_bytes() == before


def test_a_new_folder_on_a_disk_that_may_only_be_read_is_said_so(tmp_path: Path) -> None:
    with read_only(tmp_path):
        completed = typed(tmp_path / "data", "bench", as_one=bound_by_modes)
    assert completed.returncode == 2
    assert "writable for you" in completed.stderr


HOLDER = """
import sqlite3, sys
held = sqlite3.connect(sys.argv[1], isolation_level=None)
held.execute("BEGIN EXCLUSIVE")
print("held", flush=True)
sys.stdin.readline()
held.execute("COMMIT")
"""


@contextmanager
def held_by_another(path: Path) -> Iterator[Callable[[], None]]:
    """Another program holds the file until the returned function is called."""
    command = [sys.executable, "-c", HOLDER, str(path)]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdin is not None
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        yield other.stdin.close
        other.stdin.close()


def test_while_another_program_holds_the_file_nothing_is_stored_and_that_is_said(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "WRITING_S", 0.3)
    with (
        held_by_another(store.path),
        pytest.raises(
            StoreError,
            match=r"another program has locked the file .* close that "
            "program",
        ),
    ):
        store.add_readings(batch(0))
    assert store.add_readings(batch(0)) == 100


def test_a_writer_waits_for_the_other_program_and_readers_need_not(store: Store) -> None:
    store.add_readings(batch(0))
    stored: list[int] = []
    with held_by_another(store.path) as let_go:
        writer = threading.Thread(target=lambda: stored.append(store.add_readings(batch(100))))
        writer.start()
        for _ in range(10):
            assert len(store.latest()) == 1
        assert writer.is_alive()
        let_go()
        writer.join(60)
    assert stored == [100]


def test_two_threads_that_write_at_once_both_store_all(store: Store) -> None:

    def write(first: int) -> None:
        for number in range(20):
            store.add_readings(batch(first + 100 * number))

    writers = [threading.Thread(target=write, args=(first,)) for first in (0, 5000)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert len(store.readings(AT, AT + MONTH)) == 4000


def damage(path: Path, start: float, length: int = 8192) -> None:
    """Overwrite bytes of a closed file, from a share of its length on."""
    with path.open("r+b") as buffered_random:
        buffered_random.seek(int(path.stat().st_size * start))
        buffered_random.write(b"\xa5" * length)


def test_a_damaged_file_is_called_damaged_and_stays_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "curewatch.sqlite"
    with closing(Store(path)) as store:
        store.add_readings(batch(0, 30_000))
    damage(path, 0.3, 200_000)
    before = path.read_bytes()
    with closing(Store(path)) as store:
        with pytest.raises(
            StoreError, match=r"the file is damaged .* curewatch data restore brings"
        ):
            store.readings(AT, AT + MONTH)
        with pytest.raises(StoreError, match="nothing could be stored: the file is damaged"):
            store.add_readings(batch(0, 30_000))
    assert len(before) == path.stat().st_size


def test_a_file_that_lost_its_beginning_is_called_damaged(tmp_path: Path) -> None:
    typed(tmp_path, "reading", "add", "--surface", "14 C")
    damage(tmp_path / "curewatch.sqlite", 0, 100)
    completed = typed(tmp_path, "bench")
    assert completed.returncode == 2
    assert "the file is damaged, or is not a logbook" in completed.stderr
    assert "curewatch data restore" in completed.stderr
