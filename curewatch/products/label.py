"""Whether a label's figures can be: a colder row is slower, and no time is absurd.

A sheet is held against this when it is put on the shelf. One that is there already, or in a step,
still loads: what is doubtful about it is said beside its times.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import permutations
from pathlib import Path

from curewatch.durations import rounding
from curewatch.errors import ConfigError, SheetError
from curewatch.frozen import frozen
from curewatch.notice import Duration, Field, Measure, Notice, Term, notice
from curewatch.notice_words import sentence
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.products.sheet import Sheet, TimesRow, parse_sheet
from curewatch.text import one_line, slug

LEAST_MIN = 1 / 6
MOST_MIN = {
    "pot_life": 3 * 1440.0,
    "working_time": 3 * 1440.0,
    "clamp_time": 30 * 1440.0,
    "sand_ready": 60 * 1440.0,
    "recoat_opens": 60 * 1440.0,
    "recoat_closes": 730 * 1440.0,
    "full_cure": 180 * 1440.0,
}
"""Longer than any label met (common practice, no source): a slip of unit or digit. [min]"""


@frozen
class FasterColder:
    """A milestone that a colder row of the label gives sooner than a warmer one."""

    milestone: str
    colder: TimesRow
    warmer: TimesRow

    def notice(self, at: Callable[[TimesRow], Field]) -> Notice:
        """Both figures; at: a row's temperature, as it is to be named."""
        how = rounding(self.milestone)
        cold, warm = (
            Duration(row.minutes[self.milestone], how) for row in (self.colder, self.warmer)
        )
        return notice(
            "colder-faster",
            milestone=Term(self.milestone),
            cold=cold,
            colder=at(self.colder),
            warm=warm,
            warmer=at(self.warmer),
        )


class ColdRowError(SheetError):
    """A colder row that is faster, where the sheet does not say that its label has it so."""


def _value(row: TimesRow) -> Field:
    return Measure(row.temperature_c, "C")


def _typed(row: TimesRow) -> Field:
    """A row's temperature as the sheet has it, for who typed it."""
    return row.typed or _value(row)


def _comparable(sheet: Sheet, one: TimesRow, other: TimesRow, milestone: str) -> bool:
    """Whether nothing but the temperature differs that counts for a milestone."""
    if milestone == "pot_life" and one.pot_mass_g != other.pot_mass_g:
        return False
    by_water = CHEMISTRIES[sheet.chemistry].humidity in ("absolute", "deficit")
    return not by_water or one.humidity_pct == other.humidity_pct


def faster_colder(sheet: Sheet) -> Iterator[FasterColder]:
    """Every pair of rows of which the colder is faster, where the sheet does not own to it."""
    if sheet.colder_is_faster:
        return
    for cold, warm in permutations(sheet.times, 2):
        if cold.temperature_c < warm.temperature_c:
            for name in (name for name in cold.minutes if name in warm.minutes):
                faster = cold.minutes[name] < warm.minutes[name]
                if faster and _comparable(sheet, cold, warm, name):
                    yield FasterColder(name, cold, warm)


def _absurd(sheet: Sheet, at: Callable[[TimesRow], Field]) -> Iterator[Notice]:
    """Every time that no label gives; at: a row's temperature, as it is to be named."""
    for row in sheet.times:
        for name, value in row.minutes.items():
            if not LEAST_MIN <= value <= MOST_MIN[name]:
                yield notice(
                    "absurd-time",
                    milestone=Term(name),
                    time=Duration(value),
                    temperature=at(row),
                    most=Duration(MOST_MIN[name]),
                )


def doubtful(sheet: Sheet) -> tuple[Notice, ...]:
    """What is doubtful about a sheet's figures."""
    return (*_absurd(sheet, _value), *(pair.notice(_value) for pair in faster_colder(sheet)))


def check(sheet: Sheet, file: str = "") -> Sheet:
    """The sheet, where its figures can be. Raises SheetError."""
    where = file or f"{sheet.id}.toml"
    for key in ("name", "mix_ratio"):
        try:
            one_line(getattr(sheet, key))
        except ConfigError as error:
            raise SheetError(f"{key}: {error.what}", where=where, fix=error.fix) from None
    for doubt in _absurd(sheet, _typed):
        raise SheetError(sentence(doubt), where=where, fix="check the number and its unit")
    for pair in faster_colder(sheet):
        fix = "check both figures; if the label really has it so, add colder_is_faster = true"
        raise ColdRowError(sentence(pair.notice(_typed)), where=where, fix=fix)
    return sheet


def id_of(name: str) -> str:
    """A product's id from its name; letters that are not ASCII are left out, as in addresses.

    >>> id_of("Seam sealer, grün (1K)")
    'seam-sealer-gr-n-1k'
    """
    return slug(re.sub(r"[^ -~]", " ", name)) or "sheet"


def load_sheet(path: Path) -> Sheet:
    """The sheet in a file, checked; its id is the file's name. Raises SheetError."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise SheetError(
            f"cannot be read ({error})", where=str(path), fix="check the path"
        ) from None
    id = path.stem.lower().replace("_", "-").replace(" ", "-")
    return check(parse_sheet(text, id, str(path)), str(path))
