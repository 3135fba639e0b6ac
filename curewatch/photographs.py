"""Photographs of a step: taken in bounded memory, scaled, turned upright, written anew.

Only the picture itself is kept: where and when it was taken, by which device and any other data in
the file are left behind. Names are ours, made from what the picture holds.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import tempfile
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from curewatch.bench import LONGEST_TEXT, Bench
from curewatch.errors import PhotographError, StoreError
from curewatch.step import Happening, Step
from curewatch.trouble import trouble

FOLDER = "photographs"
FORMATS = ("JPEG", "PNG", "WEBP")
MOST_BYTES = 60_000_000
LONG_SIDE, PRINT_SIDE, SMALL_SIDE = 2000, 900, 480
QUALITY, SMALL_QUALITY = 86, 80
MOST_PIXELS = {"JPEG": 50_000_000, "PNG": 50_000_000, "WEBP": 24_000_000}
MOST_PIXELS_SCALED = 260_000_000
_HEIC = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif")
_NAME = re.compile(r"[0-9a-f]{32}\.jpg")
_TYPES = "take it as JPEG, PNG or WebP"


@dataclass(frozen=True)
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


def _is_heic(start: bytes) -> bool:
    return start[4:8] == b"ftyp" and start[8:12] in _HEIC


def _refuse_size(image: Image.Image) -> None:
    """Held against its header before a pixel is decoded; a plain JPEG is decoded scaled down."""
    scaled = image.format == "JPEG" and not image.info.get("progressive")
    most = MOST_PIXELS_SCALED if scaled else MOST_PIXELS[image.format or "PNG"]
    pixels = image.width * image.height
    if pixels > most:
        raise PhotographError(
            f"{image.width} × {image.height} is {pixels / 1e6:.0f} million pixels; at most "
            f"{most / 1e6:.0f} are taken",
            fix="scale it down first",
        )


def _upright(image: Image.Image) -> Image.Image:
    """The picture scaled, turned as its camera was held, in plain colours on white."""
    scale = max(1.0, max(image.size) / LONG_SIDE)
    image.draft("RGB", (int(image.width / scale), int(image.height / scale)))
    profile, clear = image.info.get("icc_profile"), image.has_transparency_data
    upright = ImageOps.exif_transpose(_scaled(image.convert("RGBA") if clear else image))
    if clear:
        white = Image.new("RGB", upright.size, "white")
        white.paste(upright, mask=upright.getchannel("A"))
        return _plain_colours(white, profile)
    return _plain_colours(upright.convert("RGB"), profile)


def _scaled(image: Image.Image) -> Image.Image:
    if image.mode == "P":
        image = image.convert("RGB")
    image.thumbnail((LONG_SIDE, LONG_SIDE), Image.Resampling.LANCZOS)
    return image


def _plain_colours(image: Image.Image, profile: bytes | None) -> Image.Image:
    """The colours as a screen without the camera's profile shows them."""
    if not profile:
        return image
    with suppress(ImageCms.PyCMSError, OSError, ValueError):
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        found = ImageCms.profileToProfile(image, own, ImageCms.createProfile("sRGB"))
        return found or image
    return image


def _jpeg(image: Image.Image, quality: int) -> bytes:
    """The pixels alone, written anew."""
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


@contextmanager
def _opened(source: BinaryIO) -> Iterator[Image.Image]:
    start = source.read(16)
    source.seek(0)
    if not start:
        raise PhotographError("the file is empty", fix=_TYPES)
    if _is_heic(start):
        raise PhotographError(
            "HEIC and AVIF photographs cannot be read here",
            fix="set the camera to JPEG (often called 'most compatible'), or send a screenshot",
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(source, formats=FORMATS) as image:
                _refuse_size(image)
                yield image
    except PhotographError:
        raise
    except UnidentifiedImageError:
        raise PhotographError("that is no photograph", fix=_TYPES) from None
    except Image.DecompressionBombError:
        raise PhotographError("that picture is far too large", fix="scale it down") from None
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError, IndexError) as error:
        raise PhotographError(
            f"the photograph is damaged or cut short ({str(error)[:80]})", fix="send it again"
        ) from None


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
    with _opened(source) as image:
        large = _upright(image)
    return _keep(large, logbook)


def _keep(large: Image.Image, logbook: Path) -> Kept:
    data = _jpeg(large, QUALITY)
    name = f"{hashlib.sha256(data).hexdigest()[:32]}.jpg"
    small = large.copy()
    small.thumbnail((SMALL_SIDE, SMALL_SIDE), Image.Resampling.LANCZOS)
    _write(path_of(logbook, name), data)
    _write(path_of(logbook, name, small=True), _jpeg(small, SMALL_QUALITY))
    return Kept(name, large.width, large.height, len(data))


def _write(path: Path, data: bytes) -> None:
    """A file of the owner's only, whole on disk before it has its name."""
    if path.exists():
        return
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, fresh = tempfile.mkstemp(dir=path.parent, suffix=".part")
        with suppress(FileNotFoundError), os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(fresh, path)
    except OSError as error:
        with suppress(OSError, UnboundLocalError):
            os.unlink(fresh)
        raise trouble("the photograph could not be stored", error, path.parent) from error


def add(
    bench: Bench, number: int, source: BinaryIO, *, now: datetime, words: str = ""
) -> Happening:
    """Keep a photograph and put it into a step's log; the same one again changes nothing."""
    bench.mixed(number)
    kept = take(source, bench.store.path)
    body = {**vars(kept), "words": words.strip()[:LONGEST_TEXT]}
    known = [each for each in shown(bench.step(number)) if each.body["name"] == kept.name]
    if known:
        return known[-1]
    event = bench.store.add_event(number, "photographed", now, now, body)
    return Happening(event, "photographed", now, now, body)


def shown(step: Step) -> tuple[Happening, ...]:
    """The photographs of a step that were not taken back."""
    return step.of("photographed")


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
        with _opened(io.BytesIO(data)) as image:
            image.thumbnail((PRINT_SIDE, PRINT_SIDE), Image.Resampling.LANCZOS)
            return _jpeg(image.convert("RGB"), SMALL_QUALITY)
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
        held = sorted(each for each in source.glob("*.jpg") if each.is_file())
        for each in held:
            if not (target / each.name).exists():
                _write(target / each.name, each.read_bytes())
                copied += not each.name.endswith(".small.jpg")
    except OSError as error:
        if isinstance(error, StoreError):
            raise
        raise trouble("the photographs could not be copied", error, source) from error
    return copied


def arrive(data: bytes, name: str, logbook: Path) -> None:
    """Keep a photograph that another curewatch wrote, under the name it had.

    Raises PhotographError where it is not what its name says or holds more than a picture.
    """
    target = path_of(logbook, name)
    if f"{hashlib.sha256(data).hexdigest()[:32]}.jpg" != name:
        raise PhotographError("the photograph is not the one it is named after", where=name)
    with _opened(io.BytesIO(data)) as image:
        if image.format != "JPEG" or image.getexif() or image.info.get("icc_profile"):
            raise PhotographError("the photograph was not written by a curewatch", where=name)
        small = image.convert("RGB")
    small.thumbnail((SMALL_SIDE, SMALL_SIDE), Image.Resampling.LANCZOS)
    _write(target, data)
    _write(path_of(logbook, name, small=True), _jpeg(small, SMALL_QUALITY))
