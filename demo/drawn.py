"""Two pictures of the invented trailer, drawn by code: the demonstration has no camera."""

from __future__ import annotations

import io
from datetime import datetime

from PIL import Image, ImageDraw, ImageFilter

from curewatch.bench.bench import Bench
from curewatch.logbook import photographs

SIZE = (1200, 900)
SKIN, STEEL, PRIMED, GLUE, FILLER = "#c9c3b4", "#a9adb0", "#7d6a58", "#d8cfa0", "#8fa39a"
EDGE, CLAMP, PAD = "#6e6a60", "#9c3a22", "#2f2f2f"


def _panel() -> tuple[Image.Image, ImageDraw.ImageDraw]:
    """The trailer's corner as seen from behind: skin, a rib, the floor's edge."""
    image = Image.new("RGB", SIZE, SKIN)
    pen = ImageDraw.Draw(image)
    for left in range(0, SIZE[0], 150):
        pen.line((left, 0, left - 40, SIZE[1]), fill="#beb8a8", width=3)
    pen.rectangle((0, 760, SIZE[0], SIZE[1]), fill=EDGE)
    pen.rectangle((0, 740, SIZE[0], 762), fill="#8a867b")
    return image, pen


def _jpeg(image: Image.Image) -> io.BytesIO:
    out = io.BytesIO()
    image.filter(ImageFilter.GaussianBlur(1.2)).save(out, "JPEG", quality=85)
    out.seek(0)
    return out


def _clamp(pen: ImageDraw.ImageDraw, x: int, y: int) -> None:
    pen.rectangle((x - 22, y - 60, x + 22, y + 60), fill=CLAMP, outline="#5c1f10", width=3)
    pen.ellipse((x - 18, y + 30, x + 18, y + 66), fill=PAD)


def clamped() -> io.BytesIO:
    """A strip of steel in its adhesive under five clamps, as a JPEG."""
    image, pen = _panel()
    pen.rectangle((130, 430, 1070, 600), fill=GLUE)
    pen.rectangle((140, 440, 1060, 590), fill=STEEL, outline=EDGE, width=4)
    for number in range(5):
        _clamp(pen, 220 + 190 * number, 440)
    return _jpeg(image)


def filled() -> io.BytesIO:
    """A rib with a filled and half sanded hollow, as a JPEG."""
    image, pen = _panel()
    pen.polygon(((480, 0), (720, 0), (690, 740), (510, 740)), fill=PRIMED)
    pen.ellipse((420, 250, 800, 620), fill=FILLER)
    for across in range(0, 320, 16):
        pen.line((450 + across, 300 + across // 4, 470 + across, 560), fill="#a5b6ae", width=3)
    return _jpeg(image)


DRAWN = {
    "backing strip": (clamped, "drawn, not photographed: five clamps"),
    "left rear rib, second coat": (filled, "drawn, not photographed: half sanded"),
}


def illustrate(bench: Bench, step: int, part: str, at: datetime) -> None:
    """Put the picture of a part into the log, in the place of a photograph taken then."""
    draw, words = DRAWN[part]
    photographs.add(bench, step, draw(), now=at, words=words)
