"""The boxes of a product's label: what stands in each, how it is read, and the label made of them.

A box has the name of its place in the label: `times.0.working_time` is the working time of the
first row, `limits.temperature.least` the first of the two temperatures.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import tomlkit

from curewatch import units
from curewatch.durations import duration
from curewatch.errors import CurewatchError, SheetError
from curewatch.frozen import frozen
from curewatch.products.label_times import careful_time, usual_unit
from curewatch.products.sheet import Sheet, parse_density, parse_peak, parse_spread
from curewatch.products.shelf_life import parse_life
from curewatch.text import one_line
from curewatch.units import parse_duration, with_unit
from curewatch.vocabulary import MILESTONES, ORDERED, in_words
from dashboard.pages.shelf import contents
from dashboard.request.boxes import in_unit

ROWS = 4
NAME, KIND, CHEMISTRY = "name", "kind", "chemistry"
FIRST_TIME, FIRST_TEMPERATURE = "times.0.working_time", "times.0.temperature"
PAIRS = {"temperature": ("least", "most"), "hardener": ("least", "usual", "most")}
Fields = Mapping[str, str]


@frozen
class LabelBox:
    """A box of the label: its words, an example, the unit of a number alone ('' where it has none,
    'degrees' for the reader's), and what checks it."""

    words: str
    example: str
    unit: str
    parse: Callable[[str], Any]


BOXES = {
    "mix_ratio": LabelBox("Mixing ratio", "2:1 by volume", "", one_line),
    "film": LabelBox("Film thickness, µm", "100", "um", units.parse_film),
    "mix.density": LabelBox("Density, mixed, g/ml", "1.1", "g/ml", parse_density),
    "limits.temperature.least": LabelBox(
        "Not below, °{}", "10", "degrees", units.parse_temperature
    ),
    "limits.temperature.most": LabelBox("Not above, °{}", "35", "degrees", units.parse_temperature),
    "limits.humidity_max": LabelBox("Humidity at most, %", "85", "%", units.parse_humidity),
    "limits.dew_spread_min": LabelBox("Above dew point by, °{}", "3", "degrees", parse_spread),
    "limits.hardener.least": LabelBox("Min. hardener, %", "1", "%", units.parse_percent),
    "limits.hardener.usual": LabelBox("Usual hardener, %", "2", "%", units.parse_percent),
    "limits.hardener.most": LabelBox("Max. hardener, %", "3", "%", units.parse_percent),
    "limits.bare_max": LabelBox("Max. time on bare metal, h", "4", "h", units.parse_duration),
    "limits.peak_max": LabelBox("Hottest in one cup, °{}", "100", "degrees", parse_peak),
    "storage.temperature.least": LabelBox(
        "Store above, °{}", "5", "degrees", units.parse_temperature
    ),
    "storage.temperature.most": LabelBox(
        "Store below, °{}", "30", "degrees", units.parse_temperature
    ),
    "storage.shelf_life": LabelBox("Shelf life, months", "12", "months", parse_life),
    "storage.opened_life": LabelBox("Once opened, months", "6", "months", parse_life),
}
ROW_BOXES = {
    "temperature": LabelBox("at, °{}", "21", "degrees", units.parse_temperature),
    "humidity": LabelBox("at humidity, %", "50", "%", units.parse_humidity),
    **{
        name: LabelBox(f"{in_words(name)}, {usual_unit(name)}", "", usual_unit(name), str)
        for name in MILESTONES
    },
    "pot_mass": LabelBox("pot life of, g", "100", "g", units.parse_mass),
}


@frozen
class ReadLabel:
    """What the boxes say, each with its unit; what is wrong at a box, and what is to be said of one
    that was read."""

    fields: dict[str, str]
    wrong: dict[str, str]
    notes: dict[str, str]


def box_of(name: str) -> LabelBox | None:
    """What belongs into a box; None where any text does."""
    return ROW_BOXES.get(name.rpartition(".")[2]) if name.startswith("times.") else BOXES.get(name)


def read_box(name: str, text: str, unit: str) -> tuple[str, str]:
    """A box as the label takes it, and what is to be said of it. unit: C or F, of the reader.
    Raises CurewatchError."""
    box, key = box_of(name), name.rpartition(".")[2]
    if box is None or not text.strip():
        return text.strip(), ""
    if key in MILESTONES:
        time = in_unit(text, box.unit, lambda typed: careful_time(typed, key), "50")
        length = duration(parse_duration(time.text))
        return time.text, f"{length} is used, the careful end" if time.from_range else ""
    if not box.unit:
        box.parse(text.strip())
        return text.strip(), ""
    own_unit = box.unit.replace("degrees", unit)
    in_unit(text, own_unit, box.parse, box.example)
    return with_unit(text, own_unit), ""


def in_box(name: str, text: str, unit: str) -> str:
    """What the label says, as it stands in its box: without the unit that the box names. unit: C or
    F, of the reader.

    >>> in_box("times.0.temperature", "21 C", "C"), in_box("times.0.temperature", "21 C", "F")
    ('21', '21 C')
    """
    box = box_of(name)
    own_unit = box.unit.replace("degrees", unit) if box else ""
    bare = text.removesuffix(f" {own_unit}") if own_unit else text
    return bare if with_unit(bare, own_unit) == text else text


def said_of(error: CurewatchError) -> str:
    """What was wrong with a box, and what to do, for beside it."""
    return f"{error.what}; {error.fix}" if error.fix else error.what


def _missing(fields: Fields) -> Iterator[tuple[str, str]]:
    if not fields.get(NAME):
        yield NAME, "Give it a name, as on the label"
    if not (fields.get(KIND) and fields.get(CHEMISTRY)):
        yield KIND, "Pick what it is"
    rows = [number for number in range(count_rows(fields)) if _row(fields, number)]
    if not any(set(_row(fields, 0)) & set(MILESTONES)):
        yield FIRST_TIME, "Copy the working time from the label"
    for number in rows or [0]:
        if not fields.get(f"times.{number}.temperature"):
            yield f"times.{number}.temperature", "At which temperature?"


def _crossed(fields: Fields) -> Iterator[tuple[str, str]]:
    """Times that come in the wrong order, at the later one's box."""
    for number in range(count_rows(fields)):
        row = _row(fields, number)
        lengths = {name: parse_duration(row[name]) for name in MILESTONES if name in row}
        for before, after, strict in ORDERED:
            if before in lengths and after in lengths:
                lead = lengths[after] - lengths[before]
                if lead < 0 or (strict and lead == 0):
                    other = f"{in_words(before)}, {duration(lengths[before])}"
                    yield f"times.{number}.{after}", f"Not before {other}; check both"


def read(typed: Fields, unit: str) -> ReadLabel:
    """Every box read by itself, and against the others. unit: C or F, of the reader."""
    fields, wrong, notes = dict[str, str](), dict[str, str](), dict[str, str]()
    for name, text in typed.items():
        try:
            fields[name], note = read_box(name, text, unit)
        except CurewatchError as error:
            fields[name], wrong[name] = text.strip(), said_of(error)
        else:
            notes |= {name: note} if note else {}
    wrong = dict(_missing(fields)) | wrong
    return ReadLabel(fields, wrong or dict(_crossed(fields)), notes)


def _filled(fields: Fields, names: tuple[str, ...], before: str = "") -> dict[str, str]:
    values = {name: fields.get(before + name, "").strip() for name in names}
    return {name: value for name, value in values.items() if value}


def _row(fields: Fields, number: int) -> dict[str, str]:
    return _filled(fields, tuple(ROW_BOXES), f"times.{number}.")


def count_rows(fields: Fields) -> int:
    """How many columns of times the form has."""
    numbers = [int(match[1]) for name in fields if (match := re.match(r"times\.(\d{1,3})\.", name))]
    return max([ROWS - 1, *numbers]) + 1


def _table(fields: Fields, table: str) -> dict[str, Any]:
    """A table of the label; what has two or three ends is a list."""
    rows = dict[str, Any]()
    for name in BOXES:
        if not name.startswith(f"{table}."):
            continue
        key, _, end = name.removeprefix(f"{table}.").partition(".")
        value = fields.get(name, "").strip()
        if end:
            rows.setdefault(key, []).append(value)
        elif value:
            rows[key] = value
    return {key: value for key, value in rows.items() if not isinstance(value, list) or any(value)}


def _mix(fields: Fields) -> dict[str, Any]:
    parts = [text.strip() for text in fields.get("mix.densities", "").split(";")]
    return _table(fields, "mix") | ({"densities": parts} if any(parts) else {})


def to_toml(fields: Fields) -> str:
    """The label's text from its boxes, as they were read; what was left empty is left out."""
    document: dict[str, Any] = dict(_filled(fields, (NAME, KIND, CHEMISTRY, "mix_ratio", "film")))
    if fields.get("colder_is_faster") == "on":
        document["colder_is_faster"] = True
    rows = [_row(fields, number) for number in range(count_rows(fields))]
    document["times"] = [row for row in rows if row]
    tables = {
        "mix": _mix(fields),
        "limits": _table(fields, "limits"),
        "storage": _table(fields, "storage"),
        "hazards": contents.to_table(fields),
    }
    document |= {name: table for name, table in tables.items() if table}
    document["source"] = {"note": fields.get("note", "").strip()}
    return tomlkit.dumps(document)


def _flat(value: Any, name: str) -> Iterator[tuple[str, str]]:
    """The boxes of a value of the label and what stands in them."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _flat(inner, f"{name}.{key}" if name else key)
    elif isinstance(value, list) and name == "mix.densities":
        yield name, "; ".join(value)
    elif isinstance(value, list):
        ends = PAIRS.get(name.rpartition(".")[2], tuple(map(str, range(len(value)))))
        for end, inner in zip(ends, value, strict=False):
            yield from _flat(inner, f"{name}.{end}")
    elif not isinstance(value, bool):
        yield name, str(value)


def to_fields(sheet: Sheet, own: bool = True) -> dict[str, str]:
    """The boxes of a label, each as it was written."""
    data = tomllib.loads(sheet.text)
    data.pop("hazards", None)
    note = data.pop("source", {}).get("note", "")
    faster = {"colder_is_faster": "on"} if data.pop("colder_is_faster", False) else {}
    return dict(_flat(data, "")) | faster | {"note": note} | contents.to_fields(sheet, own)


def trouble(error: SheetError) -> str:
    """What is wrong with a label as a whole, without the file that it never was."""
    return said_of(error)[:1].upper() + said_of(error)[1:] + "."
