"""A document as one HTML file: no script, nothing from elsewhere, made to be printed."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator, Sequence
from html import escape

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
)

SHORT = 16
STYLE = """
@page { size: A4; margin: 14mm }
body { font: 10.5pt/1.35 "DejaVu Sans", system-ui, sans-serif; color: #111; background: #fff;
  max-width: 182mm; margin: 0 auto; overflow-wrap: anywhere }
h1 { font-size: 18pt; margin: 0 0 1mm } h2 { font-size: 13pt; margin: 7mm 0 1mm;
  border-bottom: 1.5pt solid #111 } h3 { font-size: 11pt; margin: 4mm 0 1mm }
h4 { font-size: 9.5pt; margin: 2.5mm 0 0.5mm }
p { margin: 1mm 0 } ul { margin: 1mm 0; padding-left: 5mm; font-size: 9.5pt }
table { border-collapse: collapse; width: 100%; margin: 1.5mm 0; font-size: 8pt;
  break-inside: avoid }
th, td { border: 0.5pt solid #999; padding: 0.6mm 1.2mm; text-align: left; vertical-align: top }
th { background: #eee; font-weight: 600 } td { font-variant-numeric: tabular-nums }
section { border-left: 2.5pt solid #bbb; padding-left: 3mm; margin: 3mm 0 }
h2, h3, h4, .state { break-after: avoid }
.small { font-size: 8.5pt; color: #444 } .state { font-weight: 600 } .lead { font-size: 11pt }
.missing { border: 0.8pt dashed #777; padding: 1mm 2mm; margin: 1.5mm 0; font-size: 9pt }
td.whole { white-space: nowrap } section > p:nth-of-type(-n+2) { break-after: avoid }
td.blank { width: 60% } svg { width: 100%; height: auto; font-family: inherit }
figure { display: inline-block; width: 56mm; margin: 1.5mm 2mm 1.5mm 0; vertical-align: top;
  break-inside: avoid } figure img { width: 100%; max-height: 60mm; object-fit: contain }
figcaption { font-size: 8.5pt }
@media screen and (max-width: 640px) {
  table { display: block; overflow-x: auto; overflow-wrap: normal }
  td, th { min-width: 5em }
  body { margin: 0 2mm } section { padding-left: 2mm } }
"""


def _cell(text: str) -> str:
    whole = ' class="whole"' if len(text) <= SHORT else ""
    return f"<td{whole}>{escape(text)}</td>"


def _table(block: TableBlock) -> Iterator[str]:
    yield "<table><tr>" + "".join(f"<th>{escape(head)}</th>" for head in block.head) + "</tr>"
    for row in block.rows:
        yield "<tr>" + "".join(map(_cell, row)) + "</tr>"
    yield "</table>"


def _pictures(block: Pictures) -> Iterator[str]:
    for picture in block.pictures:
        data = b64encode(picture.jpeg).decode("ascii")
        words = escape(picture.words)
        yield f'<figure><img alt="{words}" src="data:image/jpeg;base64,{data}">'
        yield f"<figcaption>{words}</figcaption></figure>"


def _block(block: Block) -> Iterator[str]:
    match block:
        case Heading(level, words):
            yield f"<h{level}>{escape(words)}</h{level}>"
        case Text(words, tone):
            yield f'<p class="{tone}">{escape(words)}</p>'
        case TableBlock():
            yield from _table(block)
        case Bullets(words):
            yield "<ul>" + "".join(f"<li>{escape(sentence)}</li>" for sentence in words) + "</ul>"
        case Blanks(words):
            rows = (f'<tr><td>{escape(line)}</td><td class="blank"></td></tr>' for line in words)
            yield f"<table>{''.join(rows)}</table>"
        case Drawing(svg):
            yield svg
        case Pictures():
            yield from _pictures(block)
        case Section(blocks):
            yield "<section>"
            yield from _blocks(blocks)
            yield "</section>"


def _blocks(blocks: Sequence[Block]) -> Iterator[str]:
    for block in blocks:
        yield from _block(block)


def to_html(document: Document) -> str:
    """The document as one self-contained page."""
    return "".join(
        [
            '<!doctype html><html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{escape(document.title)}</title><style>{STYLE}</style></head><body>",
            *_blocks(document.blocks),
            "</body></html>\n",
        ]
    )
