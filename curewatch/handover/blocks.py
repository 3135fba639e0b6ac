"""A document to print, as plain blocks; one writer makes HTML of it, another PDF."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from curewatch.frozen import frozen

Tone = Literal["plain", "lead", "state", "missing", "small"]


@frozen
class Heading:
    """A heading; level 1 is the document's."""

    level: int
    words: str


@frozen
class Text:
    """A paragraph."""

    words: str
    tone: Tone = "plain"


@frozen
class TableBlock:
    """A table; wide: columns that may wrap, by their place (all others stay on one line where they
    can); widths: shares of the page (dimensionless)."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    widths: tuple[float, ...]


@frozen
class Blanks:
    """Lines to fill in by hand."""

    words: tuple[str, ...]


@frozen
class Bullets:
    """A list of sentences."""

    words: tuple[str, ...]


@frozen
class Drawing:
    """A drawing of ours as SVG: lines, polylines, circles and texts."""

    svg: str


@frozen
class Picture:
    """A photograph as JPEG, and what it shows."""

    jpeg: bytes
    words: str


@frozen
class Pictures:
    """Photographs side by side."""

    pictures: tuple[Picture, ...]


@frozen
class Section:
    """What belongs together, kept on one page where it fits."""

    blocks: tuple[Block, ...]


Block = Heading | Text | TableBlock | Blanks | Bullets | Drawing | Pictures | Section


@frozen
class Document:
    """A titled document."""

    title: str
    blocks: tuple[Block, ...]


def texts(blocks: Sequence[Block]) -> list[str]:
    """Every text of a document, to know which characters it needs."""
    collected: list[str] = []
    for block in blocks:
        match block:
            case Section(inner):
                collected += texts(inner)
            case TableBlock(head, rows, _):
                collected += [*head, *(cell for row in rows for cell in row)]
            case Bullets(words) | Blanks(words):
                collected += words
            case Pictures(pictures):
                collected += [picture.words for picture in pictures]
            case Heading(_, words) | Text(words, _) | Drawing(words):
                collected.append(words)
    return collected
