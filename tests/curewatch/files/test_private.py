"""What is written in place is whole or not at all, and on disk before it is relied on."""

from __future__ import annotations

import ast
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from curewatch.errors import StoreError
from curewatch.files.private import write_out, write_owned, write_whole

TOP = Path(__file__).resolve().parents[3]
WRITES = {"mkstemp", "fsync", "write_bytes", "write_text"}
ELSEWHERE = {
    "curewatch/files/private.py",
    "curewatch/handover/pdf.py",  # fonts, in a folder that goes with the PDF that was made of them
    "sensors/broker/child.py",  # settings of a child, in a folder that goes with it
}
WRITERS: dict[str, Callable[[Path], None]] = {
    "write_whole": lambda path: write_whole(path, b"new"),
    "write_owned": lambda path: write_owned(path, "new"),
    "write_out": lambda path: write_out(path, b"new"),
}


@pytest.fixture(params=sorted(WRITERS))
def write(request: pytest.FixtureRequest) -> Callable[[Path], None]:
    return WRITERS[str(request.param)]


def test_the_file_is_on_disk_before_it_has_its_name_and_then_the_folder(
    write: Callable[[Path], None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []
    fsync, replace = os.fsync, Path.replace

    def synced(handle: int) -> None:
        done.append("folder" if os.path.isdir(f"/proc/self/fd/{handle}") else "file")
        fsync(handle)

    def replaced(self: Path, target: Path) -> Path:
        done.append("name")
        return replace(self, target)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(Path, "replace", replaced)
    write(tmp_path / "kept")
    assert done == ["file", "name", "folder"]


def test_what_fails_leaves_what_stood_there_and_nothing_beside_it(
    write: Callable[[Path], None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = tmp_path / "kept"
    kept.write_text("old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises((OSError, StoreError), match="No space left"):
        write(kept)
    assert kept.read_text() == "old"
    assert list(tmp_path.iterdir()) == [kept]


def test_a_file_behind_a_link_is_written_and_the_link_stays(
    write: Callable[[Path], None], tmp_path: Path
) -> None:
    kept, link = tmp_path / "kept", tmp_path / "link"
    kept.write_text("old")
    link.symlink_to(kept)
    write(link)
    assert link.is_symlink()
    assert kept.read_text() == "new"


def test_only_the_owner_reads_what_is_kept_and_others_may_read_what_is_put_out(
    tmp_path: Path,
) -> None:
    write_owned(tmp_path / "deep" / "kept", "new")
    assert (tmp_path / "deep" / "kept").stat().st_mode & 0o777 == 0o600
    mask = os.umask(0o022)
    try:
        write_out(tmp_path / "out", b"new")
    finally:
        os.umask(mask)
    assert (tmp_path / "out").stat().st_mode & 0o777 == 0o644
    (tmp_path / "out").chmod(0o640)
    write_out(tmp_path / "out", b"newer")
    assert (tmp_path / "out").stat().st_mode & 0o777 == 0o640


def test_a_pipe_is_written_to_as_it_is(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_out(pipe, b"new")
        assert os.read(reader, 9) == b"new"
    finally:
        os.close(reader)


def test_every_file_is_written_by_the_one_writer() -> None:
    texts = set()
    for package in ("curewatch", "sensors", "dashboard"):
        for file in (TOP / package).rglob("*.py"):
            names = {
                n.attr
                for n in ast.walk(ast.parse(file.read_text()))
                if isinstance(n, ast.Attribute)
            }
            if names & WRITES:
                texts.add(file.relative_to(TOP).as_posix())
    assert texts == ELSEWHERE
