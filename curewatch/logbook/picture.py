"""A picture from outside: held against its header, scaled, turned upright, written anew.

Only the picture itself stays: where and when it was taken, by which device and any other data in
the file are left behind.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import BinaryIO

from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from curewatch.errors import PhotographError
from curewatch.frozen import frozen

FORMATS = ("JPEG", "PNG", "WEBP")
LONG_SIDE, SMALL_SIDE = 2000, 480
QUALITY, SMALL_QUALITY = 86, 80
MOST_PIXELS = {"JPEG": 24_000_000, "PNG": 20_000_000, "WEBP": 8_300_000}
MOST_PIXELS_SCALED, MOST_PIXELS_CLEAR = 260_000_000, 12_000_000
SMALLER = "scale it down first, or send it as JPEG"
_HEIC = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif")
_TYPES = "take it as JPEG, PNG or WebP"


@frozen
class Scaled:
    """A picture as it is kept, written twice as JPEG; width and height of the large one [px]."""

    width: int
    height: int
    large: bytes
    small: bytes


def scaled(source: BinaryIO) -> Scaled:
    """A picture at most LONG_SIDE wide and high, and a small one. Raises PhotographError."""
    with opened(source) as image:
        large = _upright(image)
    data = jpeg(large, QUALITY)
    return Scaled(large.width, large.height, data, small_of(large.copy()))


def small_of(image: Image.Image) -> bytes:
    """A picture as small as a list shows it; `image` itself is made so small."""
    image.thumbnail((SMALL_SIDE, SMALL_SIDE), Image.Resampling.LANCZOS)
    return jpeg(image, SMALL_QUALITY)


def jpeg(image: Image.Image, quality: int) -> bytes:
    """The pixels alone, written anew."""
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=quality, optimize=True)
    return out.getvalue()


@contextmanager
def opened(source: BinaryIO) -> Iterator[Image.Image]:
    """A picture whose header was read; what goes wrong inside is a PhotographError."""
    start = source.read(16)
    source.seek(0)
    if not start:
        raise PhotographError("the file is empty", fix=_TYPES)
    if start[4:8] == b"ftyp" and start[8:12] in _HEIC:
        raise PhotographError(
            "HEIC and AVIF photographs cannot be read here",
            fix="set the camera to JPEG (often called 'most compatible'), or send a screenshot",
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with _of_known_format(source, start) as image:
                _refuse_size(image)
                yield image
    except PhotographError:
        raise
    except UnidentifiedImageError:
        raise PhotographError("that is not a photograph", fix=_TYPES) from None
    except Image.DecompressionBombError:
        raise PhotographError("that picture is far too large", fix=SMALLER) from None
    except MemoryError:
        raise PhotographError("that picture takes too much memory", fix=SMALLER) from None
    except (OSError, ValueError, SyntaxError, EOFError, IndexError) as error:
        raise PhotographError(
            f"the photograph is damaged or cut short ({str(error)[:80]})", fix="send it again"
        ) from None


def _of_known_format(source: BinaryIO, start: bytes) -> Image.Image:
    """A picture whose header was read; a WebP has its memory set aside then already."""
    try:
        return Image.open(source, formats=FORMATS)
    except UnidentifiedImageError:
        raise
    except OSError:
        if start[8:12] != b"WEBP":
            raise
        raise PhotographError(
            "that WebP photograph takes too much memory, or is damaged", fix=SMALLER
        ) from None


def _most_pixels(image: Image.Image) -> int:
    """How many pixels are taken; a plain JPEG is decoded scaled down. [px]"""
    if image.format == "JPEG" and not image.info.get("progressive"):
        return MOST_PIXELS_SCALED
    most = MOST_PIXELS[image.format or "PNG"]
    return min(most, MOST_PIXELS_CLEAR) if image.has_transparency_data else most


def _refuse_size(image: Image.Image) -> None:
    """Held against its header before a pixel is decoded."""
    pixels, most = image.width * image.height, _most_pixels(image)
    if pixels > most:
        kind = "JPEG" if image.format == "JPEG" else f"{image.format} pictures"
        raise PhotographError(
            f"{image.width} × {image.height} is {pixels / 1e6:.0f} million pixels; at most "
            f"{most / 1e6:.0f} are taken of such {kind}",
            fix=SMALLER,
        )


def _upright(image: Image.Image) -> Image.Image:
    """The picture scaled, turned as its camera was held, in plain colours on white."""
    scale = max(1.0, max(image.size) / LONG_SIDE)
    image.draft("RGB", (int(image.width / scale), int(image.height / scale)))
    profile, clear = image.info.get("icc_profile"), image.has_transparency_data
    if clear and image.mode != "RGBA":
        image = image.convert("RGBA")
    upright = ImageOps.exif_transpose(_shrunk(image))
    if clear:
        white = Image.new("RGB", upright.size, "white")
        white.paste(upright, mask=upright.getchannel("A"))
        return _plain_colours(white, profile)
    return _plain_colours(upright.convert("RGB"), profile)


def _shrunk(image: Image.Image) -> Image.Image:
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
        converted = ImageCms.profileToProfile(image, own, ImageCms.createProfile("sRGB"))
        return converted or image
    return image
