"""Photographs in a step's log: what is kept, what is left behind, what is refused."""

from __future__ import annotations

import io
import os
import resource
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from curewatch.bench.bench import Bench
from curewatch.errors import PhotographError, StepError
from curewatch.logbook import photographs
from curewatch.logbook.photographs import FOLDER, shown
from curewatch.logbook.picture import LONG_SIDE, SMALL_SIDE, scaled
from tests.conftest import Run
from tests.support.logbooks import ADHESIVE, NOW, ago, evening, opened, picture, undone
from tests.support.pages import open_garage

GPS, DEVICE, SERIAL = 0x8825, 0x0110, 0xA431


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    garage = opened(tmp_path)
    garage.start(ADHESIVE, now=ago(10))
    return garage


def kept(bench: Bench, source: io.BytesIO, words: str = "") -> tuple[Image.Image, bytes, Path]:
    """The photograph as it lies on the disk."""
    event = photographs.add(bench, 1, source, now=NOW, words=words)
    path = photographs.path_of(bench.store.path, event.body["name"])
    return Image.open(io.BytesIO(path.read_bytes())), path.read_bytes(), path


def located() -> io.BytesIO:
    """A photograph with place, device, words, a colour profile and a preview in it."""
    exif = Image.Exif()
    exif[DEVICE] = "SECRETCAMERA"
    exif.get_ifd(GPS).update({1: "N", 2: (48.0, 12.0, 30.0), 3: "E", 4: (16.0, 22.0, 0.0)})
    exif.get_ifd(0x8769)[SERIAL] = "SECRETSERIAL"
    return picture(exif=exif, comment=b"SECRETCOMMENT", xmp=b"<x>SECRETXMP</x>", dpi=(72, 72))


def test_place_device_and_all_other_data_are_left_behind(bench: Bench) -> None:
    source = located()
    before = Image.open(source)
    assert before.getexif().get_ifd(GPS)[2] == (48.0, 12.0, 30.0)
    assert b"SECRETXMP" in source.getvalue()
    source.seek(0)
    image, data, path = kept(bench, source)
    small = photographs.path_of(bench.store.path, path.name, small=True)
    assert dict(image.getexif()) == {}
    assert not image.getexif().get_ifd(GPS)
    assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    for raw in (data, small.read_bytes()):
        assert b"SECRET" not in raw
        assert b"Exif" not in raw


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_it_is_kept_as_jpeg_under_a_name_of_ours_for_the_owner_only(
    bench: Bench, kind: str
) -> None:
    image, data, path = kept(bench, picture(kind=kind))
    assert (image.format, image.size) == ("JPEG", (320, 200))
    assert path.parent == bench.store.path.parent / FOLDER
    assert path.parent.stat().st_mode & 0o077 == 0
    assert path.stat().st_mode & 0o077 == 0
    assert len(path.stem) == 32
    assert data.startswith(b"\xff\xd8")


@pytest.mark.parametrize("turn", range(1, 9))
def test_it_is_turned_as_the_camera_was_held(bench: Bench, turn: int) -> None:
    """By hand from the meaning of the eight orientations: where the stored left side, red, is."""
    exif = Image.Exif()
    exif[0x0112] = turn
    image, _, _ = kept(bench, picture(exif=exif, quality=95))
    wide, high = image.size
    red = {
        1: (4, 100), 2: (-4, 100), 3: (-4, 100), 4: (4, 100), 5: (100, 4), 6: (100, 4),
        7: (100, -4), 8: (100, -4),
    }[turn]  # fmt: skip
    assert (wide, high) == ((320, 200) if turn < 5 else (200, 320))
    r, _, b = image.convert("RGB").getpixel((red[0] % wide, red[1] % high))  # type: ignore[misc]
    assert r > 200 > 60 > b


def test_a_large_one_is_scaled_and_has_a_small_one_beside_it(bench: Bench) -> None:
    image, _, path = kept(bench, picture(3000, 4500))
    small_path = photographs.path_of(bench.store.path, path.name, small=True)
    small = Image.open(io.BytesIO(small_path.read_bytes()))
    assert max(image.size) == LONG_SIDE
    assert image.width / image.height == pytest.approx(3000 / 4500, abs=0.01)
    assert max(small.size) == SMALL_SIDE


def test_what_is_see_through_lies_on_white(bench: Bench) -> None:
    clear, out = Image.new("RGBA", (40, 40), (255, 0, 0, 0)), io.BytesIO()
    clear.save(out, "PNG")
    image, _, _ = kept(bench, out)
    assert np.asarray(image.convert("RGB")).min() > 250


@pytest.mark.parametrize("mode", ["L", "P", "CMYK", "LA", "1"])
def test_every_mode_of_colour_is_taken(bench: Bench, mode: str) -> None:
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "green").convert(mode).save(out, "JPEG" if mode == "CMYK" else "PNG")
    assert kept(bench, out)[0].size == (60, 40)


def test_the_same_one_again_is_kept_once(bench: Bench) -> None:
    first = photographs.add(bench, 1, picture(), now=NOW)
    assert photographs.add(bench, 1, picture(), now=NOW).id == first.id
    assert len(shown(bench.step(1))) == 1
    assert len(list((bench.store.path.parent / FOLDER).iterdir())) == 2


def test_one_taken_back_is_gone_from_the_step_and_stays_in_its_history(bench: Bench) -> None:
    event = photographs.add(bench, 1, picture(), now=NOW)
    undone(bench, 1, event.id, NOW, "a face on it")
    assert shown(bench.step(1)) == ()
    assert [event.kind for event in bench.store.events([1])[1]][-2:] == ["photographed", "forgot"]


def chunk(kind: bytes, data: bytes) -> bytes:
    body = kind + data
    return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))


def bomb(width: int, height: int) -> bytes:
    """A PNG of a few kilobytes that says it holds thousands of millions of pixels."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    packed = zlib.compress(bytes(100_000))
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")
    )


def webp_of(width: int, height: int) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height)).save(out, "WEBP", quality=1, method=0)
    return out.getvalue()


def see_through(width: int, height: int) -> bytes:
    out = io.BytesIO()
    Image.new("RGBA", (width, height), (200, 0, 0, 90)).save(out, "PNG")
    return out.getvalue()


CASES: dict[str, tuple[Callable[[], bytes], str]] = {
    "empty": (lambda: b"", "empty"),
    "text": (lambda: b"hello, I am a photograph", "not a photograph"),
    "svg": (lambda: b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "not a photograph"),
    "gif": (lambda: picture(kind="GIF").getvalue(), "JPEG, PNG or WebP"),
    "tiff": (lambda: picture(kind="TIFF").getvalue(), "JPEG, PNG or WebP"),
    "heic": (lambda: b"\0\0\0\x18ftypheic\0\0\0\0" + bytes(80), "most compatible"),
    "avif": (lambda: picture(kind="AVIF").getvalue(), "cannot be read here"),
    "cut JPEG": (lambda: picture(900, 900).getvalue()[:2000], "cut short"),
    "cut PNG": (lambda: picture(900, 900, "PNG").getvalue()[:-400], "cut short"),
    "cut WebP": (lambda: picture(900, 900, "WEBP").getvalue()[:200], "photograph"),
    "bomb": (lambda: bomb(100_000, 100_000), "far too large|10000 million"),
    "middling bomb": (lambda: bomb(12_000, 12_000), "144 million pixels"),
    "large WebP": (lambda: webp_of(7000, 4000), "WebP photograph takes too much memory"),
    "WebP of 12 million": (lambda: webp_of(4000, 3000), "12 million pixels; at most 8 .* as JPEG"),
    "see-through PNG": (lambda: see_through(7000, 7000), "49 million pixels; at most 12 .* JPEG"),
    "head only": (lambda: b"\xff\xd8\xff\xe0" + bytes(60), "photograph"),
}


@pytest.mark.parametrize("name", CASES)
def test_what_is_no_photograph_is_refused_with_a_sentence(bench: Bench, name: str) -> None:
    made, says = CASES[name]
    with pytest.raises(PhotographError, match=says):
        photographs.add(bench, 1, io.BytesIO(made()), now=NOW)
    assert shown(bench.step(1)) == ()
    assert not list(bench.store.path.parent.glob(f"{FOLDER}/*.part"))


@given(st.integers(0, 3000), st.integers(0, 255), st.integers(0, 3000))
def test_a_damaged_file_is_a_sentence_or_a_picture(place: int, byte: int, cut: int) -> None:
    whole = bytearray(picture(200, 150, quality=70).getvalue())
    whole[place % len(whole)] = byte
    damaged = io.BytesIO(bytes(whole[: len(whole) - cut % 200]))
    with suppress(PhotographError):
        image = scaled(damaged)
        assert 0 < image.width <= LONG_SIDE


def test_a_file_of_50_mb_is_taken_in_bounded_memory(tmp_path: Path) -> None:
    """50 MB of noise as PNG, and a JPEG of 120 million pixels, each by a process of its own."""
    noise = np.random.default_rng(1).integers(0, 256, (3900, 4300, 3), dtype=np.uint8)
    Image.fromarray(noise).save(tmp_path / "noise.png")
    assert 49e6 < (tmp_path / "noise.png").stat().st_size < 60e6
    Image.new("RGB", (12_000, 10_000), "grey").save(tmp_path / "wide.jpg", quality=60)
    script = (
        "import resource, sys; from pathlib import Path\n"
        "from curewatch.logbook import photographs as p\n"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
        "p.take(open(sys.argv[1], 'rb'), Path(sys.argv[2]))\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)"
    )
    assert resource.RUSAGE_SELF == 0
    for name in ("noise.png", "wide.jpg"):
        result = subprocess.run(
            [sys.executable, "-c", script, str(tmp_path / name), str(tmp_path / "log.sqlite")],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert int(result.stdout) / 1024 < 200, name


def test_more_than_that_is_refused_before_it_is_read(bench: Bench, tmp_path: Path) -> None:
    with (tmp_path / "huge.jpg").open("wb") as file:
        file.write(picture().getvalue())
        file.truncate(70_000_000)
    with (
        (tmp_path / "huge.jpg").open("rb") as source,
        pytest.raises(PhotographError, match="70 MB"),
    ):
        photographs.add(bench, 1, source, now=NOW)


@pytest.mark.parametrize("name", ["../../etc/passwd", "a.jpg", "", "/etc/passwd"])
def test_no_name_but_ours_leads_to_a_file(tmp_path: Path, name: str) -> None:
    with pytest.raises(PhotographError, match="no such photograph"):
        photographs.path_of(tmp_path / "log.sqlite", name)


def test_a_step_that_is_not_there_keeps_nothing(bench: Bench) -> None:
    with pytest.raises(StepError, match="no step 9"):
        photographs.add(bench, 9, picture(), now=NOW)
    assert not (bench.store.path.parent / FOLDER).exists()


def test_from_the_page_by_camera_or_file_and_shown_small_and_large(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.mix("epoxy-primer", 5, part="skin")
    browser, origin = garage.app.test_client(), {"Origin": "http://localhost"}
    for field in ("camera", "file"):
        data = {field: (located(), "../../evil.html"), "words": "<b>before</b>", "once": field}
        answer = browser.post("/step/1/photograph", data=data, headers=origin)
        assert answer.status_code == 303
    [photograph] = shown(garage.bench.step(1))
    text = browser.get("/step/1").text
    assert "&lt;b&gt;before" in text
    assert "evil" not in text
    for path in ("", "/small"):
        answer = browser.get(f"/step/1/photograph/{photograph.id}{path}")
        assert (answer.mimetype, answer.headers["X-Content-Type-Options"]) == (
            "image/jpeg", "nosniff",
        )  # fmt: skip
        assert b"SECRET" not in answer.data
    assert browser.get("/step/1/photograph/1").status_code == 404
    assert browser.get("/step/1/photograph/..%2f..%2fx").status_code == 404
    assert f"photograph/{photograph.id}/small" in browser.get("/logbook").text
    garage.store.close()


def test_the_page_says_what_is_wrong_with_a_photograph(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    garage.mix("epoxy-primer", 5)
    browser, origin = garage.app.test_client(), {"Origin": "http://localhost"}
    for data, says in (
        ({"file": (io.BytesIO(b"nothing"), "a.jpg")}, "not a photograph"),
        ({}, "no photograph was chosen"),
    ):
        answer = browser.post("/step/1/photograph", data=data, headers=origin)
        assert (answer.status_code, says in answer.text) == (400, True)
    answer = browser.post(
        "/step/1/photograph",
        data=b"--x",
        headers=origin,
        content_type="multipart/form-data; boundary=x",
        environ_overrides={"CONTENT_LENGTH": "62000000"},
    )
    assert answer.status_code == 413
    garage.store.close()


def test_from_the_command(run: Run, tmp_path: Path) -> None:
    run("mix", ADHESIVE)
    (tmp_path / "skin.jpg").write_bytes(located().getvalue())
    code, out, _ = run("step", "photo", "1", str(tmp_path / "skin.jpg"), "--words", "the skin")
    assert (code, "320 × 200" in out) == (0, True)
    assert "photograph: the skin" in run("step", "show", "1")[1]
    code, _, err = run("step", "photo", "1", str(tmp_path / "nothing.jpg"))
    assert (code, "cannot be read" in err) == (2, True)


def test_a_photograph_whose_file_is_gone_is_said_and_breaks_nothing(tmp_path: Path) -> None:
    bench = evening(tmp_path)
    [photograph] = shown(bench.step(1))
    os.unlink(photographs.path_of(bench.store.path, photograph.body["name"]))
    assert photographs.read(bench.store.path, photograph.body["name"]) is None
    assert photographs.printable(bench.store.path, photograph.body["name"]) is None


def test_a_copy_by_hand_takes_the_photographs_along_and_brings_them_back(
    run: Run, tmp_path: Path
) -> None:
    run("mix", ADHESIVE)
    (tmp_path / "skin.jpg").write_bytes(picture().getvalue())
    run("step", "photo", "1", str(tmp_path / "skin.jpg"))
    copy = tmp_path / "stick" / "log.sqlite"
    copy.parent.mkdir()
    code, out, _ = run("data", "backup", str(copy))
    assert (code, "photographs, 1 new" in out) == (0, True)
    kept_there = sorted(path.name for path in (tmp_path / "stick/log-photographs").iterdir())
    folder = tmp_path / "data" / FOLDER
    assert kept_there == sorted(path.name for path in folder.iterdir())
    assert (tmp_path / "stick/log-photographs").stat().st_mode & 0o077 == 0
    for file in folder.iterdir():
        file.unlink()
    code, out, _ = run("data", "restore", str(copy))
    assert (code, "1 photographs came back" in out) == (0, True)
    assert sorted(path.name for path in folder.iterdir()) == kept_there
