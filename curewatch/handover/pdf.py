"""A document as PDF, to be printed and put in a folder: text in many scripts, drawings as lines."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Literal

from fpdf import FPDF, FontFace
from fpdf.enums import TableBordersLayout

from curewatch.handover.blocks import (
    Blanks,
    Block,
    Bullets,
    Document,
    Drawing,
    Heading,
    Pictures,
    Section,
    TableBlock,
    Text,
    texts,
)
from curewatch.handover.fonts import BOLD, MISSING, Chosen, choose, font_bytes, joined, shown

MARGIN, INDENT = 14.0, 4.0
SIZES = {1: 18.0, 2: 13.0, 3: 11.0, 4: 9.5}
SPACES = {1: 0.0, 2: 5.0, 3: 3.5, 4: 2.0}
BODY, SMALL, CELL, LINE = 9.5, 8.0, 8.0, 1.3
MM = 25.4 / 72
DARK, GREY, LIGHT = (17, 17, 17), (119, 119, 119), (238, 238, 238)
VIEW = re.compile(r'viewBox="0 0 ([\d.]+) ([\d.]+)"')
PICTURE_MM, PICTURE_GAP = 54.0, 4.0
PADDING = 0.7
KEPT_MM, BEGUN_MM = 40.0, 80.0


class _Paper(FPDF):
    """Pages with a footer that names the document and counts them."""

    def __init__(self, title: str, chosen: Chosen, shaped: bool, folder: Path) -> None:
        super().__init__(format="A4")
        self.folder = folder
        self.named, self.missing = title, chosen.missing
        self._add("f0", "B", BOLD)
        for index, name in enumerate(chosen.names):
            self._add(f"f{index}", "", name)
        if chosen.names[1:]:
            others = [f"f{index}" for index in range(1, len(chosen.names))]
            self.set_fallback_fonts(others, exact_match=False)
        self.set_text_shaping(shaped)
        self.set_margins(MARGIN, MARGIN)
        self.c_margin = 0.0
        self.set_auto_page_break(True, MARGIN + 4)
        self.alias_nb_pages()
        self.size(BODY)

    def _add(self, family: str, style: str, name: str) -> None:
        """Add a packaged font. The package holds bytes; fpdf2 reads files, and until the end."""
        file = self.folder / f"{name}.ttf"
        file.write_bytes(font_bytes(name))
        self.add_font(family, style, file)

    def say(self, text: str) -> str:
        """A text as these fonts can show it."""
        return shown(text, self.missing)

    def size(self, points: float) -> None:
        """The size of what follows. [pt]"""
        self.set_font("f0", self.font_style, points)

    @contextmanager
    def strong(self) -> Iterator[None]:
        """Bold letters."""
        self.set_font("f0", "B")
        yield
        self.set_font("f0", "")

    def footer(self) -> None:
        """Title and page number under every page."""
        self.set_y(-MARGIN)
        self.size(SMALL)
        self.set_text_color(*GREY)
        self.set_x(self.l_margin)
        self.cell(145, 4, self.cut(self.named, 140))
        self.cell(0, 4, f"page {self.page_no()} of {{nb}}", align="R")
        self.set_text_color(*DARK)
        self.size(BODY)

    def cut(self, text: str, most_mm: float) -> str:
        """A text as these fonts can show it, no wider than this. [mm]"""
        left = self.say(text)
        while len(left) > 1 and self.get_string_width(left) > most_mm:
            left = f"{left[: int(len(left) * 0.9) - 1]}…"
        return left

    def line_of(self, text: str, points: float) -> None:
        """A paragraph. points [pt]"""
        self.size(points)
        self.set_x(self.l_margin)
        self.flow(text, points * LINE * MM)
        self.size(BODY)

    def flow(self, text: str, line_mm: float, edge: Literal[0, 1] = 0) -> None:
        """Lines from here to the right margin, each so high [mm]; edge: 1 for a border."""
        words = self.say(text)
        self.multi_cell(0, line_mm, words, edge, "L", new_x="LMARGIN", new_y="NEXT", padding=edge)

    def room(self) -> float:
        """What is left of this page. [mm]"""
        return float(self.h - self.b_margin - self.get_y())

    def keep(self, needed_mm: float) -> None:
        """Begin a new page where less than this is left. [mm]"""
        if self.room() < needed_mm:
            self.add_page()


def _heading(paper: _Paper, block: Heading) -> None:
    paper.keep(KEPT_MM if block.level != 2 else BEGUN_MM + 25)
    paper.ln(SPACES[block.level])
    with paper.strong():
        paper.line_of(block.words, SIZES[block.level])
    if block.level == 2:
        paper.set_draw_color(*DARK)
        paper.set_line_width(0.5)
        paper.line(paper.l_margin, paper.get_y(), paper.w - paper.r_margin, paper.get_y())
    paper.ln(1)


def _text(paper: _Paper, block: Text) -> None:
    if block.tone == "state":
        with paper.strong():
            paper.line_of(block.words, BODY)
        return
    if block.tone != "missing":
        paper.line_of(block.words, SMALL if block.tone == "small" else BODY)
        return
    paper.ln(1.5)
    paper.size(SMALL + 0.5)
    paper.set_dash_pattern(dash=1, gap=0.8)
    paper.set_draw_color(*GREY)
    paper.set_line_width(0.25)
    paper.flow(block.words, 4.2, edge=1)
    paper.set_dash_pattern()
    paper.size(BODY)
    paper.ln(1)


def _height(paper: _Paper, block: TableBlock) -> float:
    """About how high a table gets. [mm]"""
    wide = [paper.epw * share / sum(block.widths) - 2 * PADDING for share in block.widths]
    lines = sum(
        max(
            math.ceil(paper.get_string_width(paper.say(cell)) * 1.1 / room)
            for cell, room in zip(row, wide, strict=True)
        )
        for row in (block.head, *block.rows)
    )
    return lines * CELL * LINE * MM + 2 * PADDING * (1 + len(block.rows)) + 2


def _table(paper: _Paper, block: TableBlock) -> None:
    paper.size(CELL)
    high = _height(paper, block)
    if paper.room() < high < paper.h - 4 * MARGIN:
        paper.add_page()
    paper.set_draw_color(153, 153, 153)
    paper.set_line_width(0.15)
    with paper.table(
        col_widths=block.widths,
        line_height=CELL * LINE * MM,
        padding=PADDING,
        text_align="LEFT",
        first_row_as_headings=True,
        headings_style=FontFace(fill_color=LIGHT, emphasis=""),
        borders_layout=TableBordersLayout.ALL,
        align="LEFT",
        width=paper.epw,
    ) as table:
        for row in (block.head, *block.rows):
            cells = table.row()
            for cell in row:
                cells.cell(paper.say(cell))
    paper.size(BODY)
    paper.ln(1.5)


def _blanks(paper: _Paper, block: Blanks) -> None:
    paper.set_draw_color(153, 153, 153)
    paper.set_line_width(0.15)
    paper.c_margin = 1.0
    for label in block.words:
        paper.keep(9)
        paper.set_x(paper.l_margin)
        wide = paper.epw * 0.45
        paper.cell(wide, 8, paper.cut(label, wide - 2), border=1)
        paper.cell(paper.epw - wide, 8, "", border=1, new_x="LMARGIN", new_y="NEXT")
    paper.c_margin = 0.0
    paper.ln(1)


def _bullets(paper: _Paper, block: Bullets) -> None:
    left = paper.l_margin
    for sentence in block.words:
        paper.set_x(left)
        paper.size(BODY - 0.5)
        paper.keep(5)
        paper.cell(INDENT, (BODY - 0.5) * LINE * MM, "–")
        paper.flow(sentence, (BODY - 0.5) * LINE * MM)
    paper.size(BODY)


def _drawing(paper: _Paper, block: Drawing) -> None:
    wide, high = (float(size) for size in VIEW.findall(block.svg)[0])
    high_mm = paper.epw * high / wide
    paper.keep(high_mm + 2)
    top = paper.get_y()
    svg = block.svg.replace("<svg ", '<svg font-family="f0" ', 1)
    paper.image(io.BytesIO(svg.encode()), paper.l_margin, top, paper.epw, high_mm)
    paper.set_y(top + high_mm + 1)


def _pictures(paper: _Paper, block: Pictures) -> None:
    from PIL import Image

    x, tallest = paper.l_margin, 0.0
    top = paper.get_y()
    for picture in block.pictures:
        with Image.open(io.BytesIO(picture.jpeg)) as image:
            high = min(60.0, PICTURE_MM * image.height / image.width)
            wide = high * image.width / image.height
        if x + PICTURE_MM > paper.w - paper.r_margin + 0.1:
            x, top, tallest = paper.l_margin, top + tallest + 2, 0.0
        if top + high + 12 > paper.h - paper.b_margin:
            paper.add_page()
            x, top, tallest = paper.l_margin, paper.get_y(), 0.0
        paper.image(io.BytesIO(picture.jpeg), x, top, wide, high)
        paper.set_xy(x, top + high + 0.5)
        paper.size(SMALL)
        paper.multi_cell(PICTURE_MM, 3.6, paper.say(picture.words), align="L", max_line_height=3.6)
        tallest = max(tallest, paper.get_y() - top)
        x += PICTURE_MM + PICTURE_GAP
    paper.size(BODY)
    paper.set_xy(paper.l_margin, top + tallest + 2)


def _blocks(paper: _Paper, blocks: Sequence[Block]) -> None:
    for block in blocks:
        match block:
            case Heading():
                _heading(paper, block)
            case Text():
                _text(paper, block)
            case TableBlock():
                _table(paper, block)
            case Bullets():
                _bullets(paper, block)
            case Blanks():
                _blanks(paper, block)
            case Drawing():
                _drawing(paper, block)
            case Pictures():
                _pictures(paper, block)
            case Section(inner):
                paper.keep(BEGUN_MM)
                paper.ln(2)
                _blocks(paper, inner)


def _missing(chosen: Chosen) -> list[Block]:
    if not chosen.missing:
        return []
    codes = ", ".join(f"U+{ord(character):04X}" for character in sorted(chosen.missing)[:40])
    words = f"The PDF's fonts lack these characters, shown as {MISSING}: {codes}."
    return [Text(f"{words} The HTML sheet has them.", "small")]


def to_pdf(document: Document, now: datetime) -> bytes:
    """The document as PDF on A4, said to be made `now`."""
    printed = [document.title, *texts(document.blocks), "– … � 0123456789"]
    chosen = choose(printed)
    with TemporaryDirectory() as folder:
        paper = _Paper(document.title, chosen, any(map(joined, printed)), Path(folder))
        paper.set_title(document.title)
        paper.set_creator("curewatch")
        paper.set_lang("en")
        paper.set_creation_date(now)
        paper.add_page()
        _blocks(paper, [*document.blocks, *_missing(chosen)])
        return bytes(paper.output())
