"""Open fonts for the PDF, from a package that carries them; each is opened only where needed."""

from __future__ import annotations

import io
import logging
import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache

import pymupdf_fonts
from fontTools.ttLib import TTFont

from curewatch.frozen import frozen

# The package's names for Noto Sans (Latin, Greek, Cyrillic), FiraGO (Hebrew, Arabic, Devanagari,
# Thai, Georgian, arrows) and two of Noto's symbols, in the order in which they are asked.
MAIN, BOLD = "notos", "notosbo"
_OTHERS = ("figo", "symbol1", "symbol2")
_BLANK = "\n\r\t \u00a0\u200b\u200c\u200d\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067"
MISSING = "\ufffd"
# FiraGO has a hinting program's table that a PDF cannot use: dropping it is no news to a user.
logging.getLogger("fontTools.subset").setLevel(logging.ERROR)
_JOINED = re.compile(
    "[\u0300-\u036f\u0590-\u109f\u1700-\u1cff\ua800-\uabff\ufb1d-\ufdff\ufe70-\ufeff]"
)


@frozen
class Chosen:
    """The fonts a text needs, the main one first, and the characters that none of them has."""

    names: tuple[str, ...]
    missing: frozenset[str]


def font_bytes(name: str) -> bytes:
    """A font as TrueType."""
    return bytes(pymupdf_fonts.myfont(name))


@lru_cache(maxsize=len(_OTHERS) + 1)
def covered(name: str) -> frozenset[int]:
    """The characters a font has."""
    with TTFont(io.BytesIO(font_bytes(name)), lazy=True) as font:
        return frozenset(font.getBestCmap())


def choose(texts: Iterable[str]) -> Chosen:
    """As few fonts as these texts need."""
    left = {character for text in texts for character in text if character not in _BLANK}
    names: list[str] = []
    for name in (MAIN, *_OTHERS):
        has = {character for character in left if ord(character) in covered(name)}
        if has or name == MAIN:
            names.append(name)
            left -= has
        if not left:
            break
    return Chosen(tuple(names), frozenset(left))


def joined(text: str) -> bool:
    """Whether a text has letters that join, stack or run from right to left."""
    return _JOINED.search(text) is not None


def shown(text: str, missing: frozenset[str]) -> str:
    """A text with a visible mark for every character that no font has."""
    plain = unicodedata.normalize("NFC", text.replace("\r", " ").replace("\t", " "))
    return "".join(MISSING if character in missing else character for character in plain)
