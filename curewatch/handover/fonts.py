"""Open fonts for the PDF, from packages that carry them; each is opened only where it is needed."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import as_file, files
from pathlib import Path

from fontTools.ttLib import TTFont

from curewatch.errors import ConfigError

MAIN = "NotoSans[wght].ttf"
_PACKAGE, _CJK = "manimgx_fonts", ("noto_cjk_sans_jp_regular", "NotoSansCJKjp-Regular.otf")
_BLANK = "\n\r\t \u00a0\u200b\u200c\u200d\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067"
MISSING = "\ufffd"
_JOINED = re.compile(
    "[\u0300-\u036f\u0590-\u109f\u1700-\u1cff\ua800-\uabff\ufb1d-\ufdff\ufe70-\ufeff]"
)


@dataclass(frozen=True)
class Chosen:
    """The fonts a text needs, the main one first, and the characters that none of them has."""

    files: tuple[Path, ...]
    missing: frozenset[str]


def _path(package: str, name: str) -> Path | None:
    """A packaged font; None where its package is not installed."""
    try:
        with as_file(files(package).joinpath(name)) as file:
            return file if file.exists() else None
    except ModuleNotFoundError:
        return None


def _main() -> Path:
    main = _path(_PACKAGE, MAIN)
    if main is None:
        raise ConfigError(
            "a PDF needs the package manimgx-fonts, which is not installed",
            fix="install curewatch again with pip, or hand over the HTML file",
        )
    return main


def _others() -> list[Path]:
    named = sorted(_main().parent.glob("*.ttf"))
    cjk = _path(*_CJK)
    return [
        *(font for font in named if font.name != MAIN and "Italic" not in font.name),
        *([cjk] if cjk else []),
    ]


@lru_cache(maxsize=64)
def covered(path: Path) -> frozenset[int]:
    """The characters a font has."""
    with TTFont(path, lazy=True) as font:
        return frozenset(font.getBestCmap())


def choose(texts: Iterable[str]) -> Chosen:
    """As few fonts as these texts need. Raises ConfigError where the main one is missing."""
    main = _main()
    wanted = {character for text in texts for character in text if character not in _BLANK}
    left = {character for character in wanted if ord(character) not in covered(main)}
    chosen = [main]
    for path in _others() if left else ():
        has = {character for character in left if ord(character) in covered(path)}
        if has:
            chosen.append(path)
            left -= has
        if not left:
            break
    return Chosen(tuple(chosen), frozenset(left))


def joined(text: str) -> bool:
    """Whether a text has letters that join, stack or run from right to left."""
    return _JOINED.search(text) is not None


def shown(text: str, missing: frozenset[str]) -> str:
    """A text with a visible mark for every character that no font has."""
    plain = unicodedata.normalize("NFC", text.replace("\r", " ").replace("\t", " "))
    return "".join(MISSING if character in missing else character for character in plain)
