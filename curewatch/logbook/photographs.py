"""Photographs of steps and labels, kept beside the logbook, each named by what it holds."""

from __future__ import annotations

import hashlib
import io
import os
import re
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from PIL import Image

from curewatch.errors import PhotographError, StoreError
from curewatch.files.disk_errors import trouble
from curewatch.files.private import write_whole
from curewatch.frozen import frozen
from curewatch.garage.shelf import find_sheet
from curewatch.garage.step import Happening, Step
from curewatch.logbook.picture import LONG_SIDE, SMALL_QUALITY, jpeg, opened, small_of
from curewatch.logbook.picture_child import scaled_apart
from curewatch.text import LONGEST_TEXT

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench
    from curewatch.store.store import Store

FOLDER, LABEL = "photographs", "label"
MOST_BYTES = 60_000_000
PRINT_SIDE = 900
_NAME = re.compile(r"[0-9a-f]{32}\.jpg")


@frozen
class Kept:
    """A photograph as it is kept: its name, width and height [px] and size [bytes]."""

    name: str
    width: int
    height: int
    size: int


def folder_of(logbook: Path) -> Path:
    """Where the photographs of a logbook are."""
    return logbook.parent / FOLDER


def path_of(logbook: Path, name: str, *, small: bool = False) -> Path:
    """A kept photograph's file. Raises PhotographError for a name that is not ours."""
    if not _NAME.fullmatch(name):
        raise PhotographError("there is no such photograph", fix="open it from its step")
    return folder_of(logbook) / (f"{name[:-4]}.small.jpg" if small else name)


def _length(source: BinaryIO) -> int:
    source.seek(0, os.SEEK_END)
    length = source.tell()
    source.seek(0)
    return length


def take(source: BinaryIO, logbook: Path) -> Kept:
    """Keep a photograph beside the logbook; the same one again is kept once.

    Raises PhotographError where it cannot be taken, StoreError where the disk does not take it.
    """
    megabytes, most = _length(source) / 1e6, MOST_BYTES / 1e6
    if megabytes > most:
        raise PhotographError(
            f"the file has {megabytes:.0f} MB; at most {most:.0f} are taken",
            fix="scale it down first",
        )
    try:
        width, height, large, small = scaled_apart(source)
    except PhotographError:
        raise
    except OSError as error:
        raise trouble("the photograph could not be stored", error, logbook.parent) from error
    name = _name_of(large)
    _write(path_of(logbook, name), large)
    _write(path_of(logbook, name, small=True), small)
    return Kept(name, width, height, len(large))


def _name_of(data: bytes) -> str:
    return f"{hashlib.sha256(data).hexdigest()[:32]}.jpg"


def _write(path: Path, data: bytes) -> None:
    """A file of the owner's only, whole on disk before it has its name; one that is there already
    counts as written now."""
    try:
        with suppress(FileNotFoundError):
            os.utime(path)
            return
        write_whole(path, data)
    except OSError as error:
        raise trouble("the photograph could not be stored", error, path.parent) from error


def add(
    bench: Bench, number: int, source: BinaryIO, *, now: datetime, words: str = ""
) -> Happening:
    """Keep a photograph and put it into a step's log; the same one again changes nothing."""
    bench.mixed(number)
    kept = take(source, bench.store.path)
    body = {**vars(kept), "words": words.strip()[:LONGEST_TEXT]}
    same = [
        photograph
        for photograph in shown(bench.step(number))
        if photograph.body["name"] == kept.name
    ]
    if same:
        return same[-1]
    event = bench.store.add_event(number, "photographed", now, now, body)
    return Happening(event, "photographed", now, now, body)


def shown(step: Step) -> tuple[Happening, ...]:
    """The photographs of a step that were not taken back."""
    return step.of("photographed")


def add_label(store: Store, product: str, source: BinaryIO, *, now: datetime) -> Kept:
    """Keep a photograph of a product's label in place of the one before, if any.

    Raises PhotographError, and StepError where there is no such product.
    """
    find_sheet(store, product)
    kept = take(source, store.path)
    name_label(store, product, kept.name, now=now)
    return kept


def name_label(store: Store, product: str, name: str, *, now: datetime) -> None:
    """Enter that a kept photograph is of a product's label; the same one again changes nothing."""
    if label_of(store, product) != name:
        store.add_entry(LABEL, product, "photographed", now, now, {"name": name})


def check_kept(logbook: Path, name: str) -> None:
    """Raises PhotographError where no photograph of that name is kept."""
    if not path_of(logbook, name).exists():
        raise PhotographError("that photograph is not kept any more", fix="take it once more")


def remove_label(store: Store, product: str, *, now: datetime) -> None:
    """Enter that a product has no photograph of its label any more."""
    if label_of(store, product):
        store.add_entry(LABEL, product, "removed", now, now, {})


def label_of(store: Store, product: str) -> str | None:
    """The name of the photograph of a product's label; None where there is none."""
    entries = store.entries(LABEL, product)
    last = entries[-1] if entries else None
    return str(last.body["name"]) if last and last.kind == "photographed" else None


def labels(store: Store) -> list[str]:
    """The names of the photographs of all labels."""
    products = dict.fromkeys(entry.name for entry in store.entries(LABEL))
    return [name for product in products if (name := label_of(store, product))]


def read(logbook: Path, name: str, *, small: bool = False) -> bytes | None:
    """A kept photograph's bytes; None where its file is gone."""
    try:
        return path_of(logbook, name, small=small).read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise StoreError(
            f"a photograph cannot be read ({error.strerror})", where=name, fix="check the disk"
        ) from error


def printable(logbook: Path, name: str) -> bytes | None:
    """A photograph as large as paper shows it; None where its file is gone or damaged."""
    data = read(logbook, name)
    if data is None:
        return None
    try:
        with opened(io.BytesIO(data)) as image:
            image.thumbnail((PRINT_SIDE, PRINT_SIDE), Image.Resampling.LANCZOS)
            return jpeg(image.convert("RGB"), SMALL_QUALITY)
    except PhotographError:
        return None


def beside(copy: Path) -> Path:
    """Where the photographs of a copied logbook lie: in a folder named after the copy."""
    return copy.with_name(f"{copy.stem}-{FOLDER}")


def copy_all(source: Path, target: Path) -> int:
    """Copy the photographs of one folder into another that has them not; returns how many.

    Raises StoreError where that cannot be done.
    """
    copied = 0
    try:
        files = sorted(path for path in source.glob("*.jpg") if path.is_file())
        for photograph in files:
            if not (target / photograph.name).exists():
                _write(target / photograph.name, photograph.read_bytes())
                copied += not photograph.name.endswith(".small.jpg")
    except OSError as error:
        if isinstance(error, StoreError):
            raise
        raise trouble("the photographs could not be copied", error, source) from error
    return copied


def check_written(data: bytes, name: str) -> None:
    """Raises PhotographError where a photograph that another curewatch wrote is not what its name
    says, or holds more than a picture."""
    if not _NAME.fullmatch(name) or _name_of(data) != name:
        raise PhotographError("the photograph is not the one it is named after", where=name)
    with opened(io.BytesIO(data)) as image:
        bare = image.format == "JPEG" and not image.getexif() and not image.info.get("icc_profile")
        if not bare or max(image.size) > LONG_SIDE:
            raise PhotographError("the photograph was not written by a curewatch", where=name)


def arrive(data: bytes, name: str, logbook: Path) -> None:
    """Keep a photograph that another curewatch wrote, under the name it had.

    Raises PhotographError as `check_written` does.
    """
    check_written(data, name)
    with opened(io.BytesIO(data)) as image:
        small = image.convert("RGB")
    _write(path_of(logbook, name), data)
    _write(path_of(logbook, name, small=True), small_of(small))
