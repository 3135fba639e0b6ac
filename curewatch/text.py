"""Text from outside before it is kept: only what can be shown as it stands."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from typing import Any

from curewatch.errors import ConfigError

LONGEST_TEXT = 500

_NOT_SHOWN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f"  # control characters, which also steer terminals
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # marks that turn the way of reading
    "\ud800-\udfff\ufffe\uffff]"  # halves of characters, and no characters
)
_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠", "|", "%")
_BEFORE = " \t\r\n;,\"'"


def plain(text: str) -> str:
    """A text without control characters (but tab and new line), turning marks and halves.

    >>> plain("lid" + chr(27) + "[2J" + chr(0x202E) + "gnp.exe")
    'lid[2Jgnp.exe'
    """
    return _NOT_SHOWN.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))


def one_line(text: str) -> str:
    """A text that is one line and can be shown as it stands. Raises ConfigError for another."""
    if plain(text) != text or "\n" in text or "\t" in text:
        raise ConfigError("a line break or control character is in it", fix="leave it out")
    return text


def short_name(product: str) -> str:
    """A product's name without what stands in brackets."""
    return product.split(" (")[0]


def slug(name: str) -> str:
    """A name as an id: its words in small letters with dashes between; '' where it has none.

    >>> slug("Seal a seam, twice"), slug("Шов 1")
    ('seal-a-seam-twice', 'шов-1')
    """
    return "-".join(re.findall(r"[^\W_]+", name.casefold()))[:60].rstrip("-")


def body_text(body: Mapping[str, Any]) -> str:
    """An event's body as JSON, its texts plain."""
    return json.dumps(_plain_in(body), ensure_ascii=False)


def _plain_in(value: Any) -> Any:
    if isinstance(value, str):
        return plain(value)
    if isinstance(value, Mapping):
        return {plain(str(key)): _plain_in(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain_in(item) for item in value]
    return value


def cell(text: object) -> str:
    """A cell of a CSV file that no spreadsheet takes for a formula; numbers stay numbers.

    Neither is one behind what another country's spreadsheet takes for the end of a cell.

    >>> cell("=1+1"), cell(" @x"), cell(";=1+1"), cell("door"), cell(-3.5), cell(None)
    ("'=1+1", "' @x", "';=1+1", 'door', '-3.5', '')
    """
    if not isinstance(text, str):
        return "" if text is None else str(text)
    return f"'{text}" if text.lstrip().lstrip(_BEFORE).startswith(_FORMULA) else text


def csv_line(cells: Iterable[object]) -> str:
    """Cells as one line of CSV (RFC 4180).

    >>> csv_line(["door", "a, b", 1.5]).rstrip()
    'door,"a, b",1.5'
    """
    import csv
    import io

    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerow(cells)
    return out.getvalue()
